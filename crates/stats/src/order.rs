//! Does the order in which values were taken show in them?

use crate::distributions::student_t_sf;
use crate::double_double::DoubleDouble;
use crate::error::StatsError;
use crate::least_squares::polynomial_least_squares;
use crate::spread::Sample;

/// Lag-1 autocorrelation: `Σ (y_i − ȳ)(y_{i+1} − ȳ) / Σ (y_i − ȳ)²`.
///
/// # Units
/// Values in their order, any unit; the result is a pure number.
///
/// # Errors
/// [`StatsError::TooFewValues`] below two, [`StatsError::NotFinite`], [`StatsError::NoVariation`].
///
/// # Source
/// Definition as in the NIST StRD univariate sets.
///
/// # Example
/// ```
/// assert_eq!(stillwell_stats::lag_1_autocorrelation(&[10000001.0, 10000003.0, 10000002.0])?, -0.5);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn lag_1_autocorrelation(values: &[f64]) -> Result<f64, StatsError> {
    let sample = Sample::new(&[values], 2)?;
    let mean = sample.overall_mean();
    let centred: Vec<DoubleDouble> = sample.groups.iter().flatten().map(|&v| v - mean).collect();
    let squares: DoubleDouble = centred.iter().map(|v| v.square()).sum();
    if squares.to_f64() <= 0.0 {
        return Err(StatsError::NoVariation { what: "the series", statistic: "autocorrelation" });
    }
    let products: DoubleDouble = centred.iter().zip(centred.iter().skip(1)).map(|(&a, &b)| a * b).sum();
    Ok((products / squares).to_f64())
}

/// A straight line through values against their position, and whether its slope is more than chance.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderTrend {
    /// Change from one value to the next.
    pub slope_per_step: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Values minus two.
    pub degrees_of_freedom: usize,
    /// Two-sided p value of Student's t; 1 when neither slope nor scatter is there, 0 for an exact line.
    pub p_value: f64,
}

/// Trend of values (residuals, blanks, check standards) against the order in which they were taken.
///
/// # Units
/// Values in their order; slope in their unit a step.
///
/// # Errors
/// [`StatsError::TooFewRows`] below three, [`StatsError::NotFinite`].
///
/// # Source
/// t test of the slope, Draper & Smith, Applied Regression Analysis, 1.4.
///
/// # Example
/// ```
/// let trend = stillwell_stats::trend_with_order(&[1.0, 1.2, 1.3, 1.6, 1.7])?;
/// assert!((trend.slope_per_step - 0.18).abs() < 1e-15 && trend.p_value < 0.01);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn trend_with_order(values: &[f64]) -> Result<OrderTrend, StatsError> {
    let position: Vec<f64> = (0..values.len()).map(|i| i as f64).collect();
    let fit = polynomial_least_squares(&position, values, &[0, 1], None)?;
    let (slope_per_step, standard_error) = (fit.coefficients[1], fit.standard_errors[1]);
    let degrees_of_freedom = fit.degrees_of_freedom;
    let p_value = two_sided_p(slope_per_step, standard_error, degrees_of_freedom as f64);
    Ok(OrderTrend { slope_per_step, standard_error, degrees_of_freedom, p_value })
}

/// Two-sided p value of Student's t; 1 for no estimate at all, 0 for one without scatter.
pub(crate) fn two_sided_p(estimate: f64, standard_error: f64, df: f64) -> f64 {
    if estimate == 0.0 { 1.0 } else { 2.0 * student_t_sf(estimate.abs() / standard_error, df) }
}

//! Drift at one level, what a sensor remembers of the level before, and repeatability from day to day.

use stillwell_stats::comparison::{Spreads, mean_difference};
use stillwell_stats::distributions::student_t_quantile;
use stillwell_stats::polynomial_least_squares;

use super::wording;
use crate::QualityError;
use crate::quality_error::{must_be_finite, must_have, must_lie_between};

/// Drift at one level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// Change in 24 h, in the unit of the readings.
    pub per_24_h: f64,
    /// Half of its 95 % interval.
    pub half_width: f64,
    /// The same in % of the working range.
    pub percent_of_range_per_24_h: f64,
    /// Standard error of the slope, per hour.
    pub slope_standard_error_per_h: f64,
    /// Slope over its standard error.
    pub t_statistic: f64,
    /// What the statistic may reach by chance at 5 %.
    pub t_critical: f64,
    /// Time watched, h.
    pub watched_h: f64,
}

/// Drift of readings at one level: the line through them against time.
///
/// # Units
/// Times in h; readings and the working range in one unit. For a sensor in the field give its differences from the reference.
///
/// # Errors
/// [`QualityError::TooFew`] below five readings, [`QualityError::LengthMismatch`], [`QualityError::Unusable`] for a range of no
/// width, and what the fit refuses.
///
/// # Source
/// ISO 15839:2003, clause 3 (from memory): slope per 24 h in % of the range.
pub fn drift(times_h: &[f64], readings: &[f64], working_range: f64) -> Result<Drift, QualityError> {
    if times_h.len() != readings.len() {
        let (found, expected) = (readings.len(), times_h.len());
        return Err(QualityError::LengthMismatch { what: "readings at one level", found, expected });
    }
    must_have("readings at one level", readings.len(), 5)?;
    must_be_finite("the times", times_h)?;
    must_be_finite("the readings at one level", readings)?;
    must_lie_between("the working range", working_range, (0.0, f64::INFINITY), "a number above zero")?;
    let fit = polynomial_least_squares(times_h, readings, &[0, 1], None)?;
    let (slope, error) = (fit.coefficients[1], fit.standard_errors[1]);
    let t_critical = student_t_quantile(0.975, fit.degrees_of_freedom as f64);
    let t_statistic = if slope == 0.0 { 0.0 } else { slope / error };
    let first = times_h.iter().copied().fold(f64::INFINITY, f64::min);
    let last = times_h.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Ok(Drift {
        per_24_h: 24.0 * slope,
        half_width: 24.0 * t_critical * error,
        percent_of_range_per_24_h: 100.0 * 24.0 * slope / working_range,
        slope_standard_error_per_h: error,
        t_statistic,
        t_critical,
        watched_h: last - first,
    })
}

impl Drift {
    /// Whether chance alone would not give as much.
    pub fn is_seen(&self) -> bool {
        self.t_statistic.abs() > self.t_critical
    }

    /// The finding in a sentence.
    pub fn words(&self, unit: &str) -> String {
        wording::drift(self, unit)
    }
}

/// What a sensor remembers of the level before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MemoryEffect {
    /// Mean after a high level less mean after a low one, at the same level.
    pub difference: f64,
    /// Half of its 95 % interval.
    pub half_width: f64,
    /// The difference in % of the step between the levels before, where that is known.
    pub percent_of_step: Option<f64>,
    /// Difference over its standard error.
    pub t_statistic: f64,
    /// Probability of as large a difference by chance.
    pub p_value: f64,
}

/// The same level approached from below and from above: does the reading depend on where it came from?
///
/// # Units
/// Readings in one unit; `step` is the difference of the two levels before, in the same.
///
/// # Errors
/// [`QualityError::TooFew`] below three readings on a side, and what a pooled standard deviation refuses;
/// [`QualityError::NoSpread`] for readings that do not scatter.
///
/// # Source
/// ISO 15839:2003, clause 3 (memory effect, from memory); t test with a pooled standard deviation.
///
/// # Example
/// ```
/// use stillwell_assure::sensor::memory_effect;
/// let found = memory_effect(&[50.3, 50.4, 50.2], &[50.9, 51.0, 50.8], Some(80.0))?;
/// assert!(found.is_seen() && (found.percent_of_step.unwrap() - 0.75).abs() < 1e-9);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn memory_effect(
    after_low: &[f64],
    after_high: &[f64],
    step: Option<f64>,
) -> Result<MemoryEffect, QualityError> {
    for side in [after_low, after_high] {
        must_have("readings after one level", side.len(), 3)?;
    }
    let found = mean_difference(after_low, after_high, Spreads::Pooled, 0.95)?;
    if found.standard_error <= 0.0 {
        return Err(QualityError::NoSpread { what: "the readings of either side" });
    }
    Ok(MemoryEffect {
        difference: found.difference,
        half_width: 0.5 * (found.interval.high - found.interval.low),
        percent_of_step: step.filter(|step| step.abs() > 0.0).map(|step| 100.0 * found.difference / step),
        t_statistic: found.difference / found.standard_error,
        p_value: found.p_value,
    })
}

impl MemoryEffect {
    /// Whether chance alone would not give as much, at 5 %.
    pub fn is_seen(&self) -> bool {
        self.p_value < 0.05
    }

    /// The finding in a sentence.
    pub fn words(&self, unit: &str) -> String {
        wording::memory(self, unit)
    }
}

/// Repeatability at one level within days and from day to day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayToDay {
    /// Standard deviation of readings within a day.
    pub within_day_sd: f64,
    /// Standard deviation of the days' true means: 0 where days differ less than their readings let expect.
    pub between_days_sd: f64,
    /// Standard deviation of one reading on a day of its own.
    pub day_to_day_sd: f64,
    /// Days.
    pub n_days: usize,
    /// Probability of days as different if they were alike.
    pub p_value: f64,
}

impl DayToDay {
    /// The figures in a sentence.
    pub fn words(&self, unit: &str) -> String {
        wording::days(self, unit)
    }
}

/// Repeatability at one level from readings on several days.
///
/// # Units
/// Those of the readings.
///
/// # Errors
/// [`QualityError::TooFew`] below three days, and what an analysis of variance refuses.
///
/// # Source
/// ISO 15839:2003, clause 3 (day-to-day repeatability, from memory); one-way analysis of variance.
pub fn day_to_day<D: AsRef<[f64]>>(days: &[D]) -> Result<DayToDay, QualityError> {
    must_have("days with readings at one level", days.len(), 3)?;
    let found = stillwell_stats::analysis_of_variance(days)?;
    let between = f64::max(0.0, found.between_variance);
    Ok(DayToDay {
        within_day_sd: libm::sqrt(found.within_variance),
        between_days_sd: libm::sqrt(between),
        day_to_day_sd: libm::sqrt(found.within_variance + between),
        n_days: days.len(),
        p_value: found.p_value,
    })
}

//! Early warning of ageing strips: does a peak's potential or width wander with the strips' age, and when does it leave its window?

use stillwell_stats::distributions::{student_t_quantile, student_t_sf};
use stillwell_stats::polynomial_least_squares;

use crate::QualityError;
use crate::quality_error::{must_be_finite, must_have, must_lie_between};

/// Fewest points for a drift: common practice, no source.
const FEWEST_POINTS: usize = 6;

/// Significance at which a drift is called one. A third of the usual 5 %: two quantities are watched in each lot.
const SIGNIFICANCE: f64 = 0.01;

/// The line through a quantity against the age of the strips.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ageing {
    /// Change in 30 days.
    pub change_per_30_days: f64,
    /// Half of its 95 % interval.
    pub change_half_width: f64,
    /// Probability of a slope as large by chance.
    pub p_value: f64,
    /// Value at age 0 by the line.
    pub at_start: f64,
    /// Value at the last age by the line.
    pub now: f64,
    /// The last age, days.
    pub age_days: f64,
    /// Age at which the line leaves the window, if it does so within a year after the last point, and drifts significantly.
    pub leaves_window_at_days: Option<f64>,
    /// Whether it lies outside of the window now.
    pub is_outside: bool,
}

/// What the drift means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AgeingState {
    /// No drift can be seen.
    Steady,
    /// It drifts, and stays in the window for the time being.
    Drifts,
    /// The line lies outside of the window.
    Outside,
}

/// Fits a line to a quantity against the strips' age.
///
/// # Units
/// `age_days` since the lot was made or opened, days, in any order; `values` and `window` in one unit.
///
/// # Errors
/// [`QualityError::TooFew`] below 6, [`QualityError::LengthMismatch`], [`QualityError::NotFinite`], [`QualityError::Unusable`] for a
/// window out of order, and a refusal of the fit where all ages are one.
///
/// # Source
/// Straight line by least squares, t test of its slope at 1 %: common practice, no source for its use as early warning.
///
/// # Example
/// ```
/// use stillwell_assure::control::{AgeingState, ageing};
/// let days = [0.0, 7.0, 14.0, 21.0, 28.0, 35.0, 42.0];
/// let potential_v = [-0.601, -0.603, -0.606, -0.607, -0.611, -0.613, -0.614];
/// let found = ageing(&days, &potential_v, [-0.63, -0.57])?;
/// assert_eq!(found.state(), AgeingState::Drifts);
/// assert!((found.leaves_window_at_days.unwrap() - 88.0).abs() < 4.0);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn ageing(age_days: &[f64], values: &[f64], window: [f64; 2]) -> Result<Ageing, QualityError> {
    if age_days.len() != values.len() {
        let (found, expected) = (age_days.len(), values.len());
        return Err(QualityError::LengthMismatch { what: "ages of strips", found, expected });
    }
    must_have("points of known age", values.len(), FEWEST_POINTS)?;
    must_be_finite("the ages of strips", age_days)?;
    must_be_finite("the charted quantity", values)?;
    let [low, high] = window;
    must_lie_between(
        "the width of the window",
        high - low,
        (0.0, f64::INFINITY),
        "a window from low to high",
    )?;
    let fit = polynomial_least_squares(age_days, values, &[0, 1], None)?;
    let (slope, error) = (fit.coefficients[1], fit.standard_errors[1]);
    let df = fit.degrees_of_freedom as f64;
    let p_value = if error > 0.0 { 2.0 * student_t_sf((slope / error).abs(), df) } else { 0.0 };
    let p_value = if slope == 0.0 { 1.0 } else { p_value };
    let last = age_days.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let now = fit.coefficients[0] + slope * last;
    let edge = if slope > 0.0 { high } else { low };
    let leaves = (edge - fit.coefficients[0]) / slope;
    let comes = p_value < SIGNIFICANCE && leaves > last && leaves < last + 365.0;
    Ok(Ageing {
        change_per_30_days: 30.0 * slope,
        change_half_width: 30.0 * student_t_quantile(0.975, df) * error,
        p_value,
        at_start: fit.coefficients[0],
        now,
        age_days: last,
        leaves_window_at_days: comes.then_some(leaves),
        is_outside: now < low || now > high,
    })
}

impl Ageing {
    /// What the drift means.
    pub fn state(&self) -> AgeingState {
        if self.is_outside {
            AgeingState::Outside
        } else if self.p_value < SIGNIFICANCE {
            AgeingState::Drifts
        } else {
            AgeingState::Steady
        }
    }

    /// The finding in a sentence.
    pub fn words(&self, name: &str, unit: &str) -> String {
        super::wording::ageing(self, name, unit)
    }
}

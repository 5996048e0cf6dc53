//! The exponentially weighted moving average: small lasting shifts that no single point shows.

use stillwell_stats::distributions::student_t_quantile;

use super::limits::ChartLimits;
use crate::QualityError;
use crate::quality_error::must_lie_between;

/// How an average forgets, and how far its limits lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaSettings {
    /// Weight of the newest point: 0.05 to 1.
    pub lambda: f64,
    /// How far out the limits lie.
    pub width: EwmaWidth,
}

/// How far out the limits of the average lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EwmaWidth {
    /// So many standard deviations of the average, with centre and σ taken as known.
    Sigmas(f64),
    /// As far as needed for this risk, point by point, that a sound process lies beyond, with the doubt of a centre and a σ that
    /// come from a training period.
    KeepRisk(f64),
}

/// The average after one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaPoint {
    /// The average.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

impl EwmaPoint {
    /// Whether the average lies beyond a limit.
    pub fn is_beyond(&self) -> bool {
        self.value < self.low || self.value > self.high
    }
}

/// The average after each point, from the centre on. A point that cannot be judged leaves the average as it was.
///
/// # Units
/// Values in the unit of the limits.
///
/// # Errors
/// [`QualityError::Unusable`] for λ outside 0.05 to 1, a width that is not above zero, or a risk outside 1e-6 to 0.1.
///
/// # Source
/// `z = λ x + (1 − λ) z`, variance `σ² λ/(2 − λ) (1 − (1 − λ)^2i)`: Roberts 1959; ISO 7870-6. The variance of an estimated
/// centre is added (times the weight it has, `(1 − (1 − λ)^i)²`) and Student's t takes the place of the normal quantile: own
/// derivation, exact for independent normal points.
///
/// # Example
/// ```
/// use stillwell_assure::control::{ChartLimits, EwmaSettings, EwmaWidth, ewma};
/// let limits = ChartLimits::stated(0.0, 1.0)?;
/// let settings = EwmaSettings { lambda: 0.2, width: EwmaWidth::Sigmas(2.86) };
/// let points = ewma(&[Some(1.0), Some(1.0)], &limits, settings)?;
/// assert!((points[1].value - 0.36).abs() < 1e-12 && !points[1].is_beyond());
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn ewma(
    values: &[Option<f64>],
    limits: &ChartLimits,
    settings: EwmaSettings,
) -> Result<Vec<EwmaPoint>, QualityError> {
    let lambda = settings.lambda;
    must_lie_between("λ", lambda, (0.05 - 1e-12, 1.0 + 1e-12), "0.05 to 1")?;
    let factor = match settings.width {
        EwmaWidth::Sigmas(width) => {
            must_lie_between("the width", width, (0.0, 100.0), "a number above zero, such as 2.86")?;
            width * limits.sigma
        }
        EwmaWidth::KeepRisk(risk) => {
            must_lie_between("the risk", risk, (1e-6, 0.1), "a number from 1e-6 to 0.1")?;
            factor_that_keeps(risk, limits)
        }
    };
    let centre_variance =
        if matches!(settings.width, EwmaWidth::KeepRisk(_)) { limits.centre_variance } else { 0.0 };
    let mut left = 1.0;
    let mut value = limits.centre;
    Ok(values
        .iter()
        .map(|found| {
            if let Some(found) = found {
                value = lambda * found + (1.0 - lambda) * value;
                left *= 1.0 - lambda;
            }
            let own = lambda / (2.0 - lambda) * (1.0 - left * left);
            let width = factor * libm::sqrt(own + centre_variance * (1.0 - left) * (1.0 - left));
            EwmaPoint { value, low: limits.centre - width, high: limits.centre + width }
        })
        .collect())
}

/// `t(1 − risk/2; ν) s`, where s is the plain standard deviation behind σ.
fn factor_that_keeps(risk: f64, limits: &ChartLimits) -> f64 {
    let df = limits.degrees_of_freedom;
    if df.is_finite() {
        student_t_quantile(1.0 - 0.5 * risk, df) * limits.sigma * super::constants::c4(df + 1.0)
    } else {
        stillwell_stats::distributions::normal_quantile(1.0 - 0.5 * risk) * limits.sigma
    }
}

//! Limits that the next values keep, all of them together.

use crate::distributions::student_t_quantile;
use crate::error::{StatsError, require_in_range, require_probability};
use crate::spread::{mean, standard_deviation};

/// Limits for values to come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PredictionLimits {
    /// All next values lie above this with the stated confidence (one-sided).
    pub lower: f64,
    /// All next values lie below this with the stated confidence (one-sided).
    pub upper: f64,
}

/// Limits for the next `n_next` values (each the mean of `n_mean` readings) from normal background values.
///
/// # Units
/// Background in any unit; `confidence` in (0, 1) for all next values together, each side on its own.
///
/// # Errors
/// [`StatsError::TooFewValues`] below two background values or for nothing to come, [`StatsError::NotFinite`],
/// [`StatsError::NotAProbability`].
///
/// # Source
/// USEPA 2009, Unified Guidance, 18.2.1: `mean ± t(1 − α/m; n−1) s √(1/k + 1/n)`, the Bonferroni form (slightly wide).
///
/// # Example
/// ```
/// let arsenic_ppb = [12.6, 30.8, 52.0, 28.1, 33.3, 44.0, 3.0, 12.8, 58.1, 12.6, 17.6, 25.3];
/// let limits = stillwell_stats::limits::prediction_limits(&arsenic_ppb, 4, 1, 0.95)?;
/// assert!((limits.upper - 73.67237).abs() < 5e-6);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn prediction_limits(
    background: &[f64],
    n_next: usize,
    n_mean: usize,
    confidence: f64,
) -> Result<PredictionLimits, StatsError> {
    for (what, found) in [("the values to come", n_next), ("the readings of each", n_mean)] {
        if found == 0 {
            return Err(StatsError::TooFewValues { what, found, needed: 1 });
        }
    }
    require_probability("the confidence", confidence)?;
    let (sd, centre) = (standard_deviation(background)?, mean(background)?);
    let n = background.len() as f64;
    let t = student_t_quantile(1.0 - (1.0 - confidence) / n_next as f64, n - 1.0);
    let half = t * sd * libm::sqrt(1.0 / n_mean as f64 + 1.0 / n);
    require_in_range("a prediction limit", &[centre - half, centre + half])?;
    Ok(PredictionLimits { lower: centre - half, upper: centre + half })
}

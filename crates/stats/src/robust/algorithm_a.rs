//! Algorithm A: the mean and standard deviation of results of which most, but not all, are good.

use crate::error::{StatsError, require_in_range};
use crate::robust::median_and_spread;
use crate::spread::{mean, standard_deviation};

/// What the standard deviation of winsorised normal values must be multiplied by: `1/√(E[min(z², k²)])`, `k` = 1.5.
///
/// The standards round it to 1.134, which makes s* about 0.2 % larger once the steps have settled.
pub const ALGORITHM_A_FACTOR: f64 = 1.133392655462487;

/// Distances beyond this many robust standard deviations are drawn in.
const DRAWN_IN_BEYOND: f64 = 1.5;

const MOST_STEPS: usize = 5000;

/// Robust mean and standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RobustMean {
    /// x*: the robust mean.
    pub mean: f64,
    /// s*: the robust standard deviation.
    pub sd: f64,
    /// `1.25 s*/√p`: what is not known of the mean.
    pub standard_uncertainty: f64,
    /// Values that lie beyond x* ± 1.5 s* and were drawn in to there; none is removed.
    pub n_drawn_in: usize,
    /// Steps until nothing changed any more.
    pub n_steps: usize,
}

/// Robust mean and standard deviation by Algorithm A, run until it stands still.
///
/// # Units
/// Those of the values; the order of the values does not matter.
///
/// # Errors
/// [`StatsError::TooFewValues`] below three, [`StatsError::NotFinite`], [`StatsError::NoVariation`] when more than half
/// the values are equal, so that the steps have no spread to start from, [`StatsError::NotSettled`].
///
/// # Source
/// ISO 13528:2015, C.3.1, and ISO 5725-5:1998, 5.2, with the unrounded [`ALGORITHM_A_FACTOR`]; uncertainty of the mean
/// ISO 13528:2015, 7.7.3.
///
/// # Example
/// ```
/// let found = stillwell_stats::robust::algorithm_a(&[4.5, 4.9, 5.6, 4.2, 6.2, 5.2, 9.9])?;
/// assert!((found.mean - 5.386138793950735).abs() < 1e-12 && found.n_drawn_in == 1);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn algorithm_a(values: &[f64]) -> Result<RobustMean, StatsError> {
    if values.len() < 3 {
        return Err(StatsError::TooFewValues { what: "the values", found: values.len(), needed: 3 });
    }
    let start = median_and_spread(values)?;
    if start.robust_sd <= 0.0 {
        return Err(StatsError::NoVariation {
            what: "more than half of the values",
            statistic: "Algorithm A's start",
        });
    }
    // Sorted, so that the result does not depend on the order to the last bit.
    let mut drawn_in = values.to_vec();
    drawn_in.sort_by(f64::total_cmp);
    let values = drawn_in.clone();
    let (mut centre, mut sd) = (start.median, start.robust_sd);
    for n_steps in 1..=MOST_STEPS {
        let (low, high) = (centre - DRAWN_IN_BEYOND * sd, centre + DRAWN_IN_BEYOND * sd);
        for (drawn_in, value) in drawn_in.iter_mut().zip(&values) {
            *drawn_in = value.clamp(low, high);
        }
        let (new_centre, new_sd) = (mean(&drawn_in)?, ALGORITHM_A_FACTOR * standard_deviation(&drawn_in)?);
        require_in_range("Algorithm A", &[new_centre, new_sd])?;
        let change = f64::max((new_centre - centre).abs(), (new_sd - sd).abs());
        (centre, sd) = (new_centre, new_sd);
        if change <= 1e-14 * (centre.abs() + sd) || change <= 1e-15 * sd {
            let n_drawn_in = values.iter().filter(|v| (*v - centre).abs() > DRAWN_IN_BEYOND * sd).count();
            let standard_uncertainty = 1.25 * sd / libm::sqrt(values.len() as f64);
            return Ok(RobustMean { mean: centre, sd, standard_uncertainty, n_drawn_in, n_steps });
        }
    }
    Err(StatsError::NotSettled { what: "Algorithm A", n_steps: MOST_STEPS })
}

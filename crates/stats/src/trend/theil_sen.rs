//! The median of the slopes between all pairs, and its interval.

use crate::distributions::normal_quantile;
use crate::error::{StatsError, require_in_range, require_probability};
use crate::robust::{median, middle};
use crate::trend::kendall::{require_series, variance};

/// All pairs' slopes are kept and sorted; beyond this the memory would be large.
const MOST_VALUES: usize = 5000;

/// A robust straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlopeEstimate {
    /// Median of the slopes of all pairs taken at different times.
    pub slope: f64,
    /// `median(values) − slope · median(times)`: the line goes through both medians.
    pub intercept: f64,
    /// Lower end of the slope's interval; `None` when the pairs are too few to bound it.
    pub low: Option<f64>,
    /// Upper end of the slope's interval; `None` when the pairs are too few to bound it.
    pub high: Option<f64>,
    /// Pairs that have a slope.
    pub n_pairs: usize,
}

/// Theil–Sen slope with its interval at the given coverage.
///
/// # Units
/// `times` in any unit and order, `values`: one a time; slope in value per time. `coverage` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] below three, [`StatsError::TooManyValues`] above 5000, [`StatsError::LengthMismatch`],
/// [`StatsError::NotFinite`], [`StatsError::NoVariation`] when all times are equal, [`StatsError::NotAProbability`].
///
/// # Source
/// Sen 1968, J. Am. Stat. Assoc. 63, 1379; interval Gilbert 1987, Statistical Methods for Environmental Pollution
/// Monitoring, 16.4 (ranks interpolated); intercept Conover 1980.
///
/// # Example
/// ```
/// let line = stillwell_stats::trend::theil_sen(&[0.0, 1.0, 2.0, 3.0], &[1.0, 3.0, 5.0, 60.0], 0.95)?;
/// assert_eq!((line.slope, line.n_pairs), (10.833333333333334, 6));
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn theil_sen(times: &[f64], values: &[f64], coverage: f64) -> Result<SlopeEstimate, StatsError> {
    require_series(times, values, 3, MOST_VALUES)?;
    require_probability("the coverage", coverage)?;
    let slopes = sorted_slopes(&[(times, values)])?;
    let slope = middle(&slopes);
    let (low, high) = interval(&slopes, variance(times, values), coverage);
    let intercept = median(values)? - slope * median(times)?;
    require_in_range("the intercept", &[intercept])?;
    Ok(SlopeEstimate { slope, intercept, low, high, n_pairs: slopes.len() })
}

/// Slopes of the pairs within each series.
pub(super) fn sorted_slopes(series: &[(&[f64], &[f64])]) -> Result<Vec<f64>, StatsError> {
    let mut slopes = Vec::new();
    for (times, values) in series {
        for (i, (t, y)) in times.iter().zip(*values).enumerate() {
            let later = times[i + 1..].iter().zip(&values[i + 1..]);
            slopes.extend(later.filter(|(u, _)| (*u - t).abs() > 0.0).map(|(u, v)| (v - y) / (u - t)));
        }
    }
    if slopes.is_empty() {
        return Err(StatsError::NoVariation { what: "the time", statistic: "a slope" });
    }
    require_in_range("a slope", &slopes)?;
    slopes.sort_by(f64::total_cmp);
    Ok(slopes)
}

/// Slopes of ranks `(N ∓ z √variance)/2` (the upper plus one), interpolated.
pub(super) fn interval(sorted: &[f64], variance: f64, coverage: f64) -> (Option<f64>, Option<f64>) {
    let n = sorted.len() as f64;
    let half = normal_quantile(0.5 + 0.5 * coverage) * libm::sqrt(variance);
    (at_rank(sorted, 0.5 * (n - half)), at_rank(sorted, 0.5 * (n + half) + 1.0))
}

/// Ranks count from 1.
fn at_rank(sorted: &[f64], rank: f64) -> Option<f64> {
    if rank < 1.0 || rank > sorted.len() as f64 {
        return None;
    }
    let whole = libm::floor(rank);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 1 and the length")]
    let below = whole as usize - 1;
    let share = rank - whole;
    let low = sorted[below];
    Some(sorted.get(below + 1).map_or(low, |high| low + share * (high - low)))
}

//! Limits of a percentile by counting: no distribution is supposed.

use core::cmp::Ordering;

use crate::censored::Observation;
use crate::distributions::incomplete_beta;
use crate::error::{StatsError, require_probability};

/// An ordered value that bounds a percentile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OrderLimit {
    /// The bounding value: found, or known only as below or above a limit.
    pub bound: Observation,
    /// Its place among the ordered values, counted from 1.
    pub rank: usize,
    /// Probability that it lies on the right side of the percentile; at least what was asked for.
    pub confidence: f64,
}

/// The highest ordered value that lies at or below the percentile with the confidence asked for.
///
/// A value below a limit counts as lower than any other, a value above one as that limit: whatever they are, the bound holds.
///
/// # Units
/// Observations in one unit; `share` and `confidence` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] when even the lowest value does not reach the confidence, [`StatsError::NotFinite`],
/// [`StatsError::NotAProbability`].
///
/// # Source
/// USEPA 2009, Unified Guidance, 21.2: confidence of rank r is `P(binomial(n, share) ≥ r)`.
///
/// # Example
/// ```
/// use stillwell_stats::censored::Observation::{Below, Found};
/// use stillwell_stats::limits::order_statistic_lower;
/// let nitrate = [Below(5.0), Found(12.3), Below(5.0), Found(8.1), Found(11.0), Found(35.1), Found(9.3), Found(10.3)];
/// let lower = order_statistic_lower(&nitrate, 0.9, 0.95)?;
/// assert_eq!((lower.bound, lower.rank), (Found(11.0), 6));
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn order_statistic_lower(
    observations: &[Observation],
    share: f64,
    confidence: f64,
) -> Result<OrderLimit, StatsError> {
    let ordered = ordered(observations, share, confidence, Observation::compare_lowest)?;
    let n = ordered.len();
    let reached = |rank: usize| at_least(rank, n, share);
    let rank = (1..=n).rev().find(|&rank| reached(rank) >= confidence);
    pick(&ordered, rank.map(|rank| (rank, reached(rank))), needed_for(1.0 - share, confidence))
}

/// The lowest ordered value that lies at or above the percentile with the confidence asked for.
///
/// A value below a limit counts as that limit, a value above one as higher than any other.
///
/// # Units
/// As [`order_statistic_lower`].
///
/// # Errors
/// As [`order_statistic_lower`]: high percentiles need many values (59 for the 95th with 95 %).
///
/// # Source
/// Hahn & Meeker 1991, Statistical Intervals, 5.2: confidence of rank r is `P(binomial(n, share) < r)`.
///
/// # Example
/// ```
/// use stillwell_stats::censored::Observation;
/// use stillwell_stats::limits::order_statistic_upper;
/// let values: Vec<Observation> = (1..=59).map(|v| Observation::Found(f64::from(v))).collect();
/// assert_eq!(order_statistic_upper(&values, 0.95, 0.95)?.rank, 59);
/// assert!(order_statistic_upper(&values[1..], 0.95, 0.95).is_err());
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn order_statistic_upper(
    observations: &[Observation],
    share: f64,
    confidence: f64,
) -> Result<OrderLimit, StatsError> {
    let ordered = ordered(observations, share, confidence, Observation::compare_highest)?;
    let n = ordered.len();
    let reached = |rank: usize| below(rank, n, share);
    let rank = (1..=n).find(|&rank| reached(rank) >= confidence);
    pick(&ordered, rank.map(|rank| (rank, reached(rank))), needed_for(share, confidence))
}

fn ordered(
    observations: &[Observation],
    share: f64,
    confidence: f64,
    compare: fn(&Observation, &Observation) -> Ordering,
) -> Result<Vec<Observation>, StatsError> {
    require_probability("the share", share)?;
    require_probability("the confidence", confidence)?;
    Observation::require_finite(observations)?;
    let mut ordered = observations.to_vec();
    ordered.sort_by(compare);
    Ok(ordered)
}

fn pick(
    ordered: &[Observation],
    found: Option<(usize, f64)>,
    needed: usize,
) -> Result<OrderLimit, StatsError> {
    let few = StatsError::TooFewValues { what: "the observations", found: ordered.len(), needed };
    let (rank, confidence) = found.ok_or(few)?;
    Ok(OrderLimit { bound: ordered[rank - 1], rank, confidence })
}

/// Fewest values of which the outermost reaches the confidence: `1 − s^n ≥ confidence`.
fn needed_for(share: f64, confidence: f64) -> usize {
    let n = libm::ceil(libm::log1p(-confidence) / libm::log(share) - 1e-9);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates, and is positive")]
    let n = n as usize;
    n.max(1)
}

/// `P(binomial(n, share) ≥ rank)`.
fn at_least(rank: usize, n: usize, share: f64) -> f64 {
    incomplete_beta(rank as f64, (n - rank + 1) as f64, share)
}

/// `P(binomial(n, share) < rank)`.
fn below(rank: usize, n: usize, share: f64) -> f64 {
    incomplete_beta((n - rank + 1) as f64, rank as f64, 1.0 - share)
}

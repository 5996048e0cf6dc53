//! The Mann–Kendall test: do later values tend to be larger?

use crate::distributions::normal_cdf;
use crate::error::StatsError;
use crate::least_squares::require_finite;
use crate::robust::equal_runs;

/// Pairs grow with the square of the values; beyond this the wait would be long.
const MOST_VALUES: usize = 50_000;

/// Up to here the exact distribution is counted out.
const MOST_EXACT: usize = 100;

/// What the test found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KendallTrend {
    /// S: pairs that rise minus pairs that fall.
    pub score: i64,
    /// Variance of S without a trend, corrected for ties.
    pub variance: f64,
    /// `S/(n(n−1)/2)`: tau-a, not corrected for ties (as the USEPA examples have it).
    pub tau: f64,
    /// `(S − sign S)/√variance`; 0 when S is 0.
    pub z: f64,
    /// Two-sided, by the normal approximation with continuity correction.
    pub p_value: f64,
    /// Two-sided and exact, where no values tie and there are at most 100; prefer it below some ten values.
    pub exact_p_value: Option<f64>,
}

/// Mann–Kendall test of values against the times at which they were taken.
///
/// # Units
/// `times` in any unit and order; `values`: one a time, any unit. Leave gaps out.
///
/// # Errors
/// [`StatsError::TooFewValues`] below three, [`StatsError::TooManyValues`] above 50 000,
/// [`StatsError::LengthMismatch`], [`StatsError::NotFinite`], [`StatsError::NoVariation`] when all times or all values are
/// equal.
///
/// # Source
/// Kendall 1976, Rank Correlation Methods, ch. 4 and 5 (ties in either); USEPA 2009, Unified Guidance, 17.3.2.
///
/// # Example
/// ```
/// let trend = stillwell_stats::trend::mann_kendall(&[1.0, 2.0, 3.0, 4.0], &[5.0, 6.0, 8.0, 9.0])?;
/// assert_eq!((trend.score, trend.exact_p_value), (6, Some(2.0 / 24.0)));
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn mann_kendall(times: &[f64], values: &[f64]) -> Result<KendallTrend, StatsError> {
    require_series(times, values, 3, MOST_VALUES)?;
    let score = score(times, values);
    let variance = variance(times, values);
    if variance <= 0.0 {
        return Err(StatsError::NoVariation { what: "the series", statistic: "Kendall's test" });
    }
    let n = values.len();
    let pairs = (n * (n - 1) / 2) as f64;
    let z = continuity_corrected(score as f64, variance);
    let has_ties = !ties(times).is_empty() || !ties(values).is_empty();
    let exact_p_value = (!has_ties && n <= MOST_EXACT).then(|| exact_p_value(score, n));
    Ok(KendallTrend { score, variance, tau: score as f64 / pairs, z, p_value: two_sided(z), exact_p_value })
}

pub(super) fn require_series(
    times: &[f64],
    values: &[f64],
    needed: usize,
    most: usize,
) -> Result<(), StatsError> {
    let found = values.len();
    if times.len() != found {
        return Err(StatsError::LengthMismatch { what: "the times", found: times.len(), expected: found });
    }
    if found < needed {
        return Err(StatsError::TooFewValues { what: "the series", found, needed });
    }
    if found > most {
        return Err(StatsError::TooManyValues { what: "the series", found, most });
    }
    for (row, (time, value)) in times.iter().zip(values).enumerate() {
        require_finite("the time", row, &[*time])?;
        require_finite("the value", row, &[*value])?;
    }
    Ok(())
}

/// `(S − sign S)/√variance`.
pub(super) fn continuity_corrected(score: f64, variance: f64) -> f64 {
    if score == 0.0 { 0.0 } else { (score - score.signum()) / libm::sqrt(variance) }
}

pub(super) fn two_sided(z: f64) -> f64 {
    f64::min(1.0, 2.0 * normal_cdf(-z.abs()))
}

/// Rising pairs minus falling ones; a pair that ties in either counts for nothing.
pub(super) fn score(times: &[f64], values: &[f64]) -> i64 {
    let mut score = 0;
    for (i, (t, y)) in times.iter().zip(values).enumerate() {
        for (later, other) in times[i + 1..].iter().zip(&values[i + 1..]) {
            let direction = sign(later - t) * sign(other - y);
            score += direction;
        }
    }
    score
}

fn sign(difference: f64) -> i64 {
    i64::from(difference > 0.0) - i64::from(difference < 0.0)
}

/// Variance of S with ties in both rankings (Kendall 1976, 4.9).
pub(super) fn variance(times: &[f64], values: &[f64]) -> f64 {
    let n = values.len() as f64;
    if n < 2.0 {
        return 0.0;
    }
    let (of_times, of_values) = (ties(times), ties(values));
    let sum = |sizes: &[f64], f: fn(f64) -> f64| sizes.iter().map(|&t| f(t)).sum::<f64>();
    let spread = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let triples = |t: f64| t * (t - 1.0) * (t - 2.0);
    let pairs = |t: f64| t * (t - 1.0);
    let plain = (spread(n) - sum(&of_times, spread) - sum(&of_values, spread)) / 18.0;
    let of_triples =
        if n > 2.0 { sum(&of_times, triples) * sum(&of_values, triples) / (9.0 * triples(n)) } else { 0.0 };
    plain + of_triples + sum(&of_times, pairs) * sum(&of_values, pairs) / (2.0 * pairs(n))
}

/// Sizes of the groups of equal values, from two on.
fn ties(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    equal_runs(&sorted).into_iter().map(<[f64]>::len).filter(|n| *n > 1).map(|n| n as f64).collect()
}

/// Two-sided: the share of all orders whose S is at least as far from zero.
///
/// The shares of the orders by their number of inversions are built up value by value: the k-th value adds 0 to k−1
/// inversions, each as likely.
fn exact_p_value(score: i64, n: usize) -> f64 {
    let pairs = n * (n - 1) / 2;
    let mut shares = vec![0.0; pairs + 1];
    shares[0] = 1.0;
    let mut reached = 0;
    for k in 2..=n {
        let before = shares.clone();
        for (inversions, share) in shares.iter_mut().enumerate().take(reached + k) {
            let first = inversions.saturating_sub(k - 1);
            *share = before[first..=inversions].iter().sum::<f64>() / k as f64;
        }
        reached += k - 1;
    }
    let distance = usize::try_from(score.unsigned_abs()).unwrap_or(pairs);
    let fewest = pairs.saturating_sub(distance) / 2;
    let tail: f64 = shares[..=fewest].iter().sum();
    f64::min(1.0, 2.0 * tail)
}

//! Are the spreads of several groups alike?

use crate::distributions::{f_quantile, f_sf};
use crate::error::{StatsError, require_probability};
use crate::robust::middle;
use crate::spread::{AnalysisOfVariance, analysis_of_variance, standard_deviation};

/// Cochran's test of the largest variance.
#[derive(Debug, Clone, PartialEq)]
pub struct CochranTest {
    /// Largest variance over the sum of all.
    pub statistic: f64,
    /// What the statistic may reach at the chosen significance.
    pub critical: f64,
    /// Upper bound of the probability of a larger statistic if all variances were equal.
    pub p_value: f64,
    /// The group with the largest variance, counted from 0.
    pub largest_group: usize,
}

/// Cochran's C: is the largest of the groups' variances too large?
///
/// # Units
/// `groups`: equally many replicates each, any unit; `alpha` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] below two groups or two replicates, [`StatsError::LengthMismatch`] for unequal groups,
/// [`StatsError::NotFinite`], [`StatsError::NoVariation`] when no group varies, [`StatsError::NotAProbability`].
///
/// # Source
/// ISO 5725-2:1994, 7.3.3; critical value `1/(1 + (p−1)/F(1−α/p; n−1, (p−1)(n−1)))`.
///
/// # Example
/// ```
/// let groups = [[1.0, 1.1, 0.9], [2.0, 2.1, 1.9], [3.0, 4.0, 2.0]];
/// let test = stillwell_stats::cochran_test(&groups, 0.05)?;
/// assert_eq!(test.largest_group, 2);
/// assert!(test.statistic > test.critical && test.p_value < 0.05);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn cochran_test<G: AsRef<[f64]>>(groups: &[G], alpha: f64) -> Result<CochranTest, StatsError> {
    if groups.len() < 2 {
        return Err(StatsError::TooFewValues { what: "the list of groups", found: groups.len(), needed: 2 });
    }
    let replicates = groups[0].as_ref().len();
    let mut spreads = Vec::with_capacity(groups.len());
    for group in groups {
        let found = group.as_ref().len();
        if found != replicates {
            return Err(StatsError::LengthMismatch { what: "a group", found, expected: replicates });
        }
        spreads.push(standard_deviation(group.as_ref())?);
    }
    let (largest_group, largest) = spreads
        .iter()
        .copied()
        .enumerate()
        .fold((0, 0.0), |best, now| if now.1 > best.1 { now } else { best });
    if largest <= 0.0 {
        return Err(StatsError::NoVariation { what: "every group", statistic: "Cochran's C" });
    }
    let relative: f64 = spreads.iter().map(|s| (s / largest) * (s / largest)).sum();
    let statistic = 1.0 / relative;
    let p = groups.len() as f64;
    let (d1, d2) = ((replicates - 1) as f64, (p - 1.0) * (replicates - 1) as f64);
    let ratio = if relative > 1.0 { (p - 1.0) / (relative - 1.0) } else { f64::INFINITY };
    Ok(CochranTest {
        statistic,
        critical: cochran_critical(groups.len(), replicates, alpha)?,
        p_value: f64::min(1.0, p * f_sf(ratio, d1, d2)),
        largest_group,
    })
}

/// Critical value of Cochran's C for `n_groups` of `replicates` values each.
///
/// # Units
/// Counts; `alpha` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] below two groups or two replicates, [`StatsError::NotAProbability`].
///
/// # Source
/// ISO 5725-2:1994, table 4, by the formula of [`cochran_test`].
///
/// # Example
/// ```
/// let critical = stillwell_stats::cochran_critical(5, 3, 0.05)?;
/// assert!((critical - 0.684).abs() < 0.001);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn cochran_critical(n_groups: usize, replicates: usize, alpha: f64) -> Result<f64, StatsError> {
    for (what, found) in [("the list of groups", n_groups), ("a group", replicates)] {
        if found < 2 {
            return Err(StatsError::TooFewValues { what, found, needed: 2 });
        }
    }
    require_probability("alpha", alpha)?;
    let (p, nu) = (n_groups as f64, (replicates - 1) as f64);
    let f = f_quantile(1.0 - alpha / p, nu, (p - 1.0) * nu);
    Ok(1.0 / (1.0 + (p - 1.0) / f))
}

/// Levene's test in its robust form: analysis of variance of the distances from the groups' medians.
///
/// A small `p_value` of the result says that the spreads differ. Groups may be unequal.
///
/// # Units
/// Any; the result's sums of squares are those of the distances.
///
/// # Errors
/// As [`analysis_of_variance`].
///
/// # Source
/// Brown & Forsythe 1974, J. Am. Stat. Assoc. 69, 364.
///
/// # Example
/// ```
/// let test = stillwell_stats::levene_test(&[vec![1.0, 2.0, 3.0, 4.0], vec![1.0, 20.0, 30.0, 55.0]])?;
/// assert!(test.p_value < 0.1);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn levene_test<G: AsRef<[f64]>>(groups: &[G]) -> Result<AnalysisOfVariance, StatsError> {
    let distances: Vec<Vec<f64>> = groups
        .iter()
        .map(|group| {
            let mut sorted = group.as_ref().to_vec();
            sorted.sort_by(f64::total_cmp);
            let centre = middle(&sorted);
            group.as_ref().iter().map(|v| (v - centre).abs()).collect()
        })
        .collect();
    analysis_of_variance(&distances)
}

//! The signed-rank test of pairs: no normal distribution is supposed, symmetry of the differences is.

use crate::comparison::require_pairs;
use crate::error::StatsError;
use crate::robust::{equal_runs, hodges_lehmann};

/// The exact distribution is counted out up to here.
const MOST_PAIRS: usize = 200;

/// What the test found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SignedRank {
    /// W⁺: sum of the ranks of the pairs in which y is larger.
    pub rank_sum_above: f64,
    /// Two-sided and exact, ties included (over all signs of these very ranks).
    pub p_value: f64,
    /// Hodges–Lehmann estimate of `y − x`, from all pairs.
    pub difference: f64,
    /// Pairs that differ; equal ones are left out of the ranking.
    pub n_different: usize,
}

/// Wilcoxon's signed-rank test of `y − x`.
///
/// # Units
/// `x`, `y`: one pair a sample, in one unit.
///
/// # Errors
/// [`StatsError::TooFewValues`] for no pair, [`StatsError::TooManyValues`] above 200, [`StatsError::LengthMismatch`],
/// [`StatsError::NotFinite`], [`StatsError::NoVariation`] when all pairs are equal.
///
/// # Source
/// Wilcoxon 1945, Biometrics Bull. 1, 80; equal pairs left out as he did; Hodges & Lehmann 1963 for the estimate.
///
/// # Example
/// ```
/// let found = stillwell_stats::comparison::signed_rank(&[1.0, 2.0, 3.0, 4.0], &[1.5, 2.7, 3.9, 5.1])?;
/// assert_eq!((found.rank_sum_above, found.p_value), (10.0, 0.125));
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn signed_rank(x: &[f64], y: &[f64]) -> Result<SignedRank, StatsError> {
    require_pairs(x, y, 1)?;
    if x.len() > MOST_PAIRS {
        return Err(StatsError::TooManyValues { what: "the pairs", found: x.len(), most: MOST_PAIRS });
    }
    let all: Vec<f64> = x.iter().zip(y).map(|(x, y)| y - x).collect();
    let difference = hodges_lehmann(&all)?;
    let different: Vec<f64> = all.into_iter().filter(|d| d.abs() > 0.0).collect();
    if different.is_empty() {
        return Err(StatsError::NoVariation { what: "y against x", statistic: "the signed-rank test" });
    }
    let mut sizes: Vec<f64> = different.iter().map(|d| d.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let doubled = doubled_ranks(&sizes);
    let mut above = 0;
    for d in different.iter().filter(|d| **d > 0.0) {
        above += doubled[sizes.partition_point(|size| *size < d.abs())];
    }
    Ok(SignedRank {
        rank_sum_above: 0.5 * above as f64,
        p_value: two_sided(&doubled, above),
        difference,
        n_different: sizes.len(),
    })
}

/// Twice the mean rank of each: whole numbers even with ties.
fn doubled_ranks(sorted: &[f64]) -> Vec<usize> {
    let mut ranks = Vec::with_capacity(sorted.len());
    for run in equal_runs(sorted) {
        let first = ranks.len() + 1;
        ranks.extend(std::iter::repeat_n(2 * first + run.len() - 1, run.len()));
    }
    ranks
}

/// Share of all signs whose sum lies as far from the middle: built up rank by rank.
fn two_sided(doubled: &[usize], above: usize) -> f64 {
    let total: usize = doubled.iter().sum();
    let mut shares = vec![0.0; total + 1];
    shares[0] = 1.0;
    for rank in doubled {
        for sum in (0..=total).rev() {
            let with = if sum >= *rank { shares[sum - rank] } else { 0.0 };
            shares[sum] = 0.5 * (shares[sum] + with);
        }
    }
    let smaller = above.min(total - above);
    let tail: f64 = shares[..=smaller].iter().sum();
    f64::min(1.0, 2.0 * tail)
}

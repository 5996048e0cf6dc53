//! Algorithm S: one standard deviation from many, of which a few may be wild.

use crate::distributions::{chi_squared_cdf, chi_squared_quantile};
use crate::error::{StatsError, require_in_range};
use crate::robust::{middle, sorted_finite};

const MOST_STEPS: usize = 5000;

/// Limit and adjustment factor of Algorithm S.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlgorithmSFactors {
    /// η: spreads beyond η times the pooled one are drawn in to there.
    pub limit: f64,
    /// ξ: makes the result right for normal values.
    pub adjustment: f64,
}

/// Robust pooled spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PooledSpread {
    /// w*: the pooled standard deviation, or pooled range if ranges of two were given.
    pub spread: f64,
    /// Spreads that were drawn in; none is removed.
    pub n_drawn_in: usize,
    /// Steps until nothing changed any more.
    pub n_steps: usize,
}

/// Factors of Algorithm S for spreads with `degrees_of_freedom` each.
///
/// # Units
/// Pure numbers.
///
/// # Errors
/// [`StatsError::TooFewValues`] below one degree of freedom.
///
/// # Source
/// ISO 13528:2015, C.4, table; by `η² = χ²(0.9; ν)/ν`, `ξ⁻² = P(χ²(ν+2) < ν η²) + 0.1 η²`.
///
/// # Example
/// ```
/// let factors = stillwell_stats::robust::algorithm_s_factors(1)?;
/// assert!((factors.limit - 1.645).abs() < 5e-4 && (factors.adjustment - 1.097).abs() < 5e-4);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn algorithm_s_factors(degrees_of_freedom: usize) -> Result<AlgorithmSFactors, StatsError> {
    if degrees_of_freedom == 0 {
        return Err(StatsError::TooFewValues { what: "the degrees of freedom", found: 0, needed: 1 });
    }
    let nu = degrees_of_freedom as f64;
    let drawn_in_from = chi_squared_quantile(0.9, nu);
    let inverse_square = chi_squared_cdf(drawn_in_from, nu + 2.0) + 0.1 * drawn_in_from / nu;
    Ok(AlgorithmSFactors {
        limit: libm::sqrt(drawn_in_from / nu),
        adjustment: 1.0 / libm::sqrt(inverse_square),
    })
}

/// Pools standard deviations (or ranges of two, with one degree of freedom) robustly.
///
/// # Units
/// `spreads`: not negative, any unit; the result in the same. Divide a pooled range of two by √2 for a standard deviation.
///
/// # Errors
/// [`StatsError::TooFewValues`] below two spreads or one degree of freedom, [`StatsError::NotFinite`],
/// [`StatsError::Negative`], [`StatsError::NoVariation`] when half the spreads are zero, [`StatsError::NotSettled`].
///
/// # Source
/// ISO 13528:2015, C.4; ISO 5725-5:1998, 5.3.
///
/// # Example
/// ```
/// let ranges = [0.28, 0.49, 0.4, 0.0, 0.35, 1.98, 0.8, 0.32, 0.95];
/// let found = stillwell_stats::robust::algorithm_s(&ranges, 1)?;
/// assert!((found.spread - 0.68575).abs() < 1e-5 && found.n_drawn_in == 1);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn algorithm_s(spreads: &[f64], degrees_of_freedom: usize) -> Result<PooledSpread, StatsError> {
    let factors = algorithm_s_factors(degrees_of_freedom)?;
    let sorted = sorted_finite("the spreads", spreads, 2)?;
    if let Some((row, &value)) = spreads.iter().enumerate().find(|(_, v)| **v < 0.0) {
        return Err(StatsError::Negative { what: "the spread", row, value });
    }
    let largest = sorted.iter().copied().fold(0.0, f64::max);
    let mut pooled = middle(&sorted);
    if pooled <= 0.0 {
        return Err(StatsError::NoVariation { what: "half of the groups", statistic: "Algorithm S" });
    }
    for n_steps in 1..=MOST_STEPS {
        let limit = factors.limit * pooled;
        // Divided by the largest, so that no square overflows.
        let squares: f64 = sorted.iter().map(|w| f64::min(*w, limit) / largest).map(|w| w * w).sum();
        let next = factors.adjustment * largest * libm::sqrt(squares / sorted.len() as f64);
        require_in_range("Algorithm S", &[next])?;
        let change = (next - pooled).abs();
        pooled = next;
        if change <= 1e-15 * pooled {
            let n_drawn_in = sorted.iter().filter(|w| **w > factors.limit * pooled).count();
            return Ok(PooledSpread { spread: pooled, n_drawn_in, n_steps });
        }
    }
    Err(StatsError::NotSettled { what: "Algorithm S", n_steps: MOST_STEPS })
}

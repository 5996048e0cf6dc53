//! The F distribution of a ratio of two variances.

use super::beta::incomplete_beta_pair;
use super::{quantile, saddle_point};

/// Probability that F with `d1` and `d2` degrees of freedom is at most `f`.
///
/// # Units
/// Pure numbers; `d1, d2 > 0`; 0 for negative `f`.
///
/// # Source
/// Definition, incomplete beta function at `d1 f/(d1 f + d2)`.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::f_cdf;
/// assert!((f_cdf(1.0, 4.0, 4.0) - 0.5).abs() < 1e-15);
/// ```
pub fn f_cdf(f: f64, d1: f64, d2: f64) -> f64 {
    pair(f, d1, d2).0
}

/// Probability that F with `d1` and `d2` degrees of freedom exceeds `f`: the p value of a variance ratio.
///
/// # Units
/// Pure numbers; `d1, d2 > 0`; 1 for negative `f`.
///
/// # Source
/// As [`f_cdf`].
///
/// # Example
/// ```
/// use stillwell_stats::distributions::f_sf;
/// assert!((f_sf(10.127964486013934, 1.0, 3.0) - 0.05).abs() < 1e-15);
/// ```
pub fn f_sf(f: f64, d1: f64, d2: f64) -> f64 {
    pair(f, d1, d2).1
}

/// The value below which F with `d1` and `d2` degrees of freedom lies with probability `p`.
///
/// # Units
/// Pure numbers; `0 ≤ p ≤ 1`, `d1, d2 > 0`.
///
/// # Source
/// Definition; Newton's method on [`f_cdf`] or [`f_sf`], whichever tail is smaller.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::f_quantile;
/// assert!((f_quantile(0.95, 1.0, 3.0) - 10.127964486013934).abs() < 1e-13);
/// ```
pub fn f_quantile(p: f64, d1: f64, d2: f64) -> f64 {
    if !((0.0..=1.0).contains(&p) && d1 > 0.0 && d2 > 0.0 && d1.is_finite() && d2.is_finite()) {
        return f64::NAN;
    }
    if p == 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return f64::INFINITY;
    }
    let density = |f: f64| {
        let (x, y) = beta_arguments(f, d1, d2);
        let (a, b) = (0.5 * d1, 0.5 * d2);
        saddle_point::binomial(a, b, x, y) * (a * b / (a + b)) / f
    };
    if p > 0.5 {
        quantile::solve(1.0 - p, false, 1.0, |f| (pair(f, d1, d2).1, density(f)))
    } else {
        quantile::solve(p, true, 1.0, |f| (pair(f, d1, d2).0, density(f)))
    }
}

fn pair(f: f64, d1: f64, d2: f64) -> (f64, f64) {
    if f.is_nan() || !(d1 > 0.0 && d2 > 0.0) {
        return (f64::NAN, f64::NAN);
    }
    if f <= 0.0 {
        return (0.0, 1.0);
    }
    let (x, y) = beta_arguments(f, d1, d2);
    incomplete_beta_pair(0.5 * d1, 0.5 * d2, x, y)
}

/// `d1 f/(d1 f + d2)` and its complement, without overflow.
fn beta_arguments(f: f64, d1: f64, d2: f64) -> (f64, f64) {
    let ratio = d1 / d2 * f;
    if ratio <= 1.0 {
        (ratio / (1.0 + ratio), 1.0 / (1.0 + ratio))
    } else {
        let inverse = 1.0 / ratio;
        (1.0 / (1.0 + inverse), inverse / (1.0 + inverse))
    }
}

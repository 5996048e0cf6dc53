//! The chi-squared distribution.

use super::gamma::incomplete_gamma_pair;
use super::{normal::normal_quantile, quantile, saddle_point};

/// Probability that chi-squared with `df` degrees of freedom is at most `x`.
///
/// # Units
/// Pure numbers; `df > 0`; 0 for negative `x`.
///
/// # Source
/// Definition, `P(df/2, x/2)`.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::chi_squared_cdf;
/// assert!((chi_squared_cdf(3.841458820694126, 1.0) - 0.95).abs() < 1e-15);
/// ```
pub fn chi_squared_cdf(x: f64, df: f64) -> f64 {
    incomplete_gamma_pair(0.5 * df, not_below_zero(0.5 * x)).0
}

/// Probability that chi-squared with `df` degrees of freedom exceeds `x`.
///
/// # Units
/// Pure numbers; `df > 0`; 1 for negative `x`.
///
/// # Source
/// Definition, `Q(df/2, x/2)`.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::chi_squared_sf;
/// assert!((chi_squared_sf(2.0, 2.0) - 0.36787944117144233).abs() < 1e-15);
/// ```
pub fn chi_squared_sf(x: f64, df: f64) -> f64 {
    incomplete_gamma_pair(0.5 * df, not_below_zero(0.5 * x)).1
}

/// The value below which chi-squared with `df` degrees of freedom lies with probability `p`.
///
/// # Units
/// Pure numbers; `0 ≤ p ≤ 1`, `df > 0`.
///
/// # Source
/// Start from Wilson & Hilferty 1931, then Newton's method on the distribution function.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::chi_squared_quantile;
/// assert!((chi_squared_quantile(0.95, 1.0) - 3.841458820694126).abs() < 1e-14);
/// ```
pub fn chi_squared_quantile(p: f64, df: f64) -> f64 {
    if !((0.0..=1.0).contains(&p) && df > 0.0 && df.is_finite()) {
        return f64::NAN;
    }
    if p == 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return f64::INFINITY;
    }
    let a = 0.5 * df;
    let density = |half_x: f64| saddle_point::poisson(a, half_x) * a / half_x;
    let half = if p > 0.5 {
        quantile::solve(1.0 - p, false, half_start(p, df), |h| (incomplete_gamma_pair(a, h).1, density(h)))
    } else {
        quantile::solve(p, true, half_start(p, df), |h| (incomplete_gamma_pair(a, h).0, density(h)))
    };
    2.0 * half
}

fn half_start(p: f64, df: f64) -> f64 {
    let v = 2.0 / (9.0 * df);
    let root = 1.0 - v + normal_quantile(p) * libm::sqrt(v);
    0.5 * df * f64::max(root * root * root, 1e-3)
}

/// NaN stays NaN.
fn not_below_zero(x: f64) -> f64 {
    if x < 0.0 { 0.0 } else { x }
}

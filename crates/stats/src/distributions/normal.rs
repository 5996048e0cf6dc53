//! The standard normal distribution.

use core::f64::consts::{FRAC_1_SQRT_2, PI};

/// Density of the standard normal distribution, `exp(−z²/2)/√(2π)`.
///
/// # Units
/// Pure numbers.
///
/// # Source
/// Definition.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::normal_density;
/// assert!((normal_density(0.0) - 0.3989422804014327).abs() < 1e-16);
/// ```
pub fn normal_density(z: f64) -> f64 {
    libm::exp(-0.5 * z * z) / libm::sqrt(2.0 * PI)
}

/// Probability that a standard normal value is at most `z`; the upper tail is `normal_cdf(-z)`.
///
/// # Units
/// Pure numbers.
///
/// # Source
/// Definition, `erfc(−z/√2)/2`.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::normal_cdf;
/// assert!((normal_cdf(-1.96) - 0.024997895148220435).abs() < 1e-16);
/// ```
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z * FRAC_1_SQRT_2)
}

/// The `z` below which a standard normal value lies with probability `p`; infinite at 0 and 1, NaN outside.
///
/// # Units
/// Pure numbers.
///
/// # Source
/// Start from Abramowitz & Stegun 26.2.23, polished by Halley's method on the distribution function.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::normal_quantile;
/// assert!((normal_quantile(0.975) - 1.9599639845400543).abs() < 1e-15);
/// assert!(normal_quantile(1.5).is_nan());
/// ```
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    // 1 − p is exact from one half upwards.
    if p > 0.5 { -lower_half(1.0 - p) } else { lower_half(p) }
}

fn lower_half(p: f64) -> f64 {
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    if p >= 0.5 {
        return 0.0;
    }
    let mut z = rough_lower_quantile(p);
    for _ in 0..2 {
        let density = normal_density(z);
        if density <= f64::MIN_POSITIVE {
            break;
        }
        let newton = (normal_cdf(z) - p) / density;
        z -= newton / (1.0 + 0.5 * z * newton);
    }
    z
}

/// To three decimals, for `0 < p ≤ 0.5` (Abramowitz & Stegun 26.2.23).
pub(super) fn rough_lower_quantile(p: f64) -> f64 {
    let t = libm::sqrt(-2.0 * libm::log(p));
    let numerator = 2.515517 + t * (0.802853 + t * 0.010328);
    let denominator = 1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308));
    numerator / denominator - t
}

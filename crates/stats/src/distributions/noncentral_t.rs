//! Noncentral t, and the noncentrality that a minimum detectable value rests on.

use super::normal::{normal_cdf, normal_density};
use super::student_t::student_t_quantile;

/// Probability that noncentral t with `df` degrees of freedom and noncentrality `delta` is at most `t`.
///
/// Absolute accuracy about 1e-14 (far tails are not resolved relatively). NaN outside `df ≥ 0.5`, `|delta| ≤ 1024`.
///
/// # Units
/// Pure numbers.
///
/// # Source
/// Definition `E[Φ(t s − δ)]` with `s² = χ²/df`; trapezoidal rule in `ln s`, which converges exponentially.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::{noncentral_t_cdf, student_t_cdf};
/// assert!((noncentral_t_cdf(1.2, 7.0, 0.0) - student_t_cdf(1.2, 7.0)).abs() < 1e-14);
/// ```
pub fn noncentral_t_cdf(t: f64, df: f64, delta: f64) -> f64 {
    if !(t.is_finite() && libm::fabs(delta) <= MOST_DELTA && df >= LEAST_DF) {
        return f64::NAN;
    }
    cdf_and_density(t, df, delta).0
}

/// `δ(df; α; β)`: the noncentrality at which noncentral t falls below the critical value `t(1−α; df)` with probability β.
///
/// Divided by the square root of the design's variance factor it turns a standard deviation into the minimum
/// detectable value. NaN unless `0 < α, β < 1`, `α + β < 1` and `df ≥ 0.5`, and where δ would exceed 1024.
///
/// # Units
/// Pure numbers.
///
/// # Source
/// ISO 11843-2:2000, clause 5.3 (table of δ).
///
/// # Example
/// ```
/// use stillwell_stats::distributions::noncentrality_delta;
/// assert!((noncentrality_delta(8.0, 0.05, 0.05) - 3.6171265589044013).abs() < 1e-10);
/// ```
pub fn noncentrality_delta(df: f64, alpha: f64, beta: f64) -> f64 {
    if !(alpha > 0.0 && beta > 0.0 && alpha + beta < 1.0 && df >= LEAST_DF) {
        return f64::NAN;
    }
    let t = -student_t_quantile(alpha, df);
    // The probability falls from 1 − α at δ = 0 (more for negative δ) towards 0.
    let (mut low, mut high) = (0.0, 1.0);
    while cdf_and_density(t, df, high).0 > beta {
        low = high;
        high *= 2.0;
        if high > MOST_DELTA {
            return f64::NAN;
        }
    }
    let mut delta = 0.5 * (low + high);
    for _ in 0..200 {
        let (probability, density) = cdf_and_density(t, df, delta);
        if probability > beta {
            low = delta;
        } else {
            high = delta;
        }
        let newton = delta + (probability - beta) / density;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if libm::fabs(next - delta) <= 1e-14 * next {
            return next;
        }
        delta = next;
    }
    delta
}

/// The value below which noncentral t with `df` degrees of freedom and noncentrality `delta` lies with probability `p`.
///
/// # Units
/// Pure numbers; `0 < p < 1`, `df ≥ 0.5`, `|delta| ≤ 1024`; otherwise NaN.
///
/// # Source
/// Definition: bisection of [`noncentral_t_cdf`] in a bracket that is widened until it holds.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::{noncentral_t_cdf, noncentral_t_quantile};
/// let t = noncentral_t_quantile(0.95, 9.0, 5.2);
/// assert!((noncentral_t_cdf(t, 9.0, 5.2) - 0.95).abs() < 1e-12);
/// ```
pub fn noncentral_t_quantile(p: f64, df: f64, delta: f64) -> f64 {
    if !(p > 0.0 && p < 1.0 && df >= LEAST_DF && libm::fabs(delta) <= MOST_DELTA) {
        return f64::NAN;
    }
    let at = |t: f64| cdf_and_density(t, df, delta).0;
    let (mut low, mut high) = (delta - 1.0, delta + 1.0);
    let mut width = 1.0;
    while at(low) > p {
        width *= 2.0;
        low = delta - width;
        if width > 1e12 {
            return f64::NAN;
        }
    }
    width = 1.0;
    while at(high) < p {
        width *= 2.0;
        high = delta + width;
        if width > 1e12 {
            return f64::NAN;
        }
    }
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return middle;
        }
        if at(middle) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
}

/// Below it the integrand has a tail too long to sum.
const LEAST_DF: f64 = 0.5;

/// Beyond it the steps would become too many.
const MOST_DELTA: f64 = 1024.0;

/// From here on `s` is 1 to the last digit that matters.
const NEARLY_NORMAL: f64 = 1e16;

/// The distribution function, and minus its derivative by `delta`.
fn cdf_and_density(t: f64, df: f64, delta: f64) -> (f64, f64) {
    if df >= NEARLY_NORMAL {
        return (normal_cdf(t - delta), normal_density(t - delta));
    }
    // Weight of w = ln s relative to its peak at 0: exp(df (w − (e^{2w} − 1)/2)).
    let log_weight = |w: f64| df * (w - 0.5 * libm::expm1(2.0 * w));
    // Narrow enough for the weight's own width and for Φ, which turns within 1/δ where t s passes δ.
    let width = 1.0 / libm::sqrt(2.0 * df);
    let turn = 1.0 / (2.0 + libm::fabs(delta));
    let step = f64::min(f64::min(0.25 * width, 0.125), 0.4 * turn);
    let mut weight_sum = 0.0;
    let mut cdf = 0.0;
    let mut density = 0.0;
    for direction in [-1.0, 1.0] {
        let mut k = if direction < 0.0 { 1.0 } else { 0.0 };
        loop {
            let w = direction * k * step;
            let exponent = log_weight(w);
            if exponent < -46.0 {
                break;
            }
            let weight = libm::exp(exponent);
            let z = t * libm::exp(w) - delta;
            weight_sum += weight;
            cdf += weight * normal_cdf(z);
            density += weight * normal_density(z);
            k += 1.0;
        }
    }
    (cdf / weight_sum, density / weight_sum)
}

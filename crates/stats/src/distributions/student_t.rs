//! Student's t distribution, for any real number of degrees of freedom.

use super::beta::incomplete_beta_pair;
use super::normal::{normal_cdf, normal_density, normal_quantile};
use super::{quantile, saddle_point, whole_student_t};

/// From here on the second-order expansion about the normal is exact to the last digits.
const NEARLY_NORMAL: f64 = 1e10;

/// Probability that Student's t with `df` degrees of freedom is at most `t`.
///
/// # Units
/// Pure numbers; `df > 0`, infinity allowed (normal distribution).
///
/// # Source
/// Definition through the incomplete beta function (DLMF 8.17); from 10¹⁰ degrees of freedom Fisher 1925's expansion.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::student_t_cdf;
/// assert!((student_t_cdf(1.0, 1.0) - 0.75).abs() < 1e-15);
/// ```
pub fn student_t_cdf(t: f64, df: f64) -> f64 {
    student_t_sf(-t, df)
}

/// Probability that Student's t with `df` degrees of freedom exceeds `t`.
///
/// # Units
/// Pure numbers; `df > 0`, infinity allowed (normal distribution).
///
/// # Source
/// As [`student_t_cdf`].
///
/// # Example
/// ```
/// use stillwell_stats::distributions::student_t_sf;
/// let two_sided_p = 2.0 * student_t_sf(2.0, 5.0);
/// assert!((two_sided_p - 0.10193947882985836).abs() < 1e-15);
/// ```
pub fn student_t_sf(t: f64, df: f64) -> f64 {
    if t.is_nan() || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    let upper = positive_tail(libm::fabs(t), df);
    if t < 0.0 { 1.0 - upper } else { upper }
}

/// The `t` below which Student's t with `df` degrees of freedom lies with probability `p`.
///
/// # Units
/// Pure numbers; `0 ≤ p ≤ 1`, `df > 0`, infinity allowed (normal distribution).
///
/// # Source
/// Definition; Newton's method on [`student_t_cdf`], or Halley's on the finite sums of Abramowitz & Stegun 26.7.3 and
/// 26.7.4 for whole degrees of freedom (2 to 60) and a tail of at least 0.01.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::student_t_quantile;
/// assert!((student_t_quantile(0.975, 4.0) - 2.7764451051977943).abs() < 1e-14);
/// ```
pub fn student_t_quantile(p: f64, df: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if p > 0.5 { positive_quantile(1.0 - p, p - 0.5, df) } else { -positive_quantile(p, 0.5 - p, df) }
}

/// The point with `upper` above it and `central` between 0 and it.
fn positive_quantile(upper: f64, central: f64, df: f64) -> f64 {
    if central == 0.0 {
        return 0.0;
    }
    if upper == 0.0 {
        return f64::INFINITY;
    }
    if let Some(t) = whole_student_t::positive_quantile(upper, central, df) {
        return t;
    }
    let start = -normal_quantile(upper);
    if df.is_infinite() {
        return start;
    }
    if upper > 0.25 {
        quantile::solve(central, true, start, |t| (central_probability(t, df), density(t, df)))
    } else {
        quantile::solve(upper, false, start, |t| (positive_tail(t, df), density(t, df)))
    }
}

fn positive_tail(t: f64, df: f64) -> f64 {
    if df >= NEARLY_NORMAL {
        return normal_cdf(-t) + fisher_correction(t, df);
    }
    let (x, y) = beta_arguments(t, df);
    0.5 * incomplete_beta_pair(0.5 * df, 0.5, x, y).0
}

/// Probability between 0 and `t`.
fn central_probability(t: f64, df: f64) -> f64 {
    if df >= NEARLY_NORMAL {
        return 0.5 * libm::erf(t * core::f64::consts::FRAC_1_SQRT_2) - fisher_correction(t, df);
    }
    let (x, y) = beta_arguments(t, df);
    0.5 * incomplete_beta_pair(0.5 * df, 0.5, x, y).1
}

/// `df/(df + t²)` and `t²/(df + t²)`, without overflow.
fn beta_arguments(t: f64, df: f64) -> (f64, f64) {
    let root = libm::sqrt(df);
    if t <= root {
        let ratio = t * (t / df);
        (1.0 / (1.0 + ratio), ratio / (1.0 + ratio))
    } else {
        let ratio = df / t / t;
        (ratio / (1.0 + ratio), 1.0 / (1.0 + ratio))
    }
}

/// What the upper tail has more than the normal one, to second order in `1/df` (nothing when `df` is infinite).
fn fisher_correction(t: f64, df: f64) -> f64 {
    let density = normal_density(t);
    if density == 0.0 {
        return 0.0;
    }
    let s = t * t;
    let first = t * (s + 1.0) / 4.0;
    let second = t * (s * (s * (3.0 * s - 7.0) - 5.0) - 3.0) / 96.0;
    density * (first + second / df) / df
}

fn density(t: f64, df: f64) -> f64 {
    if df >= NEARLY_NORMAL {
        let s = t * t;
        return normal_density(t) * (1.0 + (s * s - 2.0 * s - 1.0) / (4.0 * df));
    }
    // x^{df/2} y^{1/2} / B(df/2, 1/2) is t times the density.
    let (x, y) = beta_arguments(t, df);
    let (a, b) = (0.5 * df, 0.5);
    saddle_point::binomial(a, b, x, y) * (a * b / (a + b)) / t
}

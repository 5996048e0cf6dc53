//! The regularised incomplete beta function.

use super::saddle_point;

/// More terms than any argument up to a million degrees of freedom needs.
const MOST_TERMS: u32 = 200_000;

/// Regularised incomplete beta function `I_x(a, b)`, for `a, b > 0` and `0 ≤ x ≤ 1`; NaN elsewhere.
///
/// # Units
/// All arguments are pure numbers.
///
/// # Source
/// Continued fraction of DLMF 8.17.22, factor in front after Loader 2000.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::incomplete_beta;
/// assert!((incomplete_beta(2.0, 1.0, 0.3) - 0.09).abs() < 1e-16);
/// ```
pub fn incomplete_beta(a: f64, b: f64, x: f64) -> f64 {
    incomplete_beta_pair(a, b, x, 1.0 - x).0
}

/// `(I_x(a, b), 1 − I_x(a, b))`, each without cancellation; `y` is `1 − x`, handed in so that neither is rounded off.
pub(super) fn incomplete_beta_pair(a: f64, b: f64, x: f64, y: f64) -> (f64, f64) {
    let in_domain = a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite() && x >= 0.0 && y >= 0.0;
    if !in_domain {
        return (f64::NAN, f64::NAN);
    }
    if x == 0.0 {
        return (0.0, 1.0);
    }
    if y == 0.0 {
        return (1.0, 0.0);
    }
    if x <= (a + 1.0) / (a + b + 2.0) {
        let lower = small_side(a, b, x, y);
        (lower, 1.0 - lower)
    } else {
        let upper = small_side(b, a, y, x);
        (1.0 - upper, upper)
    }
}

/// `I_x(a, b)` where `x` lies below the mean, so that the fraction converges.
fn small_side(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let front = saddle_point::binomial(a, b, x, y) * (b / (a + b));
    f64::min(front * fraction(a, b, x), 1.0)
}

/// Lentz's evaluation of `1/(1 + d1/(1 + d2/(1 + …)))`.
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |v: f64| if libm::fabs(v) < TINY { TINY } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for m in 1..=MOST_TERMS {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away_from_zero(1.0 + even * d);
        c = away_from_zero(1.0 + even / c);
        value *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away_from_zero(1.0 + odd * d);
        c = away_from_zero(1.0 + odd / c);
        let step = d * c;
        value *= step;
        if libm::fabs(step - 1.0) <= f64::EPSILON {
            return value;
        }
    }
    f64::NAN
}

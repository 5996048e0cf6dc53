//! The regularised incomplete beta function.

use super::saddle_point;

/// Beyond it the differences between parameters lose too many digits.
const LARGEST_PARAMETER: f64 = 1e10;

/// More terms than parameters of some 10⁸ need; beyond, the answer is NaN rather than a sum cut short.
const MOST_TERMS: u32 = 200_000;

/// Regularised incomplete beta function `I_x(a, b)`, for `0 < a, b ≤ 10¹⁰` and `0 ≤ x ≤ 1`; NaN elsewhere.
///
/// # Units
/// All arguments are pure numbers.
///
/// # Source
/// Continued fraction of Didonato & Morris 1992, ACM Trans. Math. Softw. 18, 360 (the even part of DLMF 8.17.22);
/// factor in front after Loader 2000.
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
    let in_domain = a > 0.0 && b > 0.0 && f64::max(a, b) <= LARGEST_PARAMETER && x >= 0.0 && y >= 0.0;
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
    let front = saddle_point::binomial(a, b, x, y) * (a / (a + b) * b);
    f64::min(front * fraction(a, b, x, y), 1.0)
}

/// `1/(β₀ + α₁/(β₁ + α₂/(β₂ + …)))` by Lentz, with the distance from the mean free of cancellation.
fn fraction(a: f64, b: f64, x: f64, y: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |v: f64| if libm::fabs(v) < TINY { TINY } else { v };
    let below_mean = a * y - b * x;
    let first = away_from_zero(a / (a + 1.0) * (below_mean + 1.0));
    let (mut c, mut d, mut value) = (first, 0.0, first);
    for n in 1..=MOST_TERMS {
        let n = f64::from(n);
        let odd = a + 2.0 * n - 1.0;
        let share = n / odd * (b - n) * x;
        let alpha = share * ((a + n - 1.0) / odd) * (a + b + n - 1.0) * x;
        let beta = n + share + (a + n) / (odd + 2.0) * (below_mean + 1.0 + n * (1.0 + y));
        d = 1.0 / away_from_zero(beta + alpha * d);
        c = away_from_zero(beta + alpha / c);
        let step = c * d;
        value *= step;
        if libm::fabs(step - 1.0) <= f64::EPSILON {
            return 1.0 / value;
        }
    }
    f64::NAN
}

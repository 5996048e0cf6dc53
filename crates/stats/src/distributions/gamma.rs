//! Log gamma and the regularised incomplete gamma function.

use super::saddle_point;

/// Beyond it `x − a` loses too many digits.
const LARGEST_PARAMETER: f64 = 1e10;

/// More terms than parameters of some 10⁸ need; beyond, the answer is NaN rather than a sum cut short.
const MOST_TERMS: u32 = 200_000;

/// Natural logarithm of `Γ(x)` for `x > 0`; NaN elsewhere.
///
/// # Units
/// Pure numbers.
///
/// # Source
/// Definition; computed by `libm`.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::ln_gamma;
/// assert!((ln_gamma(5.0) - 3.1780538303479458).abs() < 1e-15);
/// ```
pub fn ln_gamma(x: f64) -> f64 {
    if x > 0.0 { libm::lgamma(x) } else { f64::NAN }
}

/// Regularised lower incomplete gamma function `P(a, x)` for `0 < a ≤ 10¹⁰`, `x ≥ 0`; NaN elsewhere.
///
/// # Units
/// Pure numbers.
///
/// # Source
/// Series of DLMF 8.7.1 and continued fraction of 8.9.2, factor in front after Loader 2000.
///
/// # Example
/// ```
/// use stillwell_stats::distributions::incomplete_gamma;
/// assert!((incomplete_gamma(1.0, 2.0) - 0.8646647167633873).abs() < 1e-15);
/// ```
pub fn incomplete_gamma(a: f64, x: f64) -> f64 {
    incomplete_gamma_pair(a, x).0
}

/// `(P(a, x), Q(a, x))`, each without cancellation.
pub(super) fn incomplete_gamma_pair(a: f64, x: f64) -> (f64, f64) {
    if !(a > 0.0 && a <= LARGEST_PARAMETER && x >= 0.0) {
        return (f64::NAN, f64::NAN);
    }
    if x == 0.0 {
        return (0.0, 1.0);
    }
    if x.is_infinite() {
        return (1.0, 0.0);
    }
    let front = saddle_point::poisson(a, x);
    if x < a + 1.0 {
        let lower = f64::min(front * series(a, x), 1.0);
        (lower, 1.0 - lower)
    } else {
        let upper = f64::min(front * a * fraction(a, x), 1.0);
        (1.0 - upper, upper)
    }
}

/// `1 + x/(a+1) + x²/((a+1)(a+2)) + …`.
fn series(a: f64, x: f64) -> f64 {
    let mut term = 1.0;
    let mut sum = 1.0;
    for k in 1..=MOST_TERMS {
        term *= x / (a + f64::from(k));
        sum += term;
        if term <= sum * (0.25 * f64::EPSILON) {
            return sum;
        }
    }
    f64::NAN
}

/// `1/(x+1−a − 1(1−a)/(x+3−a − 2(2−a)/(x+5−a − …)))`, by Lentz.
fn fraction(a: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |v: f64| if libm::fabs(v) < TINY { TINY } else { v };
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / away_from_zero(b);
    let mut value = d;
    for k in 1..=MOST_TERMS {
        let k = f64::from(k);
        let numerator = -k * (k - a);
        b += 2.0;
        d = 1.0 / away_from_zero(numerator * d + b);
        c = away_from_zero(b + numerator / c);
        let step = d * c;
        value *= step;
        if libm::fabs(step - 1.0) <= f64::EPSILON {
            return value;
        }
    }
    f64::NAN
}

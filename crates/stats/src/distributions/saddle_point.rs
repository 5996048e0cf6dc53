//! Binomial and Poisson densities for real arguments without cancellation of large logarithms.
//!
//! Source: Loader 2000, "Fast and accurate computation of binomial probabilities" (deviance and Stirling error).

use core::f64::consts::PI;

/// `x^a y^b (a+b)/(a b B(a,b))` with `y = 1 − x` handed in: the "density" of `a` successes in `a + b` trials.
pub(super) fn binomial(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let n = a + b;
    let exponent =
        stirling_error(n) - stirling_error(a) - stirling_error(b) - deviance(a, n * x) - deviance(b, n * y);
    libm::exp(exponent) * libm::sqrt(n / (2.0 * PI * a * b))
}

/// `x^a e^{-x} / Γ(a+1)`.
pub(super) fn poisson(a: f64, x: f64) -> f64 {
    libm::exp(-stirling_error(a) - deviance(a, x)) / libm::sqrt(2.0 * PI * a)
}

/// `ln Γ(n+1) − (n + ½) ln n + n − ½ ln 2π`.
fn stirling_error(n: f64) -> f64 {
    // Climb by the recurrence to where the series has converged.
    let mut climbed = 0.0;
    let mut n = n;
    while n < 12.0 {
        climbed += (n + 0.5) * libm::log1p(1.0 / n) - 1.0;
        n += 1.0;
    }
    let s = 1.0 / (n * n);
    let series = 1.0 / 12.0
        - s * (1.0 / 360.0
            - s * (1.0 / 1260.0
                - s * (1.0 / 1680.0 - s * (1.0 / 1188.0 - s * (691.0 / 360360.0 - s / 156.0)))));
    series / n + climbed
}

/// `a ln(a/m) + m − a`, precise also where `a` is near `m`.
fn deviance(a: f64, m: f64) -> f64 {
    let difference = a - m;
    if libm::fabs(difference) >= 0.1 * (a + m) {
        return a * libm::log(a / m) - difference;
    }
    let v = difference / (a + m);
    let v_squared = v * v;
    let mut sum = difference * v;
    let mut term = 2.0 * a * v;
    let mut odd = 1.0;
    for _ in 0..500 {
        term *= v_squared;
        odd += 2.0;
        sum += term / odd;
        if libm::fabs(term) <= sum * (0.25 * f64::EPSILON) {
            break;
        }
    }
    sum
}

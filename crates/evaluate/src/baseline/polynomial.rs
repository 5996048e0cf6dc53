//! A polynomial fitted outside the peak, by orthogonal polynomials.

use crate::blocks::sum_pairs;
use crate::settings::IndexRange;

/// Highest degree.
pub(crate) const MAX_DEGREE: usize = 4;

/// p₀ = 1, pₖ₊₁ = (t − aₖ) pₖ − bₖ pₖ₋₁, orthogonal over the fitted points.
struct Recurrence {
    a: [f64; MAX_DEGREE + 1],
    b: [f64; MAX_DEGREE + 1],
}

impl Recurrence {
    /// p₀(t) … pₖ(t), and zero beyond.
    #[inline(always)]
    fn at(&self, t: f64, k: usize) -> [f64; MAX_DEGREE + 1] {
        let mut p = [0.0; MAX_DEGREE + 1];
        p[0] = 1.0;
        let mut before = 0.0;
        for j in 0..k.min(MAX_DEGREE) {
            p[j + 1] = (t - self.a[j]) * p[j] - self.b[j] * before;
            before = p[j];
        }
        p
    }
}

/// Least squares over the two ranges, evaluated at every point.
///
/// Each coefficient is found on what the lower degrees left over (Forsythe, J. SIAM 5 (1957) 74), so no normal
/// equations are solved. Potentials are scaled to −1 … 1 over the scan.
pub(crate) fn fit(
    potential_v: &[f64],
    current_a: &[f64],
    degree: usize,
    ranges: [IndexRange; 2],
    baseline: &mut [f64],
) {
    let (Some(start_v), Some(end_v)) = (potential_v.first(), potential_v.last()) else { return };
    let (middle_v, half_v) = (0.5 * start_v + 0.5 * end_v, 0.5 * end_v - 0.5 * start_v);
    let scaled = |v: f64| (v - middle_v) / half_v;
    let over_points = |f: &dyn Fn(f64, f64) -> f64| {
        let [first, second] =
            ranges.map(|r| sum_pairs(r.of(potential_v), r.of(current_a), |v, y| f(scaled(v), y)));
        first + second
    };
    let mut basis = Recurrence { a: [0.0; MAX_DEGREE + 1], b: [0.0; MAX_DEGREE + 1] };
    let mut coefficients = [0.0; MAX_DEGREE + 1];
    let mut norm_before = 1.0;
    for k in 0..=degree.min(MAX_DEGREE) {
        let norm = over_points(&|t, _| {
            let p = basis.at(t, k)[k];
            p * p
        });
        let product = over_points(&|t, y| {
            let p = basis.at(t, k);
            (y - value(&p, &coefficients)) * p[k]
        });
        let moment = over_points(&|t, _| {
            let p = basis.at(t, k)[k];
            t * p * p
        });
        coefficients[k] = product / norm;
        basis.a[k] = moment / norm;
        basis.b[k] = if k == 0 { 0.0 } else { norm / norm_before };
        norm_before = norm;
    }
    for (out, &v) in baseline.iter_mut().zip(potential_v) {
        *out = value(&basis.at(scaled(v), degree), &coefficients);
    }
}

#[inline(always)]
fn value(p: &[f64; MAX_DEGREE + 1], coefficients: &[f64; MAX_DEGREE + 1]) -> f64 {
    let mut sum = 0.0;
    for (pk, ck) in p.iter().zip(coefficients) {
        sum += pk * ck;
    }
    sum
}

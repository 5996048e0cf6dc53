//! One solver for every positive quantile: Newton's method on logarithms, held in a bracket.

/// The `x > 0` at which a monotone `probability` reaches `target`.
///
/// `at(x)` gives the probability and its density (positive, whatever the direction). Both logarithms are nearly
/// straight against `ln x` in every tail, so few steps are needed; the bracket makes sure that none goes astray.
pub(super) fn solve(target: f64, rising: bool, start: f64, at: impl Fn(f64) -> (f64, f64)) -> f64 {
    let mut low = 0.0;
    let mut high = f64::INFINITY;
    let mut x = start;
    let mut last_step = f64::INFINITY;
    for _ in 0..400 {
        let (probability, density) = at(x);
        if probability.is_nan() {
            return f64::NAN;
        }
        let excess = logarithm_of_ratio(probability, target);
        if excess == 0.0 {
            return x;
        }
        if (probability < target) == rising {
            low = x;
        } else {
            high = x;
        }
        let slope = x * density / probability;
        let step = if rising { -excess / slope } else { excess / slope };
        let next = within(x, step, low, high);
        // The rounding of `at` decides once the steps stop shrinking.
        let size = libm::fabs(next - x) / x;
        if size <= f64::EPSILON || (size < 1e-12 && size >= last_step) {
            return next;
        }
        last_step = size;
        x = next;
    }
    x
}

fn logarithm_of_ratio(probability: f64, target: f64) -> f64 {
    let relative = (probability - target) / target;
    if libm::fabs(relative) < 0.5 { libm::log1p(relative) } else { libm::log(probability / target) }
}

/// `x e^step`, or the middle of the bracket (geometric) when that leaves it.
fn within(x: f64, step: f64, low: f64, high: f64) -> f64 {
    let next = if libm::fabs(step) < 1e-3 {
        x + x * libm::expm1(step)
    } else {
        x * libm::exp(step.clamp(-40.0, 40.0))
    };
    if step.is_finite() && next >= low && next <= high && next > 0.0 {
        return next;
    }
    let floor = if low > 0.0 { low } else { f64::max(high * 1e-8, f64::MIN_POSITIVE) };
    let ceiling = if high.is_finite() { high } else { f64::min(low * 1e8, f64::MAX) };
    libm::sqrt(floor) * libm::sqrt(ceiling)
}

//! Quantiles of Student's t for whole degrees of freedom, from finite sums.
//!
//! Every calibration asks for one, so this road needs no gamma and no beta function. Its error is absolute in the
//! probability; [`student_t_quantile`](super::student_t_quantile) takes it where that costs no digits of `t`.

use super::normal::rough_lower_quantile;

/// Beyond it the roundings of the many terms would cost a digit.
const MOST_DF: f64 = 60.0;

/// Below it (the share above `t`) the rounding of the sum shows in the fourteenth digit of `t`.
const LEAST_UPPER: f64 = 0.01;

/// Halley's method triples the correct digits: a step below this leaves nothing to correct.
const LAST_STEP: f64 = 1e-6;

const MOST_STEPS: u32 = 8;

/// The point with `upper` above it and `central` between 0 and it; nothing where the sums are not the better road.
///
/// Source: start from Abramowitz & Stegun 26.7.5 (Cornish & Fisher's expansion), polished by Halley's method.
pub(super) fn positive_quantile(upper: f64, central: f64, df: f64) -> Option<f64> {
    if !(2.0..=MOST_DF).contains(&df) || df > libm::floor(df) || upper < LEAST_UPPER {
        return None;
    }
    let mut t = start(upper, df);
    for _ in 0..MOST_STEPS {
        let (reached, density) = central_probability_and_density(t, df);
        let newton = (reached - central) / density;
        let step = newton / (1.0 + 0.5 * newton * (df + 1.0) * t / (df + t * t));
        t -= step;
        if libm::fabs(step) <= LAST_STEP * t {
            return Some(t);
        }
    }
    None
}

fn start(upper: f64, df: f64) -> f64 {
    let z = -rough_lower_quantile(upper);
    let s = z * z;
    let g1 = (s + 1.0) / 4.0;
    let g2 = ((5.0 * s + 16.0) * s + 3.0) / 96.0;
    let g3 = (((3.0 * s + 19.0) * s + 17.0) * s - 15.0) / 384.0;
    let g4 = ((((79.0 * s + 776.0) * s + 1482.0) * s - 1920.0) * s - 945.0) / 92160.0;
    let n = 1.0 / df;
    z * (1.0 + n * (g1 + n * (g2 + n * (g3 + n * g4))))
}

/// Probability between 0 and `t`, and the density at `t`, for whole `df ≥ 2`.
///
/// With `θ = atan(t/√df)` the sum runs over powers of `cos²θ`; its last term carries the factor of the density.
///
/// Source: Abramowitz & Stegun 26.7.3 (odd) and 26.7.4 (even).
fn central_probability_and_density(t: f64, df: f64) -> (f64, f64) {
    let root = libm::sqrt(df);
    let tangent = t / root;
    let cos_squared = 1.0 / (1.0 + tangent * tangent);
    let cosine = libm::sqrt(cos_squared);
    let sine = tangent * cosine;
    let (mut sum, mut last_term) = (1.0, 1.0);
    let mut k = df;
    while k > 3.0 {
        let factor = (k - 3.0) / (k - 2.0) * cos_squared;
        sum = 1.0 + factor * sum;
        last_term *= factor;
        k -= 2.0;
    }
    let density = (df - 1.0) / root * last_term * cos_squared;
    if k < 3.0 {
        (0.5 * sine * sum, 0.5 * density * cosine)
    } else {
        use core::f64::consts::FRAC_1_PI;
        (FRAC_1_PI * (libm::atan(tangent) + sine * cosine * sum), FRAC_1_PI * density * cos_squared)
    }
}

#[cfg(test)]
mod tests {
    use super::super::student_t::{student_t_cdf, student_t_quantile};
    use super::*;

    #[test]
    fn sums_agree_with_the_beta_function() {
        for df in [2.0, 3.0, 4.0, 5.0, 16.0, 33.0, 60.0] {
            for t in [1e-9, 0.1, 1.0, 2.5, 7.0] {
                let (central, density) = central_probability_and_density(t, df);
                let expected = student_t_cdf(t, df) - 0.5;
                assert!((central - expected).abs() <= 2.0 * f64::EPSILON, "{df} {t}: {central} {expected}");
                let slope = (student_t_cdf(t + 1e-4, df) - student_t_cdf(t - 1e-4, df)) / 2e-4;
                assert!((density - slope).abs() <= 1e-8, "{df} {t}: {density} {slope}");
            }
        }
    }

    /// A hair's breadth beside a whole number the beta function decides: both roads must meet.
    #[test]
    fn quantiles_meet_those_of_the_beta_function() {
        for df in [2.0, 3.0, 4.0, 7.0, 16.0, 41.0, 60.0] {
            for upper in [0.01, 0.025, 0.05, 0.25, 0.4, 0.499] {
                let found = positive_quantile(upper, 0.5 - upper, df).unwrap();
                let beside = -student_t_quantile(upper, df * (1.0 + 2.0 * f64::EPSILON));
                assert!((found - beside).abs() <= 1e-14 * beside, "{df} {upper}: {found} {beside}");
            }
        }
    }

    #[test]
    fn declines_what_it_cannot_do_well() {
        for (upper, df) in [(0.025, 7.3), (0.025, 1.0), (0.025, 61.0), (0.009, 7.0), (0.025, f64::INFINITY)] {
            assert_eq!(positive_quantile(upper, 0.5 - upper, df), None);
        }
    }
}

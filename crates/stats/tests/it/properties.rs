//! Laws that hold for every input: inverses, order, equivariance, and no panic on nonsense.

use proptest::prelude::*;
use stillwell_stats::{
    StatsError, analysis_of_variance, cochran_test, distributions as d, lag_1_autocorrelation, least_squares,
    levene_test, mean, nested_analysis_of_variance, polynomial_least_squares, standard_deviation,
    trend_with_order,
};

fn close(found: f64, expected: f64, relative: f64) -> bool {
    (found - expected).abs() <= relative * expected.abs()
}

/// NaN, infinities, zeros, subnormal, huge and ordinary numbers.
pub(crate) fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -1e3..1e3_f64,
        1 => any::<f64>(),
        1 => prop::sample::select(vec![
            f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, 5e-324, f64::MAX, f64::MIN, 1e-300,
        ]),
    ]
}

/// Probabilities down to 1e-12 on either side.
fn probability() -> impl Strategy<Value = f64> {
    prop_oneof![0.001..0.999_f64, (-12.0..-1.0_f64).prop_map(|e| libm::pow(10.0, e)), Just(0.5)]
}

/// Degrees of freedom from 0.5 to 100 000.
fn degrees_of_freedom() -> impl Strategy<Value = f64> {
    prop_oneof![(1_u32..200).prop_map(f64::from), (-0.3..5.0_f64).prop_map(|e| libm::pow(10.0, e))]
}

proptest! {
    #[test]
    fn cdf_undoes_quantile(p in probability(), a in degrees_of_freedom(), b in degrees_of_freedom()) {
        prop_assert!(close(d::normal_cdf(d::normal_quantile(p)), p, 1e-13));
        prop_assert!(close(d::student_t_cdf(d::student_t_quantile(p, a), a), p, 1e-11));
        prop_assert!(close(d::chi_squared_cdf(d::chi_squared_quantile(p, a), a), p, 1e-11));
        prop_assert!(close(d::f_cdf(d::f_quantile(p, a, b), a, b), p, 1e-11));
    }

    #[test]
    fn tails_are_complements(x in -20.0..20.0_f64, a in degrees_of_freedom(), b in degrees_of_freedom()) {
        prop_assert!((d::student_t_cdf(x, a) + d::student_t_sf(x, a) - 1.0).abs() < 1e-14);
        prop_assert!((d::f_cdf(x, a, b) + d::f_sf(x, a, b) - 1.0).abs() < 1e-14);
        prop_assert!((d::chi_squared_cdf(x, a) + d::chi_squared_sf(x, a) - 1.0).abs() < 1e-14);
    }

    /// F with one numerator degree of freedom is the square of t.
    #[test]
    fn squared_t_is_f(t in 0.01..50.0_f64, df in degrees_of_freedom()) {
        let two_sided = 2.0 * d::student_t_sf(t, df);
        prop_assert!(two_sided < 1e-290 || close(d::f_sf(t * t, 1.0, df), two_sided, 1e-11));
    }

    #[test]
    fn quantiles_rise_with_probability(p in 0.0001..0.999_f64, step in 1e-6..1e-4_f64, a in degrees_of_freedom(), b in degrees_of_freedom()) {
        prop_assert!(d::normal_quantile(p + step) > d::normal_quantile(p));
        prop_assert!(d::student_t_quantile(p + step, a) > d::student_t_quantile(p, a));
        prop_assert!(d::chi_squared_quantile(p + step, a) > d::chi_squared_quantile(p, a));
        prop_assert!(d::f_quantile(p + step, a, b) > d::f_quantile(p, a, b));
    }

    #[test]
    fn noncentral_t_falls_with_noncentrality(t in -5.0..10.0_f64, df in 1.0..100.0_f64, delta in -3.0..8.0_f64) {
        let (near, far) = (d::noncentral_t_cdf(t, df, delta), d::noncentral_t_cdf(t, df, delta + 0.1));
        prop_assert!(near >= far, "{near} {far}");
    }

    #[test]
    fn delta_gives_beta_back(df in 1.0..200.0_f64, alpha in 0.001..0.2_f64, beta in 0.001..0.5_f64) {
        let delta = d::noncentrality_delta(df, alpha, beta);
        let critical = d::student_t_quantile(1.0 - alpha, df);
        prop_assert!(close(d::noncentral_t_cdf(critical, df, delta), beta, 1e-9), "{delta}");
    }

    /// Shifting and scaling y shifts and scales the line; scaling x scales the slope.
    #[test]
    fn line_follows_shift_and_scale(
        points in prop::collection::vec((-50.0..50.0_f64, -9.0..9.0_f64, 0.1..10.0_f64), 4..15),
        shift in -100.0..100.0_f64, scale in 0.01..100.0_f64,
    ) {
        let x: Vec<f64> = points.iter().map(|p| p.0).collect();
        prop_assume!(standard_deviation(&x).unwrap() > 0.1);
        let y: Vec<f64> = points.iter().map(|p| p.1).collect();
        let w: Vec<f64> = points.iter().map(|p| p.2).collect();
        let moved: Vec<f64> = y.iter().map(|y| shift + scale * y).collect();
        let wide: Vec<f64> = x.iter().map(|x| scale * x).collect();
        let plain = polynomial_least_squares(&x, &y, &[0, 1], Some(&w)).unwrap();
        let other = polynomial_least_squares(&x, &moved, &[0, 1], Some(&w)).unwrap();
        let slower = polynomial_least_squares(&wide, &y, &[0, 1], Some(&w)).unwrap();
        let size = 200.0 + scale * 1000.0;
        prop_assert!((other.coefficients[0] - shift - scale * plain.coefficients[0]).abs() < 1e-12 * size);
        prop_assert!((other.coefficients[1] - scale * plain.coefficients[1]).abs() < 1e-12 * size);
        prop_assert!((slower.coefficients[1] * scale - plain.coefficients[1]).abs() < 1e-11);
        prop_assert!(close(other.residual_sd, scale * plain.residual_sd, 1e-9) || plain.residual_sd < 1e-6);
        prop_assert!(close(plain.leverage.iter().sum(), 2.0, 1e-13));
    }

    /// The closed form of a line and the general solver, which takes the same columns in another order or by rows.
    #[test]
    fn line_in_closed_form_agrees_with_the_general_solver(
        points in prop::collection::vec((-9.0..9.0_f64, -9.0..9.0_f64, 0.01..100.0_f64), 4..20),
        offset in prop::sample::select(vec![0.0, 1e3, -1e9]),
        scale in prop::sample::select(vec![1.0, 1e-9, 1e12]),
        weighted in any::<bool>(),
    ) {
        let x: Vec<f64> = points.iter().map(|p| (p.0 + offset) * scale).collect();
        let y: Vec<f64> = points.iter().map(|p| p.1 * 1e-7).collect();
        let w: Vec<f64> = points.iter().map(|p| p.2).collect();
        let weights = weighted.then_some(w.as_slice());
        let rows: Vec<Vec<f64>> = x.iter().map(|&x| vec![x]).collect();
        let pairs = [
            (polynomial_least_squares(&x, &y, &[0, 1], weights), polynomial_least_squares(&x, &y, &[1, 0], weights), 1),
            (polynomial_least_squares(&x, &y, &[1], weights), least_squares(&rows, &y, weights), 0),
        ];
        for (line, general, last) in pairs {
            let (Ok(line), Ok(general)) = (line, general) else { return Ok(()) };
            prop_assert_eq!(line.total_about, general.total_about);
            prop_assert_eq!(line.degrees_of_freedom, general.degrees_of_freedom);
            let fields = [
                (line.coefficients, general.coefficients.iter().rev().copied().collect()),
                (line.standard_errors, general.standard_errors.iter().rev().copied().collect()),
                (line.unscaled_covariance[last].clone(), general.unscaled_covariance[0].iter().rev().copied().collect()),
                (line.unscaled_covariance[0].clone(), general.unscaled_covariance[last].iter().rev().copied().collect()),
                (line.fitted, general.fitted),
                (line.residuals, general.residuals),
                (line.leverage, general.leverage),
                (
                    vec![line.residual_sum_of_squares, line.total_sum_of_squares, line.residual_sd, line.r_squared],
                    vec![general.residual_sum_of_squares, general.total_sum_of_squares, general.residual_sd, general.r_squared],
                ),
            ];
            for (found, expected) in fields {
                prop_assert_eq!(found.len(), expected.len());
                for (found, expected) in found.iter().zip(&expected) {
                    prop_assert!(close(*found, *expected, 1e-14), "{found:e} {expected:e}");
                }
            }
        }
    }

    /// A power of two in y, x or the weights changes nothing but the exponents of the result.
    #[test]
    fn powers_of_two_pass_through_to_the_bit(points in prop::collection::vec((-9.0..9.0_f64, -9.0..9.0_f64, 0.1..9.0_f64), 4..9)) {
        let x: Vec<f64> = points.iter().map(|p| p.0).collect();
        prop_assume!(standard_deviation(&x).unwrap() > 0.1);
        let y: Vec<f64> = points.iter().map(|p| p.1).collect();
        let w: Vec<f64> = points.iter().map(|p| p.2).collect();
        let nano: Vec<f64> = y.iter().map(|y| y * 2.0_f64.recip()).collect();
        let heavy: Vec<f64> = w.iter().map(|w| w * 1024.0).collect();
        let plain = polynomial_least_squares(&x, &y, &[0, 1, 2], Some(&w));
        let other = polynomial_least_squares(&x, &nano, &[0, 1, 2], Some(&heavy));
        let (Ok(plain), Ok(other)) = (plain, other) else { return Ok(()) };
        for (a, b) in plain.coefficients.iter().zip(&other.coefficients) {
            prop_assert_eq!((a * 0.5).to_bits(), b.to_bits());
        }
        prop_assert_eq!((plain.residual_sd * 16.0).to_bits(), other.residual_sd.to_bits());
        prop_assert_eq!(plain.r_squared.to_bits(), other.r_squared.to_bits());
    }

    /// Integer weights are worth as much as repeated rows.
    #[test]
    fn weight_two_is_a_row_twice(points in prop::collection::vec((-9.0..9.0_f64, -9.0..9.0_f64), 4..9)) {
        let rows: Vec<Vec<f64>> = points.iter().map(|p| vec![1.0, p.0]).collect();
        let y: Vec<f64> = points.iter().map(|p| p.1).collect();
        let mut weights = vec![1.0; y.len()];
        weights[0] = 2.0;
        let (mut twice_rows, mut twice_y) = (rows.clone(), y.clone());
        twice_rows.push(rows[0].clone());
        twice_y.push(y[0]);
        let (Ok(a), Ok(b)) = (least_squares(&rows, &y, Some(&weights)), least_squares(&twice_rows, &twice_y, None))
        else { return Ok(()) };
        prop_assert!((a.coefficients[1] - b.coefficients[1]).abs() <= 1e-13 * a.coefficients[1].abs().max(1.0));
        prop_assert!(close(a.residual_sum_of_squares, b.residual_sum_of_squares, 1e-12) || a.residual_sum_of_squares < 1e-12);
        prop_assert!(close(a.total_sum_of_squares, b.total_sum_of_squares, 1e-13));
    }

    #[test]
    fn no_statistic_panics(values in prop::collection::vec(any_number(), 0..12), cut in 0_usize..12) {
        let (left, right) = values.split_at(cut.min(values.len()));
        let finite = values.iter().all(|v| v.is_finite());
        let mean = mean(&values);
        if !finite {
            prop_assert!(matches!(mean, Err(StatsError::NotFinite { .. })), "{mean:?}");
        }
        let accepted = [
            mean.is_ok(),
            standard_deviation(&values).is_ok(),
            lag_1_autocorrelation(&values).is_ok(),
            trend_with_order(&values).is_ok(),
            analysis_of_variance(&[left, right]).is_ok(),
            nested_analysis_of_variance(&[[left, right], [right, left]]).is_ok(),
            levene_test(&[left, right]).is_ok(),
            cochran_test(&[left, right], 0.05).is_ok(),
        ];
        prop_assert!(finite || !accepted.contains(&true), "{accepted:?}");
    }

    #[test]
    fn no_fit_panics_and_every_accepted_fit_is_finite(
        cells in prop::collection::vec((any_number(), any_number(), any_number()), 0..9),
        exponents in prop::collection::vec(0_u32..60, 0..4),
        weighted in any::<bool>(),
    ) {
        let x: Vec<f64> = cells.iter().map(|c| c.0).collect();
        let y: Vec<f64> = cells.iter().map(|c| c.1).collect();
        let w: Vec<f64> = cells.iter().map(|c| c.2).collect();
        let rows: Vec<Vec<f64>> = cells.iter().map(|c| vec![c.2, c.0]).collect();
        let weights = weighted.then_some(w.as_slice());
        for fit in [polynomial_least_squares(&x, &y, &exponents, weights), least_squares(&rows, &y, weights)] {
            let Ok(fit) = fit else { continue };
            let numbers = fit.coefficients.iter().chain(&fit.standard_errors).chain(&fit.residuals).chain(&fit.leverage);
            prop_assert!(numbers.chain(&[fit.residual_sd, fit.r_squared]).all(|v| v.is_finite()), "{fit:?}");
        }
    }

    #[test]
    fn no_distribution_panics_or_leaves_the_unit_interval(a in any_number(), b in any_number(), c in any_number()) {
        let probabilities = [
            d::normal_cdf(a), d::student_t_cdf(a, b), d::student_t_sf(a, b), d::f_cdf(a, b, c), d::f_sf(a, b, c),
            d::chi_squared_cdf(a, b), d::chi_squared_sf(a, b), d::incomplete_beta(a, b, c), d::incomplete_gamma(a, b),
        ];
        for (k, p) in probabilities.iter().enumerate() {
            prop_assert!(p.is_nan() || (0.0..=1.0).contains(p), "{k}: {p}");
        }
        for p in [a, 0.5, 0.01] {
            let _quantiles =
                [d::normal_quantile(p), d::student_t_quantile(p, b), d::chi_squared_quantile(p, b), d::f_quantile(p, b, c)];
        }
        let _log = d::ln_gamma(a);
    }
}

#[test]
fn faults_are_named_with_their_place() {
    let rows = |xs: &[f64]| -> Vec<Vec<f64>> { xs.iter().map(|&x| vec![1.0, x, 3.0 * x + 0.1]).collect() };
    let dependent = least_squares(&rows(&[0.1, 0.7, 1.3, 2.9, 3.3]), &[1.0; 5], None);
    assert!(matches!(dependent, Err(StatsError::RankDeficient { column: 2, .. })), "{dependent:?}");
    let upright = polynomial_least_squares(&[0.1; 5], &[1.0; 5], &[0, 1], None);
    assert!(matches!(upright, Err(StatsError::RankDeficient { column: 1, .. })), "{upright:?}");
    let at_zero = polynomial_least_squares(&[0.0, -0.0, 0.0], &[1.0; 3], &[1], None);
    assert_eq!(at_zero, Err(StatsError::RankDeficient { column: 0, independent_part: 0.0 }));
    let not_finite = polynomial_least_squares(&[1.0, 2.0, 3.0], &[1.0, f64::NAN, 2.0], &[1], None);
    assert!(matches!(not_finite, Err(StatsError::NotFinite { what: "y", row: 1, .. })), "{not_finite:?}");
    let few = polynomial_least_squares(&[1.0, 2.0], &[1.0, 2.0], &[0, 1], None);
    assert_eq!(few, Err(StatsError::TooFewRows { found: 2, needed: 3 }));
    let weight = polynomial_least_squares(&[1.0, 2.0], &[1.0, 2.0], &[1], Some(&[1.0, 0.0]));
    assert_eq!(weight, Err(StatsError::WeightNotPositive { row: 1, weight: 0.0 }));
}

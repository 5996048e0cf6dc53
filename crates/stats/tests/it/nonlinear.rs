//! Nonlinear least squares: certified sets from both starts, laws, refusals.

use proptest::prelude::*;
use stillwell_stats::random::RandomStream;
use stillwell_stats::{
    NonlinearFit, NonlinearModel, StatsError, nonlinear_least_squares, polynomial_least_squares,
};
use toml_edit::Table;

use crate::checks::{declared_digits, digits, load, number, numbers, tables, text};
use crate::nonlinear_models::{Reference, value};

struct Set {
    name: String,
    model: Reference,
    y: Vec<f64>,
    starts: [Vec<f64>; 2],
}

impl Set {
    fn of(table: &Table) -> Self {
        let name = text(table, "name").to_owned();
        let mut y = numbers(table, "y");
        let x = if name == "Nelson" {
            y = y.into_iter().map(libm::log).collect();
            numbers(table, "x1").into_iter().zip(numbers(table, "x2")).map(|(a, b)| vec![a, b]).collect()
        } else {
            numbers(table, "x").into_iter().map(|x| vec![x]).collect()
        };
        let starts = ["start_1", "start_2"].map(|key| numbers(table, key));
        Self { model: Reference { name: name.clone(), x }, name, y, starts }
    }

    fn fit(&self, is_exact: bool, start: &[f64]) -> Result<NonlinearFit, StatsError> {
        if is_exact {
            return nonlinear_least_squares(&self.model, &self.y, None, start);
        }
        let plain = |row: usize, p: &[f64]| value(&self.name, &self.model.x[row], p);
        nonlinear_least_squares(&plain, &self.y, None, start)
    }
}

fn worst(found: &[f64], certified: &[f64]) -> f64 {
    assert_eq!(found.len(), certified.len());
    found.iter().zip(certified).map(|(&f, &c)| digits(f, c)).fold(16.0, f64::min)
}

/// One line of the table; what falls short comes back.
fn line(table: &Table, which: &str, fit: Result<NonlinearFit, StatsError>) -> Vec<String> {
    let name = text(table, "name");
    let fit = match fit {
        Ok(fit) => fit,
        Err(error) => return vec![format!("{name} {which}: {error}")],
    };
    let reached = [
        ("parameters", worst(&fit.parameters, &numbers(table, "parameters"))),
        ("standard_errors", worst(&fit.standard_errors, &numbers(table, "standard_errors"))),
        ("residual_sd", digits(fit.residual_sd, number(table, "residual_sd"))),
    ];
    let [p, s, r] = reached.map(|(_, digits)| digits);
    println!(
        "{name:9} {which:12} {:5} {:8.0e} {p:11.1} {s:16.1} {r:12.1}",
        fit.iterations, fit.relative_offset
    );
    let short = reached.iter().filter(|(kind, reached)| *reached < declared_digits(table, kind));
    short.map(|(kind, reached)| format!("{name} {which} {kind}: {reached:.1} digits")).collect()
}

#[test]
fn nist_strd_nonlinear_sets_reach_their_declared_digits_from_both_starts() {
    let document = load("nist_nonlinear.toml");
    let mut misses = Vec::new();
    println!("set       derivatives  steps   offset  parameters  standard errors  residual sd");
    for table in tables(&document, "set") {
        let set = Set::of(table);
        let [first, second] = &set.starts;
        misses.extend(line(table, "exact 1", set.fit(true, first)));
        misses.extend(line(table, "exact 2", set.fit(true, second)));
        misses.extend(line(table, "numerical 1", set.fit(false, first)));
        misses.extend(line(table, "numerical 2", set.fit(false, second)));
    }
    assert!(misses.is_empty(), "{misses:#?}");
}

fn decay(times: &[f64]) -> impl Fn(usize, &[f64]) -> f64 {
    |row, p| p[0] * libm::exp(-p[1] * times[row])
}

/// A decay with scatter of one in a hundred of its height.
fn decayed(times: &[f64], truth: [f64; 2], stream: u64) -> Vec<f64> {
    let mut random = RandomStream::new(20_261_125, stream);
    (0..times.len()).map(|row| decay(times)(row, &truth) + 0.01 * truth[0] * random.normal()).collect()
}

const TIMES: [f64; 8] = [0.0, 0.4, 0.9, 1.5, 2.2, 3.0, 4.1, 6.0];

fn close(found: &[f64], expected: &[f64], relative: f64) -> bool {
    found.iter().zip(expected).all(|(f, e)| (f - e).abs() <= relative * e.abs())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Minutes or milliseconds, volts or nanovolts: the digits are the same, the powers of ten follow.
    #[test]
    fn units_do_not_matter(stream in 0_u64..1000, y_exponent in -12_i32..12, t_exponent in -12_i32..12) {
        let (y_unit, t_unit) = (libm::pow(10.0, f64::from(y_exponent)), libm::pow(10.0, f64::from(t_exponent)));
        let y = decayed(&TIMES, [2.0, 0.5], stream);
        let plain = nonlinear_least_squares(&decay(&TIMES), &y, None, &[1.0, 1.0]).unwrap();
        let times = TIMES.map(|t| t * t_unit);
        let scaled_y: Vec<f64> = y.iter().map(|y| y * y_unit).collect();
        let scaled =
            nonlinear_least_squares(&decay(&times), &scaled_y, None, &[y_unit, 1.0 / t_unit]).unwrap();
        let units = [y_unit, 1.0 / t_unit];
        let expected = |v: &[f64]| -> Vec<f64> { v.iter().zip(units).map(|(v, u)| v * u).collect() };
        prop_assert!(close(&scaled.parameters, &expected(&plain.parameters), 1e-11));
        prop_assert!(close(&scaled.standard_errors, &expected(&plain.standard_errors), 1e-10));
        prop_assert!(close(&[scaled.residual_sd], &[plain.residual_sd * y_unit], 1e-11));
        let variance = scaled.residual_sd * scaled.residual_sd * scaled.unscaled_covariance[1][1];
        prop_assert!(close(&[variance.sqrt()], &[scaled.standard_errors[1]], 1e-13));
    }

    #[test]
    fn order_of_rows_does_not_matter(stream in 0_u64..1000, turn in 1_usize..8) {
        let y = decayed(&TIMES, [2.0, 0.5], stream);
        let plain = nonlinear_least_squares(&decay(&TIMES), &y, None, &[1.0, 1.0]).unwrap();
        let (mut times, mut turned) = (TIMES, y.clone());
        times.rotate_left(turn);
        turned.rotate_left(turn);
        let other = nonlinear_least_squares(&decay(&times), &turned, None, &[1.0, 1.0]).unwrap();
        prop_assert!(close(&other.parameters, &plain.parameters, 1e-11));
        prop_assert!(close(&other.standard_errors, &plain.standard_errors, 1e-10));
    }

    /// Weights are relative, and a weight of two is the row twice.
    #[test]
    fn weights_count_rows(stream in 0_u64..1000, factor in 1e-9..1e9_f64) {
        let y = decayed(&TIMES, [2.0, 0.5], stream);
        let weights: Vec<f64> = (0..TIMES.len()).map(|row| if row < 4 { 2.0 } else { 1.0 }).collect();
        let weighted = nonlinear_least_squares(&decay(&TIMES), &y, Some(&weights), &[1.0, 1.0]).unwrap();
        let times: Vec<f64> = TIMES.iter().chain(&TIMES[..4]).copied().collect();
        let repeated: Vec<f64> = y.iter().chain(&y[..4]).copied().collect();
        let doubled = nonlinear_least_squares(&decay(&times), &repeated, None, &[1.0, 1.0]).unwrap();
        prop_assert!(close(&weighted.parameters, &doubled.parameters, 1e-11));
        prop_assert!(close(&weighted.unscaled_covariance.concat(), &doubled.unscaled_covariance.concat(), 1e-9));
        let scaled: Vec<f64> = weights.iter().map(|w| w * factor).collect();
        let scaled = nonlinear_least_squares(&decay(&TIMES), &y, Some(&scaled), &[1.0, 1.0]).unwrap();
        prop_assert!(close(&scaled.parameters, &weighted.parameters, 1e-11));
        prop_assert!(close(&scaled.standard_errors, &weighted.standard_errors, 1e-10));
    }

    /// A model that is linear in its parameters has the linear solver's answer.
    #[test]
    fn linear_models_agree_with_the_linear_solver(stream in 0_u64..1000) {
        let y = decayed(&TIMES, [2.0, 0.5], stream);
        let straight = |row: usize, p: &[f64]| p[0] + p[1] * TIMES[row];
        let searched = nonlinear_least_squares(&straight, &y, None, &[1.0, 1.0]).unwrap();
        let solved = polynomial_least_squares(&TIMES, &y, &[0, 1], None).unwrap();
        prop_assert!(close(&searched.parameters, &solved.coefficients, 1e-12));
        prop_assert!(close(&searched.standard_errors, &solved.standard_errors, 1e-11));
        prop_assert!(close(&searched.unscaled_covariance.concat(), &solved.unscaled_covariance.concat(), 1e-11));
    }

    /// Whatever comes in, an answer or a typed refusal comes out.
    #[test]
    fn nonsense_is_refused(
        y in prop::collection::vec(crate::properties::any_number(), 0..9),
        start in prop::collection::vec(crate::properties::any_number(), 0..4),
    ) {
        let model = |row: usize, p: &[f64]| p.iter().map(|p| libm::exp(p * row as f64)).sum::<f64>();
        if let Ok(fit) = nonlinear_least_squares(&model, &y, None, &start) {
            prop_assert!(fit.parameters.iter().chain(&fit.standard_errors).all(|v| v.is_finite()));
        }
    }
}

#[test]
fn data_without_scatter_give_the_truth() {
    let truth = [3.0, 0.7];
    let y: Vec<f64> = (0..TIMES.len()).map(|row| decay(&TIMES)(row, &truth)).collect();
    let fit = nonlinear_least_squares(&decay(&TIMES), &y, None, &[1.0, 1.0]).unwrap();
    assert!(close(&fit.parameters, &truth, 1e-14), "{fit:?}");
}

/// `1 + t/p²` with its derivative.
struct Vanishing;

impl NonlinearModel for Vanishing {
    fn value(&self, row: usize, p: &[f64]) -> f64 {
        1.0 + TIMES[row] / (p[0] * p[0])
    }

    fn gradient(&self, row: usize, p: &[f64]) -> Option<Vec<f64>> {
        Some(vec![-2.0 * TIMES[row] / (p[0] * p[0] * p[0])])
    }
}

#[test]
fn each_refusal_says_what_was_found() {
    let y = decayed(&TIMES, [2.0, 0.5], 1);
    let refusal = |model: &dyn NonlinearModel, start: &[f64]| {
        nonlinear_least_squares(model, &y, None, start).unwrap_err()
    };
    let too_many = refusal(&|_: usize, p: &[f64]| p.iter().sum::<f64>(), &[1.0; 8]);
    assert_eq!(too_many, StatsError::TooFewRows { found: 8, needed: 9 });
    assert_eq!(refusal(&decay(&TIMES), &[]), StatsError::NoColumns);
    let redundant = refusal(&|row: usize, p: &[f64]| p[0] * p[1] * TIMES[row], &[1.0, 1.0]);
    assert!(matches!(redundant, StatsError::SingularJacobian { .. }), "{redundant:?}");
    let nearly = |row: usize, p: &[f64]| p[0] * TIMES[row] + p[1] * TIMES[row] * (1.0 + 1e-11 * TIMES[row]);
    let nearly = refusal(&nearly, &[1.0, 1.0]);
    assert!(
        matches!(nearly, StatsError::SingularJacobian { independent_part, .. } if independent_part > 0.0)
    );
    let idle = refusal(&|row: usize, p: &[f64]| p[0] * TIMES[row] + 0.0 * p[1], &[1.0, 1.0]);
    assert!(matches!(idle, StatsError::SingularJacobian { parameter: 1, .. }), "{idle:?}");
    let outside = refusal(&|row: usize, p: &[f64]| libm::log(p[0] - TIMES[row]), &[2.0]);
    assert!(matches!(outside, StatsError::ModelNotFinite { row: 4, .. }), "{outside:?}");
    let edge = refusal(
        &|row: usize, p: &[f64]| if (p[0] - 1.0).abs() < 1e-15 { TIMES[row] } else { f64::NAN },
        &[1.0],
    );
    assert!(matches!(edge, StatsError::GradientNotFinite { row: 0, parameter: 0, .. }), "{edge:?}");
    // Both run to where they do nothing.
    let rising = refusal(&|row: usize, p: &[f64]| 9.0 + TIMES[row] * libm::exp(-p[0]), &[1.0]);
    assert!(matches!(rising, StatsError::NotConverged { .. }), "{rising:?}");
    let vanished = nonlinear_least_squares(&Vanishing, &[1.0; 8], None, &[1.0]).unwrap_err();
    assert!(matches!(vanished, StatsError::ParameterWithoutEffect { parameter: 0, .. }), "{vanished:?}");
    // A corner instead of a bottom.
    let corner = refusal(&|row: usize, p: &[f64]| TIMES[row] + y[row] + 1.0 + (p[0] - 0.3).abs(), &[1.0]);
    assert!(matches!(corner, StatsError::NotConverged { .. }), "{corner:?}");
}

/// Recomputed here: pins our own bits, so that another processor, compiler or `libm` cannot move them unseen.
#[test]
fn bits_stay_what_they_are() {
    let document = load("nist_nonlinear.toml");
    let set =
        tables(&document, "set").iter().find(|set| text(set, "name") == "Thurber").map(Set::of).unwrap();
    let found = [true, false].map(|is_exact| set.fit(is_exact, &set.starts[0]).unwrap());
    let bits = found.map(|fit| [fit.parameters[6].to_bits(), fit.standard_errors[6].to_bits()]);
    let pinned = [[4587327279845727375, 4574241127656653289], [4587327279845715418, 4574241127656691782]];
    assert_eq!(bits, pinned);
}

//! Trends: published examples, exact probabilities, and invariance.

use proptest::prelude::*;
use stillwell_stats::trend::{mann_kendall, seasonal_kendall, seasonal_slope, theil_sen};
use stillwell_stats::{StatsError, lag_1_autocorrelation};

use crate::cases::{Case, case};
use crate::checks::{load, number, numbers};

fn positions(n: usize) -> Vec<f64> {
    (0..n).map(|i| i as f64).collect()
}

#[test]
fn usepa_sulfate_example_17_6() {
    let document = load("trends.toml");
    let mut case = case(&document, "epa_sulfate_17_6");
    let (t, y) = (numbers(case.table, "t"), numbers(case.table, "y"));
    let (test, line) = (mann_kendall(&t, &y).unwrap(), theil_sen(&t, &y, 0.95).unwrap());
    case.meets("S", test.score as f64);
    case.meets("var_S", test.variance);
    case.meets("tau_a", test.tau);
    case.meets("z", test.z);
    case.meets("p_two_sided", test.p_value);
    case.meets("slope", line.slope);
    case.meets("intercept_conover", line.intercept);
    case.meets("slope_lower_95", line.low.unwrap());
    case.meets("slope_upper_95", line.high.unwrap());
    case.finish();
    assert_eq!(test.exact_p_value, None, "values tie");
}

/// Years and months of a monthly series, gaps left out.
fn monthly(y: &[f64], first_year: f64) -> (Vec<f64>, Vec<f64>, Vec<u32>) {
    let (mut years, mut values, mut months) = (Vec::new(), Vec::new(), Vec::new());
    for (at, value) in y.iter().enumerate().filter(|(_, v)| v.is_finite()) {
        years.push(first_year + (at / 12) as f64);
        values.push(*value);
        months.push(u32::try_from(at % 12).unwrap());
    }
    (years, values, months)
}

#[test]
fn usepa_seasonal_example_14_10() {
    let document = load("trends.toml");
    let mut case = case(&document, "epa_seasonal_14_10");
    let (years, values, months) = monthly(&numbers(case.table, "y"), number(case.table, "first_year"));
    let test = seasonal_kendall(&years, &values, &months).unwrap();
    let line = seasonal_slope(&years, &values, &months, 0.95).unwrap();
    case.meets("S", test.score as f64);
    case.meets("var_S", test.variance);
    case.meets("z", test.z);
    case.meets("p_two_sided", test.p_value);
    case.meets("tau_mean", test.mean_tau);
    case.meets("slope_per_year", line.slope);
    case.meets("intercept", line.intercept);
    case.meets("slope_lower_95", line.low.unwrap());
    case.meets("slope_upper_95", line.high.unwrap());
    case.meets("chi2_heterogeneity", test.seasons_chi_squared);
    case.finish();
}

#[test]
fn guelph_phosphorus_with_gaps() {
    let document = load("trends.toml");
    let mut case = case(&document, "guelph_phosphorus");
    let (years, values, months) = monthly(&numbers(case.table, "p_mg_per_l"), 1972.0);
    let test = seasonal_kendall(&years, &values, &months).unwrap();
    case.meets("S", test.score as f64);
    case.meets("var_S", test.variance);
    case.meets("z", test.z);
    case.meets("p", test.p_value);
    case.meets("seasonal_slope_per_year", seasonal_slope(&years, &values, &months, 0.95).unwrap().slope);
    case.finish();
}

fn meets_score(case: &mut Case<'_>, x: &str, y: &str) {
    let (x, y) = (numbers(case.table, x), numbers(case.table, y));
    case.meets("S", mann_kendall(&x, &y).unwrap().score as f64);
}

#[test]
fn kendall_examples_with_ties_in_both() {
    let document = load("trends.toml");
    let mut first = case(&document, "kendall_3_4");
    meets_score(&mut first, "a", "b");
    first.finish();
    let mut second = case(&document, "kendall_4_3");
    meets_score(&mut second, "x", "y");
    let (x, y) = (numbers(second.table, "x"), numbers(second.table, "y"));
    second.meets("var_S", mann_kendall(&x, &y).unwrap().variance);
    second.finish();
}

#[test]
fn small_samples_have_exact_probabilities() {
    let document = load("trends.toml");
    let mut helsel = case(&document, "helsel_hirsch_tau");
    let found = mann_kendall(&numbers(helsel.table, "x"), &numbers(helsel.table, "y")).unwrap();
    helsel.meets("S", found.score as f64);
    helsel.meets("tau", found.tau);
    helsel.meets("z", found.z);
    helsel.meets("p_normal", found.p_value);
    helsel.meets("p_exact", found.exact_p_value.unwrap());
    helsel.finish();
    let mut tuna = case(&document, "hollander_wolfe_tuna");
    let found = mann_kendall(&numbers(tuna.table, "x"), &numbers(tuna.table, "y")).unwrap();
    tuna.meets("S", found.score as f64);
    tuna.meets("tau", found.tau);
    tuna.meets("p_exact", found.exact_p_value.unwrap());
    tuna.finish();
}

#[test]
fn great_lakes_precipitation() {
    let document = load("trends.toml");
    let mut case = case(&document, "great_lakes_precipitation");
    let y = numbers(case.table, "y_inches");
    let (test, line) =
        (mann_kendall(&positions(87), &y).unwrap(), theil_sen(&positions(87), &y, 0.95).unwrap());
    case.meets("S", test.score as f64);
    case.meets("var_S", test.variance);
    case.meets("z", test.z);
    case.meets("p", test.p_value);
    case.meets("tau", test.tau);
    case.meets("slope", line.slope);
    case.meets("intercept", line.intercept);
    case.meets("lag1_autocorrelation", lag_1_autocorrelation(&y).unwrap());
    case.finish();
}

#[test]
fn theil_sen_shrugs_off_a_gross_outlier() {
    let document = load("trends.toml");
    let mut case = case(&document, "theil_sen_outlier");
    let found = theil_sen(&numbers(case.table, "x"), &numbers(case.table, "y"), 0.95).unwrap();
    case.meets("slope", found.slope);
    case.meets("intercept", found.intercept);
    assert!(found.low.unwrap() > 0.9 && found.high.unwrap() < 1.1);
    case.finish();
}

#[test]
fn what_has_no_trend_to_test_is_refused() {
    let t = positions(4);
    assert!(matches!(mann_kendall(&t, &[2.0; 4]), Err(StatsError::NoVariation { .. })));
    assert!(matches!(mann_kendall(&[1.0; 4], &t), Err(StatsError::NoVariation { .. })));
    assert!(matches!(mann_kendall(&t[..2], &t[..2]), Err(StatsError::TooFewValues { .. })));
    assert!(matches!(mann_kendall(&t, &t[..3]), Err(StatsError::LengthMismatch { .. })));
    assert!(matches!(
        theil_sen(&t, &[1.0, 2.0, f64::NAN, 3.0], 0.9),
        Err(StatsError::NotFinite { row: 2, .. })
    ));
    assert!(matches!(theil_sen(&[1.0; 4], &t, 0.9), Err(StatsError::NoVariation { .. })));
    assert!(matches!(seasonal_kendall(&t, &t, &[1, 2, 3, 4]), Err(StatsError::NoVariation { .. })));
    let few = theil_sen(&t[..3], &[1.0, 5.0, 2.0], 0.95).unwrap();
    assert_eq!((few.low, few.high), (None, None), "three points bound no slope");
}

proptest! {
    /// Ranks know no unit; turning time round turns the sign.
    #[test]
    fn kendall_knows_no_scale(values in prop::collection::vec(0.1..9.0_f64, 4..40)) {
        let t = positions(values.len());
        let logarithms: Vec<f64> = values.iter().map(|v| libm::log(*v)).collect();
        let back: Vec<f64> = t.iter().map(|t| -t).collect();
        let plain = mann_kendall(&t, &values).unwrap();
        let turned = mann_kendall(&back, &values).unwrap();
        prop_assert_eq!(mann_kendall(&t, &logarithms).unwrap(), plain);
        prop_assert_eq!((turned.score, turned.p_value), (-plain.score, plain.p_value));
        let exact = plain.exact_p_value.unwrap();
        prop_assert!(exact > 0.0 && exact <= 1.0 && (exact - plain.p_value).abs() < 0.17, "{exact} {}", plain.p_value);
    }

    #[test]
    fn slopes_follow_shift_and_scale(values in prop::collection::vec(-9.0..9.0_f64, 5..25), tilt in -3.0..3.0_f64) {
        let t = positions(values.len());
        let tilted: Vec<f64> = t.iter().zip(&values).map(|(t, v)| 4.0 + tilt * t + 2.0 * v).collect();
        let (plain, other) = (theil_sen(&t, &values, 0.9).unwrap(), theil_sen(&t, &tilted, 0.9).unwrap());
        prop_assert!((other.slope - tilt - 2.0 * plain.slope).abs() < 1e-12);
        prop_assert!(plain.low.unwrap_or(plain.slope) <= plain.slope && plain.high.unwrap_or(plain.slope) >= plain.slope);
    }

    #[test]
    fn no_panic_on_any_series(
        rows in prop::collection::vec((crate::properties::any_number(), crate::properties::any_number(), 0_u32..4), 0..12),
    ) {
        let t: Vec<f64> = rows.iter().map(|r| r.0).collect();
        let y: Vec<f64> = rows.iter().map(|r| r.1).collect();
        let s: Vec<u32> = rows.iter().map(|r| r.2).collect();
        let mut results = Vec::new();
        results.extend(mann_kendall(&t, &y).map(|found| found.p_value));
        results.extend(theil_sen(&t, &y, 0.9).map(|line| [line.slope, line.intercept]).into_iter().flatten());
        results.extend(seasonal_kendall(&t, &y, &s).map(|found| found.p_value + found.p_seasons_alike));
        results.extend(seasonal_slope(&t, &y, &s, 0.9).map(|line| [line.slope, line.intercept]).into_iter().flatten());
        prop_assert!(results.is_empty() || t.iter().chain(&y).all(|v| v.is_finite()), "{results:?}");
        prop_assert!(results.iter().all(|v| v.is_finite()), "{results:?}");
    }
}

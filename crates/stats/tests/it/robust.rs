//! Robust centre and spread: published and recomputed values, and how little a wild value moves them.

use proptest::prelude::*;
use stillwell_stats::robust::{
    ALGORITHM_A_FACTOR, MAD_FACTOR, algorithm_a, algorithm_s, algorithm_s_factors, hodges_lehmann, median,
    median_and_spread,
};
use stillwell_stats::{StatsError, distributions as d, mean, standard_deviation};

use crate::cases::case;
use crate::checks::{load, numbers};

#[test]
fn algorithm_a_matches_creosote_copper_and_brief_6() {
    let document = load("robust.toml");
    let mut creosote = case(&document, "algorithm_a_creosote");
    let found = algorithm_a(&numbers(creosote.table, "x")).unwrap();
    creosote.meets("x_star", found.mean);
    creosote.meets("s_star", found.sd);
    creosote.finish();

    let mut copper = case(&document, "algorithm_a_copper");
    let x = numbers(copper.table, "x_ppm");
    let found = algorithm_a(&x).unwrap();
    copper.meets("x_star", found.mean);
    copper.meets("s_star", found.sd);
    copper.meets("mean", mean(&x).unwrap());
    copper.meets("sd", standard_deviation(&x).unwrap());
    copper.meets("median", median(&x).unwrap());
    copper.meets("mad_scaled", median_and_spread(&x).unwrap().robust_sd);
    copper.finish();

    let mut brief = case(&document, "amc_tb6");
    let x = numbers(brief.table, "x");
    let found = algorithm_a(&x).unwrap();
    brief.meets("h15_mean", found.mean);
    brief.meets("h15_sd", found.sd);
    brief.meets("mean", mean(&x).unwrap());
    brief.meets("sd", standard_deviation(&x).unwrap());
    brief.meets("median", median(&x).unwrap());
    brief.meets("mad_scaled", median_and_spread(&x).unwrap().robust_sd);
    brief.finish();
}

#[test]
fn algorithm_s_matches_its_table_and_creosote() {
    let document = load("robust.toml");
    let mut factors = case(&document, "algorithm_s_factors");
    for nu in 1..=10 {
        let found = algorithm_s_factors(nu).unwrap();
        factors.meets(&format!("eta_{nu}"), found.limit);
        factors.meets(&format!("xi_{nu}"), found.adjustment);
    }
    factors.finish();
    let mut creosote = case(&document, "algorithm_s_creosote");
    let found = algorithm_s(&numbers(creosote.table, "ranges"), 1).unwrap();
    creosote.meets("w_star", found.spread);
    creosote.meets("s_r_star", found.spread / 2.0_f64.sqrt());
    creosote.finish();
}

#[test]
fn factors_follow_from_their_definition() {
    let document = load("robust.toml");
    let mut factors = case(&document, "robust_factors");
    factors.meets("mad_factor", MAD_FACTOR);
    factors.meets("algorithm_a_factor", ALGORITHM_A_FACTOR);
    factors.finish();
    assert!((MAD_FACTOR * d::normal_quantile(0.75) - 1.0).abs() < 1e-15);
    // E[min(z², 2.25)]: the mean square of a standard normal drawn in to ±1.5.
    let drawn_in = d::chi_squared_cdf(2.25, 3.0) + 2.25 * d::chi_squared_sf(2.25, 1.0);
    assert!((ALGORITHM_A_FACTOR * libm::sqrt(drawn_in) - 1.0).abs() < 1e-14);
}

#[test]
fn hodges_lehmann_matches_mayfly_differences() {
    let document = load("compliance_statistics.toml");
    let table = case(&document, "mayfly_pairs").table;
    let (above, below) = (numbers(table, "above"), numbers(table, "below"));
    let differences: Vec<f64> = above.iter().zip(&below).map(|(a, b)| a - b).collect();
    assert!((hodges_lehmann(&differences).unwrap() - 33.5).abs() < 1e-12);
}

#[test]
fn no_spread_to_start_from_is_refused() {
    assert!(matches!(algorithm_a(&[1.0, 1.0, 1.0, 9.0]), Err(StatsError::NoVariation { .. })));
    assert!(matches!(algorithm_s(&[0.0, 0.0, 0.0, 9.0], 1), Err(StatsError::NoVariation { .. })));
    assert!(matches!(algorithm_s(&[0.1, -0.2, 0.3], 1), Err(StatsError::Negative { row: 1, .. })));
    assert!(matches!(algorithm_a(&[1.0, 2.0]), Err(StatsError::TooFewValues { .. })));
    assert!(matches!(median(&[1.0, f64::NAN]), Err(StatsError::NotFinite { row: 1, .. })));
    assert!(matches!(hodges_lehmann(&vec![0.0; 5001]), Err(StatsError::TooManyValues { .. })));
}

proptest! {
    /// Moving the farthest value further out changes nothing once it is drawn in.
    #[test]
    fn a_wild_value_stops_counting(values in prop::collection::vec(9.0..11.0_f64, 8..20), wild in 1e3..1e9_f64) {
        let with = |last: f64| {
            let mut all = values.clone();
            all.push(last);
            all
        };
        let (near, far) = (algorithm_a(&with(1e3)), algorithm_a(&with(wild)));
        prop_assume!(near.is_ok());
        let (near, far) = (near.unwrap(), far.unwrap());
        prop_assert!((near.mean - far.mean).abs() < 1e-9 && (near.sd - far.sd).abs() < 1e-9);
        prop_assert!(near.n_drawn_in >= 1 && far.mean < 13.0);
        prop_assert!((median(&with(1e3)).unwrap() - median(&with(wild)).unwrap()).abs() <= 0.0);
    }

    #[test]
    fn no_panic_on_any_numbers(values in prop::collection::vec(crate::properties::any_number(), 0..12), nu in 0_usize..5) {
        let mut results = Vec::new();
        results.extend(algorithm_a(&values).map(|found| [found.mean, found.sd]).into_iter().flatten());
        results.extend(algorithm_s(&values, nu).map(|found| found.spread));
        results.extend(hodges_lehmann(&values));
        results.extend(median_and_spread(&values).map(|found| found.median));
        prop_assert!(results.is_empty() || values.iter().all(|v| v.is_finite()), "{results:?}");
        prop_assert!(results.iter().all(|v| v.is_finite()), "{results:?}");
    }
}

//! Values below limits, and limits drawn around values: USEPA examples, laws, refusals.

use proptest::prelude::*;
use stillwell_stats::censored::Observation::{Above, Below, Found};
use stillwell_stats::censored::{Observation, Shape, kaplan_meier, likelihood_fit, order_regression};
use stillwell_stats::limits::{
    order_statistic_lower, order_statistic_upper, percentile_limits, prediction_limits, tolerance_factor,
};
use stillwell_stats::{StatsError, mean, robust::median, standard_deviation};
use toml_edit::Table;

use crate::cases::case;
use crate::checks::{load, numbers};

fn observations(table: &Table, values: &str) -> Vec<Observation> {
    let marks = table["nondetect"].as_array().unwrap();
    let pairs = numbers(table, values).into_iter().zip(marks.iter().map(|m| m.as_bool().unwrap()));
    pairs.map(|(value, is_below)| if is_below { Below(value) } else { Found(value) }).collect()
}

#[test]
fn usepa_nitrate_example_21_6() {
    let document = load("compliance_statistics.toml");
    let mut case = case(&document, "nitrate_21_6");
    let nitrate = observations(case.table, "nitrate_mg_per_l");
    let found = order_statistic_lower(&nitrate, 0.95, 0.95).unwrap();
    assert_eq!((found.bound, found.rank), (Found(11.0), 10));
    case.meets("confidence_rank10_percent", 100.0 * found.confidence);
    case.meets("lcl_rank10", found.bound.number());
    // The confidence of each rank, one by one: what a slightly higher demand would no longer accept.
    let listed = case.table["expect"].as_array().unwrap().iter().find_map(|entry| {
        let entry = entry.as_inline_table().unwrap();
        (entry["name"].as_str() == Some("confidence_by_rank")).then(|| entry["value"].as_array().unwrap())
    });
    for (at, expected) in listed.unwrap().iter().enumerate().skip(3) {
        let expected = expected.as_float().unwrap();
        let found = order_statistic_lower(&nitrate, 0.95, expected - 1e-9).unwrap();
        assert_eq!(found.rank, at + 1);
        assert!((found.confidence - expected).abs() < 1e-13);
    }
    case.finish_but(&["confidence_by_rank"]);
}

#[test]
fn usepa_aldicarb_example_21_4() {
    let document = load("compliance_statistics.toml");
    let mut case = case(&document, "aldicarb_21_4");
    for well in 1..=3 {
        let limits = percentile_limits(&numbers(case.table, &format!("well{well}")), 0.95, 0.99).unwrap();
        case.meets(&format!("lcl_99_p95_well{well}"), limits.lower);
        if well == 1 {
            case.meets("p95_well1", limits.percentile);
            case.meets("lcl_well1_6_digits", limits.lower);
        }
    }
    case.finish();
}

#[test]
fn usepa_arsenic_example_18_1() {
    let document = load("compliance_statistics.toml");
    let mut case = case(&document, "arsenic_18_1");
    let background = numbers(case.table, "background");
    case.meets("mean", mean(&background).unwrap());
    case.meets("sd", standard_deviation(&background).unwrap());
    case.meets("upl", prediction_limits(&background, 4, 1, 0.95).unwrap().upper);
    case.finish();
}

#[test]
fn usepa_manganese_example_15_1() {
    let document = load("compliance_statistics.toml");
    let mut case = case(&document, "manganese_15_1");
    let manganese = observations(case.table, "manganese_ppb");
    let fit = likelihood_fit(&manganese, Shape::LogNormal).unwrap();
    case.meets("mle_mean", fit.mean);
    case.meets("mle_sd", fit.sd);
    let logarithms: Vec<Observation> = manganese
        .iter()
        .map(|o| match *o {
            Below(limit) => Below(libm::log(limit)),
            other => Found(libm::log(other.number())),
        })
        .collect();
    let blom = order_regression(&logarithms, Shape::Normal, 0.375).unwrap();
    case.meets("ros_mean", blom.line_mean);
    case.meets("ros_sd", blom.line_sd);
    case.meets("robust_ros_mean", blom.mean);
    case.meets("robust_ros_sd", blom.sd);
    let weibull = order_regression(&logarithms, Shape::Normal, 0.0).unwrap();
    case.meets("robust_ros_a0_mean", weibull.mean);
    case.meets("robust_ros_a0_sd", weibull.sd);
    case.finish();
    let same = order_regression(&manganese, Shape::LogNormal, 0.375).unwrap();
    assert!((same.line_mean - blom.line_mean).abs() < 1e-12);
    assert!((same.filled[0] - libm::exp(blom.filled[0])).abs() < 1e-12 && same.filled.len() == 6);
}

/// A value found at the limit itself lies above it: plotting positions counted by hand.
#[test]
fn order_regression_counts_by_hand() {
    let found =
        order_regression(&[Found(5.0), Below(5.0), Found(8.0), Found(3.0)], Shape::Normal, 0.0).unwrap();
    let score = stillwell_stats::distributions::normal_quantile;
    let scores = [score(0.25), score(2.0 / 3.0), score(5.0 / 6.0)];
    let line = stillwell_stats::polynomial_least_squares(&scores, &[3.0, 5.0, 8.0], &[0, 1], None).unwrap();
    assert!((found.line_mean - line.coefficients[0]).abs() < 1e-12);
    assert!((found.filled[0] - line.coefficients[0] - line.coefficients[1] * score(0.25)).abs() < 1e-12);
}

/// A "< 10" among found values says nothing about where below 10 it lies: the estimate shares it among those below.
#[test]
fn kaplan_meier_counts_by_hand() {
    let found = kaplan_meier(&[Found(3.0), Below(2.0), Found(6.0), Below(5.0), Found(9.0)]).unwrap();
    let shares: Vec<(f64, usize)> = found.steps.iter().map(|s| (s.share_at_or_below, s.n_at_risk)).collect();
    assert_eq!(shares[2], (1.0, 5));
    assert_eq!(shares[1].1, 4);
    assert!((shares[1].0 - 0.8).abs() < 1e-15 && (shares[0].0 - 0.6).abs() < 1e-15);
    assert_eq!(shares[0].1, 2);
    assert!((found.share_below_lowest - 0.3).abs() < 1e-15);
    assert_eq!(found.lowest_limits, [2.0]);
    let mean = found.mean();
    assert!((mean.at_least - (0.2 * 9.0 + 0.2 * 6.0 + 0.3 * 3.0)).abs() < 1e-14);
    assert!((mean.at_most - mean.at_least - 0.3 * 2.0).abs() < 1e-14);
    assert_eq!(found.percentile(0.2).unwrap(), Below(2.0));
}

#[test]
fn values_above_a_limit_are_refused_or_used() {
    let values = [Below(1.0), Found(2.0), Found(3.0), Found(5.0), Above(8.0)];
    assert!(matches!(kaplan_meier(&values), Err(StatsError::CensoredAbove { row: 4, .. })));
    assert!(matches!(
        order_regression(&values, Shape::Normal, 0.375),
        Err(StatsError::CensoredAbove { row: 4, .. })
    ));
    let with = likelihood_fit(&values, Shape::Normal).unwrap();
    let without = likelihood_fit(&values[..4], Shape::Normal).unwrap();
    assert!(with.mean > without.mean && with.sd > without.sd);
    // Above 8 may be anything: no upper limit can be promised from it.
    assert_eq!(order_statistic_upper(&values, 0.5, 0.9).unwrap().bound, Above(8.0));
    assert_eq!(order_statistic_lower(&values, 0.5, 0.9).unwrap().bound, Below(1.0));
}

#[test]
fn nothing_found_gives_no_mean() {
    let none = [Below(1.0); 6];
    assert!(matches!(kaplan_meier(&none), Err(StatsError::TooFewValues { found: 0, .. })));
    assert!(matches!(order_regression(&none, Shape::Normal, 0.375), Err(StatsError::TooFewValues { .. })));
    assert!(matches!(likelihood_fit(&none, Shape::Normal), Err(StatsError::TooFewValues { .. })));
    assert!(matches!(
        likelihood_fit(&[Below(1.0), Found(2.0), Found(2.0)], Shape::Normal),
        Err(StatsError::NoVariation { .. })
    ));
    assert!(matches!(
        likelihood_fit(&[Below(0.0), Found(2.0), Found(3.0)], Shape::LogNormal),
        Err(StatsError::NotPositive { row: 0, .. })
    ));
    assert!(matches!(
        order_statistic_upper(&[Found(1.0); 20], 0.95, 0.95),
        Err(StatsError::TooFewValues { needed: 59, .. })
    ));
    assert!(matches!(tolerance_factor(1, 0.95, 0.95), Err(StatsError::TooFewValues { .. })));
}

proptest! {
    /// Without limits the three ways are the plain mean, standard deviation and median.
    #[test]
    fn nothing_censored_is_plain_statistics(values in prop::collection::vec(0.1..90.0_f64, 3..30)) {
        let all: Vec<Observation> = values.iter().map(|v| Found(*v)).collect();
        let (plain, n) = (mean(&values).unwrap(), values.len() as f64);
        let product_limit = kaplan_meier(&all).unwrap();
        prop_assert!((product_limit.mean().at_most - plain).abs() < 1e-10 * plain);
        prop_assert!(product_limit.mean().at_most - product_limit.mean().at_least <= 0.0);
        let Found(middle) = product_limit.percentile(0.5).unwrap() else { panic!("below") };
        prop_assert!((middle - median(&values).unwrap()).abs() < 1e-12 * middle);
        let fit = likelihood_fit(&all, Shape::Normal).unwrap();
        let sd = standard_deviation(&values).unwrap();
        prop_assert!((fit.mean - plain).abs() < 1e-9 * plain);
        prop_assert!((fit.sd - sd * ((n - 1.0) / n).sqrt()).abs() < 1e-9 * sd);
        prop_assert!((fit.mean_error - fit.sd / n.sqrt()).abs() < 1e-9 * sd);
        let line = order_regression(&all, Shape::Normal, 0.375).unwrap();
        prop_assert!((line.mean - plain).abs() < 1e-10 * plain && line.filled.is_empty());
    }

    /// What the limits hide, the range of the mean covers.
    #[test]
    fn bounds_hold_whatever_the_limits_hide(
        values in prop::collection::vec((1.0..50.0_f64, any::<bool>()), 4..25),
    ) {
        prop_assume!(values.iter().any(|(_, is_below)| !is_below));
        let lowest_found = values.iter().filter(|v| !v.1).map(|v| v.0).fold(f64::INFINITY, f64::min);
        // All limits below every found value: the truth must lie between the bounds.
        let hidden: Vec<f64> = values.iter().map(|v| if v.1 { v.0.min(lowest_found) * 0.5 } else { v.0 }).collect();
        let observed: Vec<Observation> =
            values.iter().map(|v| if v.1 { Below(v.0.min(lowest_found)) } else { Found(v.0) }).collect();
        let found = kaplan_meier(&observed).unwrap().mean();
        let truth = mean(&hidden).unwrap();
        prop_assert!(found.at_least <= truth * (1.0 + 1e-12) && truth <= found.at_most * (1.0 + 1e-12), "{found:?} {truth}");
    }

    #[test]
    fn no_panic_on_any_observation(
        rows in prop::collection::vec((crate::properties::any_number(), 0_u8..3), 0..12), share in -0.1..1.1_f64,
    ) {
        let of = |(value, kind): &(f64, u8)| match kind { 0 => Found(*value), 1 => Below(*value), _ => Above(*value) };
        let all: Vec<Observation> = rows.iter().map(of).collect();
        let left: Vec<Observation> = all.iter().copied().filter(|o| !matches!(o, Above(_))).collect();
        let mut results = Vec::new();
        for observations in [&all, &left] {
            for shape in [Shape::Normal, Shape::LogNormal] {
                results.extend(likelihood_fit(observations, shape).map(|fit| fit.mean));
                results.extend(order_regression(observations, shape, 0.375).map(|fit| fit.line_mean));
            }
            if let Ok(found) = kaplan_meier(observations) {
                results.push(found.mean().at_most);
                results.extend(found.percentile(share).map(|p| p.number()));
            }
            results.extend(order_statistic_lower(observations, share, 0.9).map(|limit| limit.confidence));
            results.extend(order_statistic_upper(observations, 0.9, share).map(|limit| limit.confidence));
        }
        let finite = all.iter().all(|o| o.number().is_finite());
        prop_assert!(finite || results.is_empty() || left.iter().all(|o| o.number().is_finite()), "{results:?}");
        prop_assert!(results.iter().all(|v| v.is_finite()), "{results:?}");
    }
}

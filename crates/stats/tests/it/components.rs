//! Components of variance and precision between laboratories: published examples, laws, coverage by simulation.

use proptest::prelude::*;
use stillwell_stats::components::{
    Component, ComponentSettings, MeanSquareTerm, modified_large_sample, nested_components,
    one_way_components,
};
use stillwell_stats::distributions::chi_squared_quantile;
use stillwell_stats::interlaboratory::{Flag, consistency, precision};
use stillwell_stats::{StatsError, analysis_of_variance};

use crate::cases::case;
use crate::checks::{digits, load, number, number_rows, numbers, rows, tables};

#[path = "../../examples/variance_coverage/simulation.rs"]
mod simulation;

const SETTINGS: ComponentSettings = ComponentSettings { coverage: 0.95, least_members: 2 };

fn variance(component: Component) -> f64 {
    component.estimate().unwrap().variance
}

#[test]
fn calcium_in_turnip_leaves() {
    let document = load("precision.toml");
    let table = document["turnip_calcium"].as_table().unwrap();
    let classes: Vec<Vec<Vec<f64>>> =
        table["classes"].as_array().unwrap().iter().map(|c| rows(c.as_array().unwrap())).collect();
    let found = nested_components(&classes, SETTINGS).unwrap();
    let variances =
        [variance(found.between_classes), found.between_groups.variance, found.within_groups.variance];
    let keys = ["between_plants", "between_leaves", "determinations"];
    for ((found, key), printed) in variances.iter().zip(keys).zip(numbers(table, "printed")) {
        assert!(digits(*found, number(table, key)) >= number(table, "digits"), "{key}: {found}");
        assert!((found - printed).abs() < 6e-7, "{key}: {found}");
    }
    let sums = [found.within_classes.variance, variance(found.total)];
    assert!((sums[0] - variances[1] - variances[2]).abs() < 1e-15);
    assert!((sums[1] - variances.iter().sum::<f64>()).abs() < 1e-15);
    let asked = ComponentSettings { least_members: 6, ..SETTINGS };
    let honest = nested_components(&classes, asked).unwrap();
    assert_eq!(honest.between_classes, Component::TooFew { found: 4, needed: 6 });
    assert_eq!(honest.total, Component::TooFew { found: 4, needed: 6 });
    assert_eq!(honest.between_groups, found.between_groups);
}

#[test]
fn yield_of_dyestuff() {
    let document = load("precision.toml");
    let table = document["dyestuff"].as_table().unwrap();
    let found = one_way_components(&number_rows(table, "groups"), SETTINGS).unwrap();
    for (found, key) in [(variance(found.between), "between"), (found.within.variance, "within")] {
        assert!(digits(found, number(table, key)) >= number(table, "digits"), "{key}: {found}");
    }
    assert!((found.within.interval.low - 24.0 * 2451.25 / chi_squared_quantile(0.975, 24.0)).abs() < 1e-9);
    assert_eq!((found.n_groups, found.effective_replicates), (6, 5.0));
}

#[test]
fn sulfur_in_coal_by_iso_5725_2() {
    let document = load("precision.toml");
    for level in tables(&document, "sulfur_in_coal") {
        let cells = number_rows(level, "cells");
        let found = precision(&cells).unwrap();
        let ours = [found.mean, found.repeatability_sd, found.between_sd, found.reproducibility_sd];
        for (ours, value) in ours.iter().zip(numbers(level, "value")) {
            assert!(digits(*ours, value) >= number(level, "digits"), "{ours} {value}");
        }
        for (ours, printed) in [ours[0], ours[1], ours[3]].iter().zip(numbers(level, "printed")) {
            // What memory has lost stands as NaN.
            let apart = (ours - printed).abs();
            assert!(printed.is_nan() || apart < number(level, "printed_tolerance"), "{ours} {printed}");
        }
        let flags = consistency(&cells).unwrap();
        assert_eq!(flags.usual_replicates, 3);
        assert!(flags.grubbs.flag == Flag::Unremarkable, "{flags:?}");
    }
}

#[test]
fn mandel_and_limits_of_five_laboratories() {
    let document = load("precision.toml");
    let mut mandel = case(&document, "mandel_hk");
    let results = number_rows(mandel.table, "results");
    let found = consistency(&results).unwrap();
    let listed = |name: &str| {
        let entries = mandel.table["expect"].as_array().unwrap().iter();
        let entry = entries.map(|e| e.as_inline_table().unwrap()).find(|e| e["name"].as_str() == Some(name));
        let values = entry.unwrap()["value"].as_array().unwrap();
        values.iter().map(|v| v.as_float().unwrap()).collect::<Vec<f64>>()
    };
    for (found, expected) in [(&found.mandel.h, listed("h")), (&found.mandel.k, listed("k"))] {
        assert!(found.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-12), "{found:?}");
    }
    mandel.meets("h_critical_5pct", found.mandel.h_critical[0]);
    mandel.meets("h_critical_1pct", found.mandel.h_critical[1]);
    mandel.meets("k_critical_5pct", found.mandel.k_critical[0]);
    mandel.meets("k_critical_1pct", found.mandel.k_critical[1]);
    mandel.finish_but(&["h", "k"]);
    let mut limits = case(&document, "repeatability_reproducibility");
    let found = precision(&results).unwrap();
    limits.meets("s_r", found.repeatability_sd);
    limits.meets("s_L", found.between_sd);
    limits.meets("s_R", found.reproducibility_sd);
    limits.meets("r_limit", found.repeatability_limit());
    limits.meets("R_limit", found.reproducibility_limit());
    limits.finish();
}

#[test]
fn a_planted_laboratory_is_flagged() {
    let mut results = vec![
        vec![5.0, 5.1, 4.9],
        vec![5.1, 5.0, 5.0],
        vec![4.9, 5.0, 4.8],
        vec![5.0, 4.9, 5.1],
        vec![5.2, 5.0, 5.1],
        vec![5.0, 5.1, 5.1],
    ];
    results.push(vec![6.4, 6.5, 6.3]);
    let shifted = consistency(&results).unwrap();
    assert_eq!((shifted.grubbs.flag, shifted.grubbs.laboratories[0]), (Flag::Outlier, 6));
    assert_eq!(shifted.cochran.flag, Flag::Unremarkable);
    results[6] = vec![4.0, 5.0, 6.0];
    let scattered = consistency(&results).unwrap();
    assert_eq!((scattered.cochran.flag, scattered.cochran.laboratories[0]), (Flag::Outlier, 6));
    results[6] = vec![6.4, 6.5, 6.3];
    results[2] = vec![6.5, 6.4, 6.6];
    let two = consistency(&results).unwrap();
    let pair = two.grubbs_two_highest.unwrap();
    assert_eq!((pair.flag, pair.laboratories), (Flag::Outlier, vec![2, 6]));
    assert_eq!(two.grubbs.flag, Flag::Unremarkable, "each hides the other");
}

#[test]
fn layouts_that_cannot_be_split_are_refused() {
    let one = |g: &[Vec<f64>]| one_way_components(g, SETTINGS).unwrap_err();
    assert!(matches!(one(&[vec![1.0, 2.0]]), StatsError::TooFewValues { found: 1, .. }));
    assert!(matches!(one(&[vec![1.0], vec![2.0]]), StatsError::TooFewValues { .. }));
    let nested = |c: &[Vec<Vec<f64>>]| nested_components(c, SETTINGS);
    assert!(matches!(
        nested(&[vec![vec![1.0, 2.0]], vec![vec![2.0, 3.0]]]),
        Err(StatsError::TooFewValues { .. })
    ));
    let single = nested(&[vec![vec![1.0, 2.0], vec![2.0, 2.5]]]).unwrap();
    assert_eq!(single.between_classes, Component::TooFew { found: 1, needed: 2 });
    assert!(matches!(
        modified_large_sample(
            &[MeanSquareTerm { factor: 1.0, mean_square: 1.0, degrees_of_freedom: 0.0 }],
            0.95
        ),
        Err(StatsError::SettingNotPositive { .. })
    ));
    assert!(matches!(
        consistency(&[[1.0, 2.0], [1.0, 2.0]]),
        Err(StatsError::TooFewValues { needed: 3, .. })
    ));
}

/// 200 simulated studies a layout; the documented run with 2000 is the example `variance_coverage`.
#[test]
fn intervals_cover_what_they_promise() {
    let layouts = simulation::layouts();
    let mut means = [0.0; 5];
    for (at, layout) in layouts.iter().enumerate() {
        let found = simulation::coverage(layout, 9_000 + at as u64, 200).unwrap();
        println!("{:55} {:?}", layout.name, found.shares);
        assert!(found.relative_high.iter().all(|high| *high > 1.0));
        for (mean, share) in means.iter_mut().zip(found.shares) {
            // Four standard errors of 95 % in 200.
            assert!(share > 0.95 - 4.0 * 0.0154, "{}: {share}", layout.name);
            *mean += share / layouts.len() as f64;
        }
    }
    for (mean, name) in means.iter().zip(simulation::NAMES) {
        println!("{name}: {:.1} %", 100.0 * mean);
        assert!(*mean >= 0.93, "{name}: {mean}");
    }
}

proptest! {
    /// Balanced: the components of the analysis of variance; any unit, any zero point.
    #[test]
    fn balanced_layouts_are_the_analysis_of_variance(
        values in prop::collection::vec(-9.0..9.0_f64, 12..=12), shift in -100.0..100.0_f64, scale in 0.01..100.0_f64,
    ) {
        let groups: Vec<Vec<f64>> = values.chunks(3).map(<[f64]>::to_vec).collect();
        let moved: Vec<Vec<f64>> = groups.iter().map(|g| g.iter().map(|v| shift + scale * v).collect()).collect();
        let anova = analysis_of_variance(&groups).unwrap();
        let found = one_way_components(&groups, SETTINGS).unwrap();
        prop_assert!((variance(found.between) - anova.between_variance).abs() < 1e-12 * 81.0);
        let other = one_way_components(&moved, SETTINGS).unwrap();
        let square = scale * scale;
        prop_assert!((variance(other.between) - square * variance(found.between)).abs() < 1e-9 * (1.0 + square) * (1.0 + shift.abs()));
        let (a, b) = (found.between.estimate().unwrap(), other.between.estimate().unwrap());
        prop_assert!((b.interval.high - square * a.interval.high).abs() < 1e-9 * (1.0 + square) * (1.0 + shift.abs()) * 1e3);
        prop_assert!(a.interval.low <= a.variance.max(0.0) && a.variance <= a.interval.high);
    }

    #[test]
    fn no_panic_on_any_layout(
        values in prop::collection::vec(crate::properties::any_number(), 0..16), cut in 0_usize..5, least in 0_usize..4,
        coverage in -0.1..1.1_f64,
    ) {
        let settings = ComponentSettings { coverage, least_members: least };
        let groups: Vec<&[f64]> = values.chunks(cut.max(1)).collect();
        let classes: Vec<&[&[f64]]> = groups.chunks(2).collect();
        let mut results = Vec::new();
        if let Ok(found) = one_way_components(&groups, settings) {
            results.extend([found.within.variance, found.within.interval.low, found.within.interval.high, found.mean]);
            results.extend(found.between.estimate().map(|e| e.interval.high));
        }
        if let Ok(found) = nested_components(&classes, settings) {
            results.extend([found.within_classes.variance, found.within_classes.interval.high, found.mean]);
            results.extend(found.total.estimate().map(|e| e.interval.high));
        }
        results.extend(precision(&groups).map(|found| found.repeatability_sd));
        results.extend(consistency(&groups).map(|found| found.cochran.statistic));
        prop_assert!(results.is_empty() || values.iter().all(|v| v.is_finite()), "{results:?}");
        prop_assert!(results.iter().all(|v| v.is_finite()), "{results:?}");
    }
}

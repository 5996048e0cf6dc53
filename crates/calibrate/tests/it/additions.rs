//! Standard addition: published example, dilution by the addition, the two designs, refusals, the comparison of slopes.

use crate::checks::{compare, load, numbers, tables, text};
use crate::standards::{line, one_electrode_each, settings};
use proptest::prelude::*;
use stillwell_calibrate::{
    AdditionDesign, AdditionError, AdditionEstimate, AdditionScan, AdditionSettings, AdditionWeights,
    LevelDeviation, MatrixDemands, MatrixEffect, Model, Weights, calibrate, matrix_comparison,
    standard_addition,
};
use stillwell_stats::distributions::student_t_quantile;

pub(crate) fn scan(added: f64, signal_a: f64, electrode: &str) -> AdditionScan {
    AdditionScan {
        added,
        sample_fraction: 1.0,
        signal_a,
        electrode: electrode.to_owned(),
        label: format!("{electrode} at {added}"),
        excluded: None,
    }
}

pub(crate) fn unweighted() -> AdditionSettings {
    AdditionSettings { weights: AdditionWeights::None, coverage: 0.95, max_excluded_fraction: 0.1 }
}

fn fresh(pairs: &[(f64, f64)]) -> Vec<AdditionScan> {
    pairs.iter().enumerate().map(|(i, &(added, signal))| scan(added, signal, &format!("strip {i}"))).collect()
}

/// Close to `2 (10 + added)`.
fn seven() -> Vec<AdditionScan> {
    fresh(&[(0.0, 20.3), (0.0, 19.6), (10.0, 40.2), (10.0, 39.5), (20.0, 60.4), (30.0, 80.1), (30.0, 79.7)])
}

/// Three electrodes whose sensitivities differ by half, each close to `k (10 + added)`.
fn followed() -> Vec<AdditionScan> {
    let noise = [[0.1, -0.2, 0.15, -0.05], [-0.1, 0.1, -0.15, 0.2], [0.05, 0.1, -0.2, 0.1]];
    let mut scans = Vec::new();
    for (k, (name, noise)) in [1.0, 1.5, 2.0].iter().zip(["a", "b", "c"].iter().zip(noise)) {
        for (added, error) in [0.0, 10.0, 20.0, 30.0].iter().zip(noise) {
            scans.push(scan(*added, k * (10.0 + added) + error, name));
        }
    }
    scans
}

#[test]
fn published_standard_additions_reach_their_digits() {
    let document = load("standard_addition.toml");
    let mut misses = Vec::new();
    for case in tables(&document, "case") {
        let pairs: Vec<(f64, f64)> =
            numbers(case, "added").into_iter().zip(numbers(case, "signal")).collect();
        let found = standard_addition(&fresh(&pairs), &unweighted()).unwrap();
        let t = student_t_quantile(0.975, found.degrees_of_freedom as f64);
        misses.extend(compare(&document, case, text(case, "name"), |row| match row.quantity() {
            "sample_signal" => found.sample_signal_a,
            "slope" => found.slope_a_per_level,
            "estimate" => found.value,
            "first_order_standard_error" => found.standard_uncertainty,
            "first_order_half_width" => t * found.standard_uncertainty,
            "low" => found.low,
            "high" => found.high,
            other => panic!("nothing computes {other}"),
        }));
    }
    assert!(misses.is_empty(), "{misses:#?}");
}

#[test]
fn an_addition_that_dilutes_the_sample_gives_the_undiluted_concentration() {
    // 10 mL of a sample at 20, to which 0, 1, 2, 3 mL of a standard at 100 are added; signal 3 per level in the vial.
    let scans: Vec<AdditionScan> = [0.0, 1.0, 2.0, 3.0]
        .iter()
        .zip([0.02, -0.03, 0.01, 0.02])
        .enumerate()
        .map(|(i, (ml, error))| {
            let in_vial = (10.0 * 20.0 + ml * 100.0) / (10.0 + ml);
            let mut scan = scan(ml * 100.0 / (10.0 + ml), 3.0 * in_vial + error, &format!("strip {i}"));
            scan.sample_fraction = 10.0 / (10.0 + ml);
            scan
        })
        .collect();
    let found = standard_addition(&scans, &unweighted()).unwrap();
    assert!((found.value - 20.0).abs() < 0.05, "{}", found.value);
    assert!(found.low < 20.0 && found.high > 20.0 && found.high - found.low < 0.5);
    // Taken as undiluted, the slope is a fifth too small and the result 25.
    let as_if: Vec<AdditionScan> =
        scans.iter().map(|scan| AdditionScan { sample_fraction: 1.0, ..scan.clone() }).collect();
    assert!((standard_addition(&as_if, &unweighted()).unwrap().value - 25.0).abs() < 0.1);
}

#[test]
fn electrodes_of_different_sensitivity_agree_when_each_is_followed() {
    let found = standard_addition(&followed(), &unweighted()).unwrap();
    assert_eq!(found.design, AdditionDesign::FollowedElectrodes { is_balanced: true });
    assert_eq!((found.n_electrodes, found.degrees_of_freedom, found.lines.len()), (3, 2, 3));
    assert!((found.value - 10.0).abs() < 0.2 && found.high - found.low < 1.5, "{found:?}");
    // The same points as if each were a fresh electrode: the sensitivities spread the line.
    let mut as_if = followed();
    for (i, scan) in as_if.iter_mut().enumerate() {
        scan.electrode = format!("strip {i}");
    }
    let wrong = standard_addition(&as_if, &unweighted()).unwrap();
    assert_eq!(wrong.design, AdditionDesign::FreshElectrodes);
    assert!(wrong.high - wrong.low > 5.0 * (found.high - found.low));
}

#[test]
fn ends_of_a_followed_interval_are_where_its_electrodes_just_disagree_with_it() {
    let found = standard_addition(&followed(), &unweighted()).unwrap();
    let t = student_t_quantile(0.975, 2.0);
    for end in [found.low, found.high] {
        // At the true concentration the lines of the electrodes meet zero on the average: a t test on three electrodes.
        let left: Vec<f64> =
            found.lines.iter().map(|line| line.sample_signal_a - end * line.slope_a_per_level).collect();
        let mean = stillwell_stats::mean(&left).unwrap();
        let sd = stillwell_stats::standard_deviation(&left).unwrap();
        assert!((mean.abs() * 3.0_f64.sqrt() / sd / t - 1.0).abs() < 1e-9);
    }
}

#[test]
fn scans_of_one_electrode_count_once() {
    let twice: Vec<AdditionScan> = seven()
        .into_iter()
        .flat_map(|scan| {
            let (mut low, mut high) = (scan.clone(), scan);
            low.signal_a -= 0.05;
            high.signal_a += 0.05;
            [low, high]
        })
        .collect();
    let (once, twice) = (
        standard_addition(&seven(), &unweighted()).unwrap(),
        standard_addition(&twice, &unweighted()).unwrap(),
    );
    assert_eq!((twice.n_scans, twice.degrees_of_freedom), (14, 5));
    assert!((once.low - twice.low).abs() < 1e-9 && (once.high - twice.high).abs() < 1e-9);
}

#[test]
fn weights_move_the_result_and_are_refused_where_they_mean_nothing() {
    let relative = AdditionSettings {
        weights: AdditionWeights::ConstantRelativeSpread,
        coverage: 0.95,
        max_excluded_fraction: 0.1,
    };
    let found = standard_addition(&seven(), &relative).unwrap();
    assert!(found.points[0].weight > 10.0 * found.points[6].weight);
    let stated = |sds: &[(f64, f64)]| AdditionSettings {
        weights: AdditionWeights::StandardDeviations(
            sds.iter()
                .map(|&(level, standard_deviation_a)| LevelDeviation { level, standard_deviation_a })
                .collect(),
        ),
        coverage: 0.95,
        max_excluded_fraction: 0.1,
    };
    let equal = stated(&[(0.0, 2.0), (10.0, 2.0), (20.0, 2.0), (30.0, 2.0)]);
    let plain = standard_addition(&seven(), &unweighted()).unwrap();
    assert!((standard_addition(&seven(), &equal).unwrap().low - plain.low).abs() < 1e-12);
    assert_eq!(
        standard_addition(&seven(), &stated(&[(0.0, 1.0), (10.0, 1.0), (20.0, 0.0), (30.0, 1.0)])),
        Err(AdditionError::AdditionWithoutDeviation { added: 20.0 })
    );
    let near_zero = fresh(&[(0.0, -1.0), (10.0, 9.0), (20.0, 21.0), (30.0, 29.0)]);
    assert!(matches!(
        standard_addition(&near_zero, &relative),
        Err(AdditionError::SignalNotPositive { added: 0.0, .. })
    ));
}

#[test]
fn a_bent_line_is_noticed() {
    let bent: Vec<(f64, f64)> = (0..10_u8)
        .map(|i| {
            let total = 10.0 + 5.0 * f64::from(i);
            (5.0 * f64::from(i), 2.0 * total - 0.01 * total * total + [0.05, -0.04, 0.02][usize::from(i) % 3])
        })
        .collect();
    let test = standard_addition(&fresh(&bent), &unweighted()).unwrap().curvature.unwrap();
    assert!(test.t < -5.0 && test.p < 0.001, "{test:?}");
    let straight = standard_addition(&seven(), &unweighted()).unwrap().curvature.unwrap();
    assert!(straight.p > 0.05, "{straight:?}");
    let of_followed = standard_addition(&followed(), &unweighted()).unwrap().curvature.unwrap();
    assert!(of_followed.p > 0.05 && of_followed.degrees_of_freedom == 2, "{of_followed:?}");
}

fn refusal(scans: &[AdditionScan]) -> AdditionError {
    standard_addition(scans, &unweighted()).unwrap_err()
}

#[test]
fn what_carries_no_number_is_refused_with_its_reason() {
    assert_eq!(
        refusal(&fresh(&[(0.0, 1.0), (0.0, 1.1), (5.0, 2.0)])),
        AdditionError::TooFewAdditions { found: 2, needed: 3 }
    );
    assert_eq!(
        refusal(&fresh(&[(1.0, 1.0), (2.0, 1.1), (5.0, 2.0)])),
        AdditionError::SampleItselfMissing { smallest: 1.0 }
    );
    let one: Vec<AdditionScan> = followed().into_iter().filter(|scan| scan.electrode == "a").collect();
    assert_eq!(refusal(&one), AdditionError::TooFewElectrodes { found: 1, needed: 2 });
    let mut mixed = followed();
    mixed.push(scan(0.0, 12.0, "d"));
    assert_eq!(refusal(&mixed), AdditionError::DesignsMixed { single: "d".into(), followed: "a".into() });
    let mut short = followed();
    short.extend([scan(0.0, 12.0, "d"), scan(10.0, 24.0, "d")]);
    assert_eq!(
        refusal(&short),
        AdditionError::FollowedTooShort { electrode: "d".into(), found: 2, needed: 3 }
    );
    let flat = fresh(&[(0.0, 5.0), (10.0, 4.0), (20.0, 6.0), (30.0, 5.2)]);
    assert!(matches!(refusal(&flat), AdditionError::Unbounded { t, t_needed, .. } if t < t_needed));
    let falling = fresh(&[(0.0, 50.0), (10.0, 40.1), (20.0, 29.9), (30.0, 20.0)]);
    assert!(matches!(refusal(&falling), AdditionError::SlopeNegative { .. }));
    let computed = fresh(&[(0.0, 10.0), (10.0, 20.0), (20.0, 30.0), (30.0, 40.0)]);
    assert!(matches!(refusal(&computed), AdditionError::NoScatter { .. }));
    let mut unnamed = seven();
    unnamed[2].electrode = " ".into();
    assert!(matches!(refusal(&unnamed), AdditionError::ElectrodeNotNamed { .. }));
    let mut wrong = seven();
    wrong[1].sample_fraction = 1.2;
    assert!(matches!(refusal(&wrong), AdditionError::NotUsable { found: 1.2, .. }));
    let mut silent = seven();
    silent[1].excluded = Some(String::new());
    assert!(matches!(refusal(&silent), AdditionError::ExclusionWithoutReason { .. }));
    let mut chosen = seven();
    chosen[1].excluded = Some("bubble".into());
    assert!(matches!(refusal(&chosen), AdditionError::TooManyExcluded { excluded: 1, total: 7, .. }));
    let never = AdditionSettings { coverage: 1.0, ..unweighted() };
    assert_eq!(standard_addition(&seven(), &never), Err(AdditionError::CoverageNotUsable { found: 1.0 }));
}

fn compared(sample: &AdditionEstimate, external_slope: f64, bound: f64) -> MatrixEffect {
    let levels = [0.0, 10.0, 20.0, 30.0, 40.0, 50.0];
    let noise = [0.2, -0.3, 0.1, 0.25, -0.35, 0.1];
    let signals: Vec<f64> = levels.iter().zip(noise).map(|(x, e)| external_slope * x + e).collect();
    let demands = MatrixDemands { bound, alpha: 0.05, ratio_relative_u: 0.0 };
    let found = matrix_comparison(sample, &line(&levels, &signals, 0.95), demands).unwrap();
    // The interval holds 1 exactly where the test finds no difference.
    assert_eq!(found.p < 0.05, !(found.ratio_interval[0] <= 1.0 && found.ratio_interval[1] >= 1.0));
    assert!(found.degrees_of_freedom > 4.0 && found.degrees_of_freedom <= 9.0);
    found.effect
}

#[test]
fn slopes_differ_agree_or_cannot_tell() {
    let sample = standard_addition(&seven(), &unweighted()).unwrap();
    assert_eq!(compared(&sample, 2.0, 0.10), MatrixEffect::WithinBound);
    assert_eq!(compared(&sample, 2.0, 0.001), MatrixEffect::CannotTell);
    assert_eq!(compared(&sample, 2.6, 0.10), MatrixEffect::Differs);
    // A difference of 4 % is found, and 10 % were allowed: within the bound.
    assert_eq!(compared(&sample, 2.08, 0.10), MatrixEffect::WithinBound);
    // What the scatter does not hold widens: at 20 % nothing can be told any more.
    let unsure = MatrixDemands { bound: 0.10, alpha: 0.05, ratio_relative_u: 0.2 };
    let external = line(&[0.0, 10.0, 20.0, 30.0], &[0.1, 25.8, 52.1, 78.0], 0.95);
    assert_eq!(matrix_comparison(&sample, &external, unsure).unwrap().effect, MatrixEffect::CannotTell);
    let (levels, signals) = ([0.0, 10.0, 20.0, 30.0, 40.0], [0.0, 21.0, 39.0, 61.0, 80.0]);
    let standards = one_electrode_each(&levels, &signals);
    let bent = calibrate(&standards, &settings(Model::Quadratic, Weights::None, 0.95)).unwrap();
    let demands = MatrixDemands { bound: 0.1, alpha: 0.05, ratio_relative_u: 0.0 };
    assert_eq!(
        matrix_comparison(&sample, &bent, demands),
        Err(AdditionError::ExternalNotALine { model: Model::Quadratic })
    );
    let straight = line(&levels, &signals, 0.95);
    for demands in [
        MatrixDemands { bound: 0.0, alpha: 0.05, ratio_relative_u: 0.0 },
        MatrixDemands { bound: 0.1, alpha: 0.5, ratio_relative_u: 0.0 },
    ] {
        assert!(matches!(
            matrix_comparison(&sample, &straight, demands),
            Err(AdditionError::SettingNotUsable { .. })
        ));
    }
}

fn strange_scans() -> impl Strategy<Value = Vec<AdditionScan>> {
    let number = || {
        prop_oneof![
            6 => prop::sample::select(vec![0.0, -0.0, 5.0, 10.0, 20.0]),
            4 => -10.0..100.0_f64,
            1 => any::<f64>(),
        ]
    };
    let fraction = prop_oneof![8 => Just(1.0), 2 => 0.1..1.0_f64, 1 => any::<f64>()];
    let one = (number(), number(), fraction, 0..6_usize).prop_map(|(added, signal_a, sample_fraction, e)| {
        AdditionScan { sample_fraction, ..scan(added, signal_a, ["", "a", "b", "c", "d", "e"][e]) }
    });
    prop::collection::vec(one, 0..16)
}

proptest! {
    #[test]
    fn no_scans_make_it_panic_and_intervals_hold_their_estimate(scans in strange_scans(), weighted: bool) {
        let weights =
            if weighted { AdditionWeights::ConstantRelativeSpread } else { AdditionWeights::None };
        if let Ok(found) = standard_addition(&scans, &AdditionSettings { weights, coverage: 0.9, max_excluded_fraction: 0.1 }) {
            prop_assert!(found.low <= found.value && found.value <= found.high, "{found:?}");
            prop_assert!(found.g < 1.0 && found.slope_a_per_level > 0.0);
        }
    }

    #[test]
    fn order_is_irrelevant_and_units_scale_through(
        signals in prop::collection::vec(-1.0..1.0_f64, 8), turn in 0..8_usize, factor in 0.001..1000.0_f64,
    ) {
        let scans: Vec<AdditionScan> = signals.iter().enumerate()
            .map(|(i, e)| scan(10.0 * (i % 4) as f64, 2.0 * (15.0 + 10.0 * (i % 4) as f64) + e, &format!("strip {i}")))
            .collect();
        let found = standard_addition(&scans, &unweighted()).unwrap();
        let mut turned = scans.clone();
        turned.rotate_left(turn);
        prop_assert_eq!(format!("{:?}", standard_addition(&turned, &unweighted()).unwrap()), format!("{found:?}"));
        let scaled: Vec<AdditionScan> =
            scans.iter().map(|s| AdditionScan { added: factor * s.added, ..s.clone() }).collect();
        let scaled = standard_addition(&scaled, &unweighted()).unwrap();
        prop_assert!((scaled.low - factor * found.low).abs() <= 1e-9 * factor * found.high.abs());
        prop_assert!((scaled.high - factor * found.high).abs() <= 1e-9 * factor * found.high.abs());
    }
}

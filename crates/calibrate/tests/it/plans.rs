//! Planning: what a design promises against simulated studies, what limits it, where standards go, and refusals.

use crate::standards::{settings, standard};
use proptest::prelude::*;
use stillwell_calibrate::{
    Calibration, Design, ElectrodeSignals, Layout, LevelDeviation, LevelPlan, LotUse, Model, PartOfVariance,
    PlanDemands, PlanError, SpreadComponents, StandardSignal, Weights, calibrate, concentration, plan_design,
    promised_by,
};
use stillwell_stats::random::RandomStream;

const STUDIES: u64 = 600;
const FOLDERS: u64 = 120;

fn components(electrode: [f64; 3], scan: [f64; 3]) -> SpreadComponents {
    SpreadComponents {
        electrode_variance: electrode,
        scan_variance: scan,
        lot_relative_sd: 0.05,
        lot_use: LotUse::CalibratedEach,
        standards_relative_u: 0.0,
        further_relative_u: 0.0,
    }
}

fn demands() -> PlanDemands {
    PlanDemands {
        target_relative_u: 0.10,
        level: 50.0,
        coverage: 0.95,
        range: [0.0, 100.0],
        samples_per_calibration: 10,
        most_strips: 60,
        least_sample_strips: 1,
        most_sample_strips: 10,
        most_scans: 6,
        least_replicate_df: 0,
        minutes_per_strip: 2.0,
        minutes_per_scan: 1.0,
    }
}

fn variance(components: [f64; 3], level: f64) -> f64 {
    components[0] + level * (components[1] + level * components[2])
}

fn at(components: [f64; 3], level: f64) -> f64 {
    variance(components, level).sqrt()
}

/// Slope 2, intercept 7: levels are signals over slope.
fn strip(random: &mut RandomStream, spread: &SpreadComponents, level: f64, scans: u32) -> Vec<f64> {
    let mean = level + at(spread.electrode_variance, level) * random.normal();
    (0..scans).map(|_| 7.0 + 2.0 * (mean + at(spread.scan_variance, level) * random.normal())).collect()
}

fn calibrated(
    random: &mut RandomStream,
    spread: &SpreadComponents,
    design: &Design,
    weights: &Weights,
) -> Option<Calibration> {
    let mut standards: Vec<StandardSignal> = Vec::new();
    for plan in &design.levels {
        for e in 0..plan.electrodes {
            let name = format!("{}.{e}", plan.level);
            let signals = strip(random, spread, plan.level, design.scans_per_electrode);
            standards.extend((0..).zip(signals).map(|(i, s)| standard(plan.level, &name, i, s)));
        }
    }
    calibrate(&standards, &settings(Model::Line, weights.clone(), 0.95)).ok()
}

/// Median over studies of the larger half of the interval.
fn realised(spread: &SpreadComponents, design: &Design, level: f64, weights: &Weights) -> f64 {
    let mut halves: Vec<f64> = (0..STUDIES)
        .map(|index| {
            let mut random = RandomStream::new(20260701, index);
            // A study whose slope cannot be told from zero states no interval: the widest of all.
            let Some(calibration) = calibrated(&mut random, spread, design, weights) else {
                return f64::INFINITY;
            };
            let sample: Vec<ElectrodeSignals> = (0..design.sample_electrodes)
                .map(|e| ElectrodeSignals {
                    electrode: format!("fresh {e}"),
                    signals_a: strip(&mut random, spread, level, design.scans_per_electrode),
                })
                .collect();
            let Ok(found) = concentration(&calibration, &sample) else { return f64::INFINITY };
            let value = found.value().unwrap_or(f64::NAN);
            (value - found.low()).max(found.high() - value)
        })
        .collect();
    halves.sort_by(f64::total_cmp);
    halves[halves.len() / 2]
}

fn design(layout: Layout, levels: &[(f64, u32)], sample_electrodes: u32, scans_per_electrode: u32) -> Design {
    let levels = levels.iter().map(|&(level, electrodes)| LevelPlan { level, electrodes }).collect();
    Design { layout, levels, sample_electrodes, scans_per_electrode }
}

fn designs() -> Vec<Design> {
    vec![
        design(Layout::Equidistant, &[(0.0, 1), (50.0, 1), (100.0, 1)], 1, 1),
        design(Layout::Equidistant, &[(0.0, 1), (25.0, 1), (50.0, 1), (75.0, 1), (100.0, 1)], 1, 2),
        design(Layout::EndsAndMiddle, &[(0.0, 4), (50.0, 2), (100.0, 4)], 3, 1),
        design(Layout::MoreAtLowest, &[(0.0, 6), (50.0, 3), (100.0, 3)], 3, 4),
        design(
            Layout::Equidistant,
            &[(0.0, 3), (20.0, 3), (40.0, 3), (60.0, 3), (80.0, 3), (100.0, 3)],
            2,
            4,
        ),
    ]
}

#[test]
fn what_a_design_promises_is_what_studies_state() {
    let constant = components([4.0, 0.0, 0.0], [1.0, 0.0, 0.0]);
    let rising = components([1.0, 0.0, 0.0016], [0.25, 0.0, 0.0004]);
    let mut worst: f64 = 0.0;
    for (name, spread) in [("constant", constant), ("rising", rising)] {
        for design in designs() {
            for level in [15.0, 50.0] {
                let demands = PlanDemands { level, ..demands() };
                let promised = promised_by(&spread, &design, &demands).unwrap().relative_u * level;
                let scans = f64::from(design.scans_per_electrode);
                let stated: Vec<LevelDeviation> = design
                    .levels
                    .iter()
                    .map(|plan| LevelDeviation {
                        level: plan.level,
                        standard_deviation_a: (variance(spread.electrode_variance, plan.level)
                            + variance(spread.scan_variance, plan.level) / scans)
                            .sqrt(),
                    })
                    .collect();
                let weights =
                    if name == "constant" { Weights::None } else { Weights::StandardDeviations(stated) };
                let found = realised(&spread, &design, level, &weights);
                let ratio = found / promised;
                let n: u32 = design.levels.iter().map(|plan| plan.electrodes).sum();
                println!(
                    "{name:9} {n:>2} standards, {} strips of {} scans, at {level:>4}: U promised {promised:7.3}, median stated {found:7.3}, ratio {ratio:.3}",
                    design.sample_electrodes, design.scans_per_electrode
                );
                // Three standards leave one degree of freedom: there 600 medians scatter by 6 %, and some are unbounded.
                if n > 3 {
                    worst = worst.max((ratio - 1.0).abs());
                }
            }
        }
    }
    assert!(worst < 0.03, "{worst}");
}

#[test]
fn fitted_weights_cost_more_than_promised_and_by_how_much() {
    let rising = components([1.0, 0.0, 0.0016], [0.25, 0.0, 0.0004]);
    let design = &designs()[4];
    for level in [15.0, 50.0] {
        let demands = PlanDemands { level, ..demands() };
        let promised = promised_by(&rising, design, &demands).unwrap().relative_u * level;
        let found = realised(&rising, design, level, &Weights::VarianceFunction);
        println!(
            "weights by function, at {level}: promised {promised:.3}, median stated {found:.3}, ratio {:.3}",
            found / promised
        );
        // The function's caution for samples widens; a promise that came out a third too small would mislead.
        assert!((0.95..1.33).contains(&(found / promised)));
    }
}

/// What the command does: components pooled from the calibrations of some lots, then the promise. The median over many such
/// folders is held against the median that studies of the design then state.
fn promised_from_lots(
    truth: &SpreadComponents,
    made_as: &Design,
    lots: u64,
    design: &Design,
    level: f64,
) -> f64 {
    let mut promised: Vec<f64> = (0..FOLDERS)
        .map(|folder| {
            let made: Vec<Calibration> = (0..lots)
                .filter_map(|lot| {
                    let mut random = RandomStream::new(20260702, folder * 100 + lot);
                    calibrated(&mut random, truth, made_as, &Weights::VarianceFunction)
                })
                .collect();
            let made: Vec<&Calibration> = made.iter().collect();
            let spread =
                SpreadComponents::from_calibrations(&made, 0.0, LotUse::CalibratedEach, 0.0, 0.0).unwrap();
            promised_by(&spread, design, &PlanDemands { level, ..demands() }).unwrap().relative_u * level
        })
        .collect();
    promised.sort_by(f64::total_cmp);
    promised[promised.len() / 2]
}

#[test]
fn promises_from_lots_at_hand_are_what_studies_with_fitted_weights_state() {
    let own = [(0.0, 3), (10.0, 3), (25.0, 3), (50.0, 3), (75.0, 3), (100.0, 3)];
    let own = design(Layout::Equidistant, &own, 3, 2);
    let ends = design(Layout::EndsAndMiddle, &[(0.0, 6), (50.0, 3), (100.0, 6)], 2, 1);
    let steps = design(Layout::Equidistant, &[(0.0, 5), (50.0, 5), (100.0, 5)], 3, 2);
    let ratios_of = |name: &str, truth: SpreadComponents| {
        let cases = [&own, &ends, &steps].into_iter().flat_map(|design| [(design, 15.0), (design, 50.0)]);
        let mut ratios = Vec::new();
        for (design, level) in cases {
            let found = realised(&truth, design, level, &Weights::VarianceFunction);
            ratios.extend([3, 12].map(|lots| {
                let ratio = promised_from_lots(&truth, &own, lots, design, level) / found;
                println!(
                    "{name:8} {:?}, {lots:>2} lots, at {level}: promised over stated {ratio:.3}",
                    design.layout
                );
                ratio
            }));
        }
        ratios
    };
    let usual = [
        ratios_of("rising", components([1.0, 0.0, 0.0016], [0.25, 0.0, 0.0004])),
        ratios_of("half", components([4.0, 0.0, 0.0008], [0.25, 0.0, 0.0001])),
        ratios_of("constant", components([4.0, 0.0, 0.0], [1.0, 0.0, 0.0])),
    ]
    .concat();
    let steep = ratios_of("steep", components([0.001, 0.0, 0.000_65], [0.0001, 0.0, 0.000_06]));
    let range = |ratios: &[f64]| {
        ratios
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(least, most), ratio| (least.min(*ratio), most.max(*ratio)))
    };
    println!("promised over stated: {:?}, steep {:?}", range(&usual), range(&steep));
    let (least, most) = range(&usual);
    assert!(least > 0.95 && most < 1.05, "{least} to {most}");
    // A spread at zero of a hundredth of the top is less than a fitted function grants. Then the promise depends on the layout of the
    // calibrations it came from: for another layout it is up to 11 % too large, never too small by more than 5 %.
    let (least, most) = range(&steep);
    assert!(least > 0.95 && most < 1.12, "{least} to {most}");
}

#[test]
fn the_target_is_reached_with_the_fewest_strips() {
    let spread = components([4.0, 0.0, 0.0], [1.0, 0.0, 0.0]);
    let plan = plan_design(&spread, &demands()).unwrap();
    let chosen = &plan.design;
    println!(
        "{:?}: {} strips, {} min, U {:.4}",
        chosen.design, chosen.strips, chosen.minutes, chosen.relative_u
    );
    assert!(chosen.relative_u <= 0.10);
    let sum: f64 = chosen.shares.iter().map(|(_, share)| share).sum();
    assert!((sum - 1.0).abs() < 1e-12 && chosen.shares.windows(2).all(|pair| pair[0].1 >= pair[1].1));
    // Taking a strip or a scan away misses the target, or the design would not be the smallest.
    let fewer = Design { sample_electrodes: chosen.design.sample_electrodes - 1, ..chosen.design.clone() };
    if fewer.sample_electrodes > 0 {
        assert!(promised_by(&spread, &fewer, &demands()).unwrap().relative_u > 0.10);
    }
    // An electrode alone cannot be held against another.
    let checked = plan_design(&spread, &PlanDemands { least_sample_strips: 2, ..demands() }).unwrap();
    assert!(checked.design.design.sample_electrodes >= 2 && checked.design.strips > chosen.strips);
    // A tighter target costs more.
    let tighter = plan_design(&spread, &PlanDemands { target_relative_u: 0.05, ..demands() }).unwrap();
    assert!(tighter.design.strips > chosen.strips);
    // Each layout is compared with no more standards.
    let n = |levels: &[LevelPlan]| levels.iter().map(|plan| plan.electrodes).sum::<u32>();
    for layout in &tighter.layouts {
        println!("{:?}: U {:.4}", layout.design.layout, layout.relative_u);
        assert!(n(&layout.design.levels) <= n(&tighter.design.design.levels));
    }
    assert_eq!(tighter.layouts.len(), 3);
}

#[test]
fn low_levels_are_best_served_by_electrodes_at_the_lowest_level() {
    let spread = components([1.0, 0.0, 0.0016], [0.0; 3]);
    let low = PlanDemands { level: 5.0, target_relative_u: 0.45, most_sample_strips: 10, ..demands() };
    let plan = plan_design(&spread, &low).unwrap();
    let u = |layout: Layout| {
        plan.layouts.iter().find(|l| l.design.layout == layout).map_or(f64::INFINITY, |l| l.relative_u)
    };
    println!("{:?}", plan.layouts.iter().map(|l| (l.design.layout, l.relative_u)).collect::<Vec<_>>());
    assert!(u(Layout::MoreAtLowest) < u(Layout::Equidistant));
}

#[test]
fn what_limits_is_named_and_what_no_replicate_reaches_is_refused() {
    let spread = components([4.0, 0.0, 0.0], [1.0, 0.0, 0.0]);
    let once =
        SpreadComponents { lot_relative_sd: 0.0141, lot_use: LotUse::CalibratedOnce { lots: 3 }, ..spread };
    let once =
        SpreadComponents { electrode_variance: [0.04, 0.0, 0.0], scan_variance: [0.01, 0.0, 0.0], ..once };
    let refused = plan_design(&once, &PlanDemands { target_relative_u: 0.01, ..demands() }).unwrap_err();
    println!("{refused}");
    let PlanError::NoReplicatesReach { floor_percent, cause, cause_percent, .. } = refused else {
        panic!("{refused}")
    };
    assert_eq!(cause, PartOfVariance::Lots);
    assert!((floor_percent - 3.19).abs() < 0.01 && (cause_percent - floor_percent).abs() < 1e-12);
    // Within reach, but only just: lots are then the largest part.
    let near = plan_design(&once, &PlanDemands { target_relative_u: 0.045, ..demands() }).unwrap();
    assert_eq!(near.design.limiting(), PartOfVariance::Lots);
    assert!((near.floor_relative_u - 0.0319).abs() < 1e-4);
    let noisy = components([400.0, 0.0, 0.0], [1.0, 0.0, 0.0]);
    let refused = plan_design(&noisy, &demands()).unwrap_err();
    println!("{refused}");
    assert!(matches!(refused, PlanError::NotWithinMost { cause: PartOfVariance::SampleElectrodes, .. }));
    for wrong in [
        PlanDemands { target_relative_u: 0.0, ..demands() },
        PlanDemands { level: 150.0, ..demands() },
        PlanDemands { range: [10.0, 5.0], ..demands() },
        PlanDemands { most_scans: 0, ..demands() },
        PlanDemands { least_sample_strips: 11, ..demands() },
        PlanDemands { coverage: 1.0, ..demands() },
        PlanDemands { minutes_per_scan: f64::NAN, ..demands() },
    ] {
        assert!(matches!(plan_design(&spread, &wrong), Err(PlanError::NotUsable { .. })), "{wrong:?}");
    }
    let exact = components([0.0; 3], [0.0; 3]);
    assert!(matches!(plan_design(&exact, &demands()), Err(PlanError::NotUsable { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn no_components_make_it_panic_and_every_plan_keeps_its_promise(
        variances in prop::collection::vec(prop_oneof![4 => 0.0..5.0_f64, 1 => any::<f64>()], 6),
        relative in prop::collection::vec(prop_oneof![6 => 0.0..0.05_f64, 1 => any::<f64>()], 3),
        lots in 0..4_u32, target in prop_oneof![5 => 0.02..0.5_f64, 1 => any::<f64>()], level in prop_oneof![5 => 1.0..100.0_f64, 1 => any::<f64>()],
    ) {
        let spread = SpreadComponents {
            electrode_variance: [variances[0], 0.01 * variances[1], 0.001 * variances[2]],
            scan_variance: [variances[3], 0.01 * variances[4], 0.001 * variances[5]],
            lot_relative_sd: relative[0], lot_use: LotUse::CalibratedOnce { lots },
            standards_relative_u: relative[1], further_relative_u: relative[2],
        };
        let demands = PlanDemands { target_relative_u: target, level, most_strips: 20, most_scans: 3, ..demands() };
        if let Ok(plan) = plan_design(&spread, &demands) {
            prop_assert!(plan.design.relative_u <= target && plan.floor_relative_u < target);
            let again = promised_by(&spread, &plan.design.design, &demands).unwrap();
            prop_assert_eq!(again, plan.design);
        }
    }
}

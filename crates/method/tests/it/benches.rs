//! The bench sheet and the plan of the example's method, in sentences, and what they refuse.

use stillwell_calibrate::{LotUse, PlanError, PreparationError, SpreadComponents};
use stillwell_method::{
    BenchPlan, CalibrationScope, Method, NoBasis, PlanRequest, PrepareError, addition, determine_lot_by_lot,
    plan, plan_basis, prepare, scan_minutes,
};

use crate::alder_vale::Study;

const BENCH: &str = r#"
[stock]
salt = "KNO3"
purity = 0.999
purity_half_width = 0.001

[balance]
readability_mg = 0.1
linearity_mg = 0.2
repeatability_mg = 0.1
smallest_mass_mg = 100

[glass]
flasks_ml = [50, 100, 250, 500]
pipettes_ml = [1, 2, 5, 10, 20, 25]

[need]
volume_ml = 50
"#;

fn method() -> Method {
    Study::input().method
}

fn bench(text: &str) -> BenchPlan {
    BenchPlan::parse("bench.toml", text).expect("a bench")
}

#[test]
fn bench_sheet_of_the_example() {
    let sheet = prepare(&method(), &bench(BENCH)).expect("a sheet");
    for line in sheet.steps.iter().chain(&sheet.largest_parts) {
        println!("{line}");
    }
    assert_eq!(sheet.unit, "mg/L as NO₃⁻");
    assert_eq!((sheet.steps.len(), sheet.largest_parts.len()), (7, 5), "stock, five levels, the zero");
    assert!(sheet.steps[0].contains("of KNO3 into the"));
    assert!(sheet.cautions[0].contains("safety data sheets"));
    assert!(sheet.largest_relative_u < 0.01);
    // Purity, weighing and the stock's flask are shared: off together, but not wholly.
    println!("{}", sheet.correlation);
    assert!(sheet.correlation.contains("off together"));
    // 1 mg of potassium nitrate holds 0.6133 mg of nitrate.
    let stock = &sheet.sheet.solutions[0];
    let stillwell_calibrate::Step::Weigh { mass_mg } = stock.step else { unreachable!("weighed") };
    let flask_ml = sheet.bench.flasks[stock.flask.expect("a flask")].volume_ml;
    let expected = 1000.0 * mass_mg * 0.999 * (62.004 / 101.102) / flask_ml;
    assert!((stock.concentration_mg_per_l / expected - 1.0).abs() < 1e-12);
}

#[test]
fn a_method_that_reports_nitrogen_gets_levels_as_nitrogen() {
    let mut study = Study::read();
    study.in_method(r#"reported_as = "mg/L as NO3-""#, r#"reported_as = "mg/L as N""#);
    let method = Method::parse("method.toml", &study.method).expect("a method");
    let sheet = prepare(&method, &bench(BENCH)).expect("a sheet");
    assert_eq!(sheet.unit, "mg/L as N");
    let stillwell_calibrate::Step::Weigh { mass_mg } = sheet.sheet.solutions[0].step else {
        unreachable!("weighed")
    };
    let flask_ml = sheet.bench.flasks[sheet.sheet.solutions[0].flask.expect("a flask")].volume_ml;
    let expected = 1000.0 * mass_mg * 0.999 * (14.007 / 101.102) / flask_ml;
    assert!((sheet.sheet.solutions[0].concentration_mg_per_l / expected - 1.0).abs() < 1e-12);
}

#[test]
fn bench_files_say_everything_that_is_wrong_at_once() {
    let wrong = BENCH
        .replace("flasks_ml = [50, 100, 250, 500]", "flasks_ml = [50, 123]")
        .replace("volume_ml = 50", "volume_ml = -1\nvolune = 3");
    let problems = BenchPlan::parse("bench.toml", &wrong).expect_err("three problems").to_string();
    println!("{problems}");
    assert!(problems.contains("no flask of 123 mL"));
    assert!(problems.contains("need.volume_ml"));
    assert!(problems.contains("volune"));
    let both = BENCH.replace("purity = 0.999", "certified_mg_per_l = 1000");
    assert!(BenchPlan::parse("bench.toml", &both).is_err());
    let unknown = BENCH.replace("KNO3", "KXe3");
    assert!(matches!(prepare(&method(), &bench(&unknown)), Err(PrepareError::Quantity(_))));
    let strict = BENCH.replace("volume_ml = 50", "volume_ml = 50\nrelative_u = 0.0005");
    let refused = prepare(&method(), &bench(&strict)).expect_err("too strict");
    println!("{refused}");
    assert!(matches!(refused, PrepareError::Preparation(PreparationError::NotAccurateEnough { .. })));
}

#[test]
fn a_bench_that_is_named_nowhere_is_a_usual_one() {
    let usual = BenchPlan::usual(&stillwell_quantity::Analyte::Nitrate).expect("nitrate has a usual salt");
    let sheet = prepare(&method(), &usual).expect("a sheet");
    assert!(sheet.steps[0].contains("KNO3") && sheet.largest_relative_u < sheet.stated_relative_u);
    assert_eq!(BenchPlan::usual(&stillwell_quantity::Analyte::NitratePlusNitrite), None);
}

#[test]
fn a_certified_stock_needs_no_balance_and_own_glass_states_its_tolerance() {
    let text = r"
[stock]
certified_mg_per_l = 1000
certified_u_mg_per_l = 2
[[flask]]
volume_ml = 100
tolerance_ml = 0.2
repeatability_ml = 0.05
[[adjustable_pipette]]
from_ml = 1
to_ml = 10
step_ml = 0.01
systematic_ml = 0.06
repeatability_ml = 0.03
[glass]
[need]
volume_ml = 50
relative_u = 0.05
";
    let sheet = prepare(&method(), &bench(text)).expect("a sheet");
    for line in sheet.steps.iter().chain(&sheet.largest_parts) {
        println!("{line}");
    }
    assert!(sheet.steps[0].contains("the certified solution"));
    assert!(sheet.largest_parts[0].contains("adjustable pipette's systematic error"));
}

fn request(target_relative_u: f64) -> PlanRequest {
    PlanRequest {
        target_relative_u,
        level: 50.0,
        samples_per_calibration: 10,
        most_strips: 40,
        most_sample_strips: 6,
        most_scans: 4,
        minutes_per_strip: 3.0,
        minutes_per_scan: 1.0,
    }
}

#[test]
fn plan_of_the_example_from_its_own_standards() {
    let input = Study::input();
    let basis = plan_basis(&input.method, &[determine_lot_by_lot(&input)]).expect("three lots");
    // Six levels of three strips in each of three lots.
    assert_eq!((basis.lots, basis.electrode_degrees_of_freedom), (3, 36));
    assert!((basis.spread_relative_u() - 0.118).abs() < 0.001);
    // The twin's lots differ by 4 % in sensitivity; three of them tell it within a wide range.
    let lots = basis.lot_relative_sd.expect("three lots");
    println!("between lots {lots:.4}, components {:?}", basis.components);
    assert!((0.005..0.10).contains(&lots), "{lots}");
    // 1.8 % a kelvin, 1 K, rectangular; and 1 % of the standards.
    assert!((basis.components.further_relative_u - 0.018 / 3.0_f64.sqrt()).abs() < 1e-12);
    assert!((basis.components.standards_relative_u - 0.01).abs() < 1e-12);
    let report = plan(&input.method, &basis.components, &request(0.10)).expect("a plan");
    println!("{report:#?}");
    assert!(report.plan.design.relative_u <= 0.10);
    assert!(report.remarks.iter().any(|remark| remark.contains("no number of replicates goes below 2.8 %")));
    assert!(report.placement.contains("equal steps"));
    let strips = report.plan.design.strips;
    assert!(report.plan.cheaper.is_none_or(|cheaper| cheaper.strips < strips && cheaper.relative_u > 0.10));
    let better = report.plan.better.expect("more is possible");
    assert!(better.relative_u <= 0.9 * report.plan.design.relative_u && better.strips >= strips);
}

#[test]
fn one_calibration_for_all_lots_rests_on_how_lots_differ() {
    let mut input = Study::input();
    input.method.calibration.per = CalibrationScope::AllLots;
    let reports = [determine_lot_by_lot(&input)];
    let basis = plan_basis(&input.method, &reports).expect("three lots");
    assert_eq!(basis.components.lot_use, LotUse::CalibratedOnce { lots: 3 });
    let refused = plan(&input.method, &basis.components, &request(0.03)).expect_err("lots differ by more");
    println!("{refused}");
    assert!(refused.words.starts_with("no number of replicates reaches 3 %: between-lot spread alone gives"));
    let one = |lot: &str| {
        let mut report = reports[0].clone();
        report.calibrations.retain(|link| link.key.lot == lot);
        [report]
    };
    let few = plan_basis(&input.method, &one("L21")).expect_err("one lot");
    assert_eq!(few, NoBasis::TooFewLots { found: 1, needed: 3 });
    assert_eq!(plan_basis(&input.method, &one("none")), Err(NoBasis::NothingAccepted));
}

#[test]
fn minutes_of_a_scan_follow_from_its_technique() {
    let technique = method().technique;
    // 151 points at 25 Hz.
    assert!((scan_minutes(&technique).expect("stated") - 151.0 / 25.0 / 60.0).abs() < 1e-12);
    let open = stillwell_scan::Technique { frequency_hz: None, ..technique };
    assert_eq!(scan_minutes(&open), None);
}

#[test]
fn what_no_number_of_replicates_reaches_is_said_plainly() {
    let spread = SpreadComponents {
        electrode_variance: [1.0, 0.0, 0.0004],
        scan_variance: [0.1, 0.0, 0.0],
        lot_relative_sd: 0.0141,
        lot_use: LotUse::CalibratedOnce { lots: 3 },
        standards_relative_u: 0.0,
        further_relative_u: 0.0,
    };
    let refused = plan(&method(), &spread, &request(0.01)).expect_err("out of reach");
    println!("{refused}");
    assert_eq!(
        refused.words,
        "no number of replicates reaches 1 %: between-lot spread alone gives 3.2 %; more strips of one lot will not help; calibrate each lot"
    );
    let exact =
        SpreadComponents { electrode_variance: [0.01, 0.0, 0.0], scan_variance: [0.01, 0.0, 0.0], ..spread };
    let lots = plan(&method(), &exact, &request(0.05)).expect("within reach");
    assert!(lots.limits.contains("lots dominates") && lots.limits.contains("will not help"), "{lots:?}");
    assert!(lots.remarks.iter().any(|remark| remark.contains("a lot counts once")), "{lots:?}");
    let noisy =
        SpreadComponents { electrode_variance: [400.0, 0.0, 0.0], lot_use: LotUse::CalibratedEach, ..spread };
    let refused = plan(&method(), &noisy, &request(0.10)).expect_err("too noisy");
    println!("{refused}");
    assert!(matches!(refused.error, PlanError::NotWithinMost { .. }));
    let outside = PlanRequest { level: 500.0, ..request(0.10) };
    assert!(matches!(
        plan(&method(), &spread, &outside).expect_err("outside").error,
        PlanError::NotUsable { found: 500.0, .. }
    ));
}

#[test]
fn an_input_without_additions_has_no_series() {
    assert!(addition(&Study::input()).series.is_empty());
}

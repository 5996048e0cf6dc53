//! The bench sheet and the plan of the example's method, in sentences, and what they refuse.

use stillwell_calibrate::{LotUse, PlanError, PreparationError, SpreadComponents};
use stillwell_method::{
    BenchPlan, Method, PlanRequest, PrepareError, addition, determine, lot_use, plan, prepare,
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
    for line in sheet.steps.iter().chain(&sheet.levels) {
        println!("{line}");
    }
    assert_eq!(sheet.unit, "mg/L as NO₃⁻");
    assert_eq!((sheet.steps.len(), sheet.levels.len()), (7, 5), "stock, five levels, the zero");
    assert!(sheet.steps[0].contains("of KNO3 into the"));
    assert!(sheet.cautions[0].contains("safety data sheets"));
    assert!(sheet.largest_relative_u < 0.01);
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
    for line in sheet.steps.iter().chain(&sheet.levels) {
        println!("{line}");
    }
    assert!(sheet.steps[0].contains("the certified solution"));
    assert!(sheet.levels[0].contains("adjustable pipette's systematic error"));
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
    let report = determine(&Study::input());
    let made = report.calibrations[0].calibration.as_ref().expect("a calibration");
    let method = method();
    let components = SpreadComponents::from_calibration(made, 0.0, lot_use(&method, 1), 0.01, 0.0)
        .expect("several strips a level");
    let report = plan(&method, &components, &request(0.15)).expect("a plan");
    for sentence in &report.sentences {
        println!("{sentence}");
    }
    assert!(report.plan.design.relative_u <= 0.15);
    assert!(report.sentences[0].starts_with("standards: "));
    assert!(
        report.sentences.iter().any(|sentence| sentence.contains("no number of replicates goes below 2.0 %"))
    );
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
    let lots = plan(&method(), &spread, &request(0.05)).expect("within reach");
    assert!(
        lots.sentences.iter().any(|s| s.contains("lots dominates") && s.contains("will not help")),
        "{lots:?}"
    );
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

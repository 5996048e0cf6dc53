//! Faults over many batches, planted by the twin and found by the chain's charts: drift too small for any single batch, a blank
//! that creeps up, a swapped standard, a lot that is 8 % low. Sound batches stay quiet.

use stillwell_assure::control::{ChartState, Charted};
use stillwell_assure::lots::{
    EquivalenceRule, OnePointRule, PartVerdict, lot_equivalence, one_point_adjustment,
};
use stillwell_foresee::alder_vale::{CELL_TEXT, CIRCUIT_TEXT, METHOD_TEXT};
use stillwell_foresee::{Batch, Bench, CellModel, CircuitModel, Measurement, Water, simulate_plan};
use stillwell_method::{
    Check, ControlChart, GroupKey, Method, NamedText, Report, Role, control_charts, control_points,
    determine, lot_reading,
};
use stillwell_scan::TextForm;
use stillwell_twin::Fault;

const TRAINING: usize = 8;
const BATCHES: usize = 13;

/// The method of the scenario, with charts.
fn method_text() -> String {
    let charted = "[calibration.acceptance]\nchart_training_points = 8\n";
    let text = METHOD_TEXT.text.replace("[calibration.acceptance]\n", charted);
    assert_ne!(text, METHOD_TEXT.text, "the method has no place for the key");
    text
}

/// Thirteen batches, each with a lot of its own and its standards, then a check standard, a zero, a well and a check standard.
fn batches(strip: impl Fn(usize, &mut Measurement)) -> Vec<Batch> {
    (0..BATCHES)
        .map(|number| {
            let mut measurements = vec![Measurement::new(Role::Blank, 0.0, 3)];
            let levels = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0];
            measurements.extend(levels.map(|level| Measurement::known(Role::Standard, level, 3, 2)));
            measurements.push(Measurement::known(Role::CheckStandard, 50.0, 3, 1));
            measurements.push(Measurement::known(Role::CheckStandard, 0.0, 3, 1));
            let well = Measurement::sample(&format!("W{}", number + 1), 30.0, 3, 1);
            let [ph, chloride_mg_per_l, conductivity_us_per_cm] = ["3.0", "31", "540"].map(str::to_owned);
            let water = Water { ph, chloride_mg_per_l, conductivity_us_per_cm };
            measurements.push(Measurement { water, ..well });
            measurements.push(Measurement::known(Role::CheckStandard, 50.0, 3, 1));
            for measurement in &mut measurements {
                measurement.temperature_c = Some(21.0);
                strip(number, measurement);
            }
            Batch {
                name: format!("{}", number + 1),
                date: format!("2026-03-{:02}", number + 1),
                lot: format!("L{}", 40 + number),
                lot_number: 40 + number as u64,
                strips_used: 0,
                form: TextForm::plain(6),
                extension: "csv",
                files: vec![("day".to_owned(), measurements)],
            }
        })
        .collect()
}

fn chain(seed: u64, batches: &[Batch]) -> (Method, Report) {
    let text = method_text();
    let method = Method::parse("method.toml", &text).unwrap();
    let cell = CellModel::parse(CELL_TEXT.name, CELL_TEXT.text).unwrap();
    let circuit = CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text).unwrap();
    let bench = Bench { cell: &cell, circuit: &circuit, technique: &method.technique, seed };
    let traces = simulate_plan(bench, batches, &method.analyte.reported_as, || {}).unwrap();
    let recorded = traces.recorded(&circuit.circuit).unwrap();
    let named = NamedText { name: "method.toml", text: &text };
    let input = recorded.input(named).unwrap();
    let report = determine(&input);
    (input.method, report)
}

fn charts(method: &Method, report: &Report) -> Vec<ControlChart> {
    let points = control_points(method, report);
    let made = control_charts(&points, "mg/L", TRAINING);
    made.into_iter().map(|chart| chart.unwrap()).collect()
}

fn state_of(charts: &[ControlChart], charted: Charted) -> ChartState {
    charts.iter().find(|made| made.chart.charted == charted).unwrap().chart.state
}

/// Wells whose verdict a chart withholds.
fn withheld(report: &Report) -> Vec<&str> {
    let by_chart = |found: &&stillwell_method::Determination| {
        found.withheld().any(|finding| finding.check == Check::ControlChart)
    };
    report.determinations.iter().filter(by_chart).map(|found| found.sample.as_str()).collect()
}

#[test]
fn sound_batches_stay_quiet() {
    for seed in [1, 2] {
        let (method, report) = chain(seed, &batches(|_, _| {}));
        let charts = charts(&method, &report);
        let words: Vec<String> = charts.iter().map(|made| made.chart.words()).collect();
        println!("{}", words.join("\n"));
        assert_eq!(charts.len(), 4, "check standards, blanks, potential, width");
        assert!(withheld(&report).is_empty(), "{words:?}");
        let gating = charts.iter().filter(|made| made.chart.charted != Charted::PeakPotential);
        assert!(gating.clone().all(|made| made.chart.limits.is_some()));
    }
}

#[test]
fn a_drift_within_every_batchs_own_limit_is_found() {
    // From batch 8 on the check standard's vial holds 2.5 % less each time: in the last batch 15 %, and a batch by itself allows 12 %.
    let drifting = batches(|number, measurement| {
        if measurement.level == Some(50.0) && measurement.role == Role::CheckStandard {
            measurement.at_strip *= 1.0 - 0.025 * number.saturating_sub(6) as f64;
        }
    });
    let (method, report) = chain(4, &drifting);
    let charts = charts(&method, &report);
    assert_eq!(state_of(&charts, Charted::CheckStandard), ChartState::OutOfControl);
    assert_ne!(state_of(&charts, Charted::Blank), ChartState::OutOfControl);
    let wells = withheld(&report);
    println!("withheld by the chart: {wells:?}");
    let by_batch = |found: &&stillwell_method::Determination| {
        found.withheld().any(|finding| finding.check == Check::CheckStandard)
    };
    let seen_by_batches: Vec<&str> =
        report.determinations.iter().filter(by_batch).map(|found| found.sample.as_str()).collect();
    println!("withheld by the batch's own limit: {seen_by_batches:?}");
    assert!(wells.contains(&"W12") && wells.contains(&"W13") && !wells.contains(&"W5"), "{wells:?}");
    assert!(wells.len() > seen_by_batches.len());
    let finding = report.batch_findings.iter().find(|finding| finding.check == Check::ControlChart).unwrap();
    assert!(finding.found.contains("out of control") && finding.found.contains("low"), "{finding}");
}

#[test]
fn a_blank_that_creeps_up_is_found_and_named() {
    let creeping = batches(|number, measurement| {
        if measurement.level == Some(0.0) && measurement.role == Role::CheckStandard {
            measurement.at_strip = 1.0 * number.saturating_sub(7) as f64;
        }
    });
    let (method, report) = chain(5, &creeping);
    let charts = charts(&method, &report);
    assert_eq!(state_of(&charts, Charted::Blank), ChartState::OutOfControl);
    assert_ne!(state_of(&charts, Charted::CheckStandard), ChartState::OutOfControl);
    assert!(withheld(&report).contains(&"W13"));
}

#[test]
fn a_swapped_standard_is_found_at_once() {
    // The vial of 25 mg/L in place of that of 50, once.
    let swapped = batches(|number, measurement| {
        if number == 11 && measurement.level == Some(50.0) && measurement.role == Role::CheckStandard {
            measurement.at_strip = 25.0;
        }
    });
    let (method, report) = chain(6, &swapped);
    let charts = charts(&method, &report);
    let chart = &charts.iter().find(|made| made.chart.charted == Charted::CheckStandard).unwrap().chart;
    let alarm = &chart.alarm_words()[0];
    assert!(alarm.contains("beyond the action limits, low, since batch 12 of"), "{alarm}");
    // The batch's own limit sees it as well, and says what to do.
    let of_batch = report.batch_findings.iter().filter(|finding| finding.check == Check::CheckStandard);
    assert_eq!(of_batch.count(), 2);
    let wells = withheld(&report);
    assert!(wells.contains(&"W12") && !wells.contains(&"W10"), "{wells:?}");
}

#[test]
fn a_lot_eight_percent_low_is_not_equivalent_and_may_be_adjusted() {
    // The new lot's strips: the same kind, 8 % less of everything.
    let low = Fault::PartialCoverage { wetted_share: 0.92 };
    let strips = |lot: &str, lot_number: u64, faults: &[(Fault, u32)]| {
        let known = |level: f64, n: u32| Measurement {
            faults: faults.to_vec(),
            ..Measurement::known(Role::Standard, level, n, 2)
        };
        let mut measurements = vec![Measurement::new(Role::Blank, 0.0, 3)];
        measurements.extend([0.0, 10.0, 25.0, 50.0, 75.0, 100.0].map(|level| known(level, 4)));
        for measurement in &mut measurements {
            measurement.temperature_c = Some(21.0);
        }
        Batch {
            name: lot.to_owned(),
            date: "2026-03-01".to_owned(),
            lot: lot.to_owned(),
            lot_number,
            strips_used: 0,
            form: TextForm::plain(6),
            extension: "csv",
            files: vec![("standards".to_owned(), measurements)],
        }
    };
    // Two lots of the twin differ by themselves; the planted 8 % come on top.
    let (method, report) = chain(8, &[strips("L30", 30, &[]), strips("L31", 31, &[(low, 4)])]);
    let approved = GroupKey { lot: "L30".to_owned(), channel: "1".to_owned() };
    let read = lot_reading(&method, &report, "L31", &approved).unwrap();
    let rule = EquivalenceRule::new(4.0, Some(2.0));
    let verdict = lot_equivalence("L31", "mg/L", &read.strips, read.shared, rule).unwrap();
    println!("{}", verdict.words());
    assert_eq!(verdict.verdict, PartVerdict::NotEquivalent);
    assert!((verdict.sensitivity.difference + 8.0).abs() < 5.0, "{verdict:?}");
    let made = one_point_adjustment(
        &verdict,
        &read.strips,
        (50.0, method.calibration.level_relative_u),
        (read.range_top, read.approved.unwrap()),
        OnePointRule::default(),
    )
    .unwrap();
    let adjustment = made.unwrap();
    println!("{}", adjustment.words(0.03, "mg/L"));
    // One lot differs from the other by itself, and four strips of 2 % say no more than this.
    assert!((adjustment.ratio - 0.92).abs() < 0.05 && adjustment.relative_u > 0.005, "{adjustment:?}");
    // Itself it is equivalent to itself.
    let own = lot_reading(&method, &report, "L30", &approved).unwrap();
    let verdict = lot_equivalence("L30", "mg/L", &own.strips, own.shared, rule).unwrap();
    println!("{}", verdict.words());
    assert_ne!(verdict.verdict, PartVerdict::NotEquivalent);
}

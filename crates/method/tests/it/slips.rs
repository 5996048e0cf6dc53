//! Slips of pen and habit that fit every curve: levels typed alike wrongly, strips numbered 1 to 3 for every solution.

use stillwell_method::{Check, Effect, Outcome, Report, Role, Row, determine};
use stillwell_quantity::Concentration;

use crate::alder_vale::{Study, of, rows_mut, wrongly_below};

fn with_levels_times(factor: f64) -> Report {
    let mut input = Study::input();
    for row in rows_mut(&mut input, |row| row.batch == "B2" && row.level.is_some()) {
        let level = row.level.clone().expect("a level");
        row.level = Concentration::of_kind(level.value() * factor, level.kind().clone()).ok();
    }
    determine(&input)
}

fn levels_finding(report: &Report) -> (Effect, String) {
    let of_lot = report.calibrations.iter().find(|link| link.key.lot == "L22").expect("the lot");
    let found = of_lot.findings.iter().find(|finding| finding.check == Check::LevelsForeseen);
    found.map(|finding| (finding.effect, finding.found.clone())).expect("the levels are looked at")
}

#[test]
fn levels_that_the_method_does_not_foresee_withhold_every_verdict_read_off_them() {
    for (factor, question) in [
        (0.1, "10 times too low"),
        (0.01, "100 times too low"),
        (0.001, "1000 times too low"),
        (10.0, "10 times too high"),
        (1.0 / 4.4266, "as N where as NO₃⁻ is meant"),
        (4.4268, "as NO₃⁻ where as N is meant"),
    ] {
        let report = with_levels_times(factor);
        let (effect, words) = levels_finding(&report);
        assert_eq!(effect, Effect::Withheld);
        assert!(words.contains("the method foresees 0, 10, 25, 50, 75, 100"), "{words}");
        assert!(words.contains(question), "{words}");
        let well = of(&report, "AV-03");
        assert!(matches!(well.outcome, Outcome::Quantified(_)), "the number stands: {:?}", well.outcome);
        assert!(well.withheld().any(|finding| finding.check == Check::LevelsForeseen));
        assert!(wrongly_below(&report).is_empty());
    }
    // 78 mg/L read as 7.8 below 50 without a word before.
    let half = levels_finding(&with_levels_times(0.5)).1;
    assert!(half.contains("standards at 0, 5, 12.5, 25, 37.5, 50 mg/L as NO₃⁻"), "{half}");
    assert!(!half.contains('?'), "half is no slip that has a name: {half}");
}

#[test]
fn a_level_within_two_percent_is_the_foreseen_one_and_a_method_without_levels_foresees_nothing() {
    let report = with_levels_times(1.015);
    assert!(report.calibrations.iter().all(|link| link.findings.is_empty()));
    let mut input = Study::input();
    input.method.calibration.levels.clear();
    for row in rows_mut(&mut input, |row| row.batch == "B2" && row.level.is_some()) {
        let level = row.level.clone().expect("a level");
        row.level = Concentration::of_kind(level.value() * 0.1, level.kind().clone()).ok();
    }
    let report = determine(&input);
    assert!(report.calibrations.iter().all(|link| link.findings.is_empty()));
}

#[test]
fn half_of_the_foreseen_levels_missing_withholds() {
    let mut input = Study::input();
    input.method.calibration.levels.extend([125.0, 150.0, 175.0, 200.0, 250.0]);
    let report = determine(&input);
    assert!(of(&report, "AV-01").withheld().next().is_none(), "5 of 11 missing: warned of");
    let warned = of(&report, "AV-01").findings.iter().find(|f| f.check == Check::CalibrationAcceptance);
    let warned = warned.expect("what a calibration is warned of reaches its samples");
    assert_eq!(warned.effect, Effect::Warned);
    assert_eq!(warned.subject, "lot L21, channel 1");
    input.method.calibration.levels.push(300.0);
    let report = determine(&input);
    assert!(of(&report, "AV-01").withheld().any(|finding| finding.check == Check::LevelsForeseen));
}

/// Strips named 1, 2, 3 again for every solution of their role.
fn number_again(row: &mut Row) {
    let nth = row.electrode.rsplit('-').next().and_then(|n| n.parse::<u32>().ok()).unwrap_or(0);
    row.electrode = (nth % 3 + 1).to_string();
}

#[test]
fn single_use_strips_that_serve_several_levels_withhold_what_is_read_off_them() {
    let mut input = Study::input();
    rows_mut(&mut input, |row| row.role == Role::Standard).for_each(number_again);
    let report = determine(&input);
    let link = &report.calibrations[0];
    assert!(!link.is_accepted());
    assert!(link.findings.iter().any(|f| f.check == Check::ElectrodeReused && f.effect == Effect::Withheld));
    for sample in ["AV-01", "AV-03", "AV-08"] {
        let well = of(&report, sample);
        assert!(well.withheld().any(|f| f.check == Check::ElectrodeReused), "{sample}: {:?}", well.findings);
    }
    // The same strips under a method whose electrodes serve again and again: warned of, and the samples say so.
    input.method.electrode.single_use = false;
    let report = determine(&input);
    let well = of(&report, "AV-01");
    assert!(well.withheld().next().is_none(), "{:?}", well.findings);
    let warned = well.findings.iter().filter(|f| f.check == Check::CalibrationAcceptance);
    assert_eq!(warned.count(), 1);
}

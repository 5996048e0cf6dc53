//! Slips of pen and habit that fit every curve: levels typed alike wrongly, strips numbered 1 to 3 for every solution.

use stillwell_method::{Check, Effect, Outcome, Override, Report, Role, Row, determine};
use stillwell_quantity::Concentration;

use crate::alder_vale::{Study, change, of, rows_mut, wrongly_below};

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

fn override_all(input: &mut stillwell_method::Input, sample: &str) {
    for row in rows_mut(input, |row| row.sample == sample) {
        row.overrides = ["peak-width", "peak-shift"]
            .map(|check| Override { check: check.to_owned(), reason: "known".to_owned() })
            .to_vec();
    }
}

#[test]
fn below_by_overridden_refusals_waits_for_a_signature() {
    // 71 mg/L cut at the top reads 24.5.
    let mut input = Study::input();
    override_all(&mut input, "AV-04");
    let report = determine(&input);
    let well = of(&report, "AV-04");
    assert_eq!(well.overridden_refusals(), [(Check::PeakWidth, "known"), (Check::PeakShift, "known")]);
    let first = &well.findings[0];
    assert_eq!((first.check, first.effect), (Check::OverriddenChecks, Effect::Withheld));
    assert_eq!(
        first.found,
        "rests on 2 overridden checks that refused (peak-width: known; peak-shift: known)"
    );
    assert!(wrongly_below(&report).is_empty());
    assert!(of(&report, "AV-01").overridden_refusals().is_empty());
}

#[test]
fn a_blank_lot_is_a_fault_where_the_method_calibrates_per_lot() {
    let mut study = Study::read();
    study.sheet = study.sheet.replace(",L21,", ",,").replace(",L22,", ",,").replace(",L23,", ",,");
    let problems = study.assembled().expect_err("no lot is stated").problems;
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert_eq!(problems[0].found, "lot: is blank (and in 215 more lines); the method calibrates per lot");
    let mut one_left_blank = Study::read();
    one_left_blank.sheet = one_left_blank.sheet.replacen(",L22,", ",,", 1);
    one_left_blank.in_method("single_use = true", "single_use = false");
    let problems = one_left_blank.assembled().expect_err("one lot is not stated").problems;
    assert_eq!(problems[0].found, "lot: is blank; the method calibrates per lot");
    let mut reusable = study.clone();
    reusable.in_method("single_use = true", "single_use = false");
    assert!(reusable.assembled().is_ok(), "electrodes that serve again and again come in no lots");
    study.in_method("per = \"lot\"", "per = \"all-lots\"");
    assert!(study.assembled().is_ok(), "one calibration for all needs no lot");
}

#[test]
fn percent_written_as_a_fraction_and_units_a_million_fold_are_refused_with_the_way_to_write_them() {
    for (from, to, cure) in [
        ("level_relative_u = 0.010", "level_relative_u = 1.0", "1 % is written 0.01"),
        ("temperature_coefficient_per_k = 0.018", "temperature_coefficient_per_k = 1.8", "is written 0.018"),
        (
            "temperature_coefficient_u_per_k = 0.003",
            "temperature_coefficient_u_per_k = 0.3",
            "is written 0.003",
        ),
        ("noise_a = 0.10e-6", "noise_a = 0.10", "0.1 µA is written 0.1e-6"),
        ("amplitude_v = 0.025", "amplitude_v = 25", "25 mV is written 0.025"),
    ] {
        let mut study = Study::read();
        study.in_method(from, to);
        let problems = study.assembled().expect_err(to).problems;
        assert!(problems.iter().any(|problem| problem.cure.contains(cure)), "{to}: {problems:?}");
    }
}

#[test]
fn a_current_that_no_sensor_carries_is_an_overload_mark_and_no_spike() {
    for absurd_a in [1e294, -1e294, 1.01] {
        let mut input = Study::input();
        let well = |row: &Row| row.sample == "AV-01" && row.role == Role::Sample;
        change(&mut input, well, |currents_a, nth| {
            if nth == 0 {
                currents_a[20] = absurd_a;
            }
        });
        let report = determine(&input);
        let well = of(&report, "AV-01");
        assert!(matches!(well.outcome, Outcome::Refused), "{absurd_a}: {:?}", well.findings);
        assert!(well.refusals().any(|finding| finding.check == Check::OverloadMarks));
    }
}

#[test]
fn two_dilutions_under_one_name_are_named_and_absurd_ones_refused() {
    let mut input = Study::input();
    for (nth, row) in rows_mut(&mut input, |row| row.sample == "AV-07").enumerate() {
        row.dilution = row.dilution.filter(|_| nth % 2 == 0);
    }
    let report = determine(&input);
    let well = of(&report, "AV-07");
    let found = well.withheld().find(|f| f.check == Check::DuplicatesDisagree).expect("they disagree");
    assert!(found.found.contains("is the dilution of some rows forgotten?"), "{}", found.found);
    assert!(found.found.contains("1 : 2 here and undiluted there"), "{}", found.found);
    let mut study = Study::read();
    study.sheet = study.sheet.replacen(",860,2,0.01,", ",860,1e9,0.01,", 1);
    let problems = study.assembled().expect_err("31 tonnes in a litre").problems;
    assert!(problems[0].cure.contains("from 1 to 100000"), "{problems:?}");
}

#[test]
fn a_sample_dated_before_or_years_after_its_calibration_is_warned_of() {
    for (date, words) in [
        ("2020-05-12", "days before its calibration of 2026-"),
        ("2028-05-12", "days after its calibration of 2026-"),
    ] {
        let mut input = Study::input();
        rows_mut(&mut input, |row| row.sample == "AV-07").for_each(|row| date.clone_into(&mut row.date));
        let report = determine(&input);
        let well = of(&report, "AV-07");
        let found = well.findings.iter().find(|f| f.check == Check::ClockImplausible).expect("it is seen");
        assert!(found.effect == Effect::Warned && found.found.contains(words), "{found:?}");
    }
    let report = determine(&Study::input());
    assert!(
        report.determinations.iter().flat_map(|d| &d.findings).all(|f| f.check != Check::ClockImplausible)
    );
}

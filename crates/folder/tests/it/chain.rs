//! What the chain does with a study that is bent in one place: which number stands, which is refused, and why.

use stillwell_assure::DecisionCode;
use stillwell_method::{Check, Determination, Effect, Finding, Outcome, Report};

use crate::outcome::{determined, of, quantified, report_of};
use crate::small_study::Study;

/// The finding of this check and effect; there must be one.
fn finding(determination: &Determination, check: Check, effect: Effect) -> &Finding {
    determination
        .findings
        .iter()
        .find(|finding| finding.check == check && finding.effect == effect)
        .unwrap_or_else(|| panic!("no {} {} among {:#?}", effect.word(), check.id(), determination.findings))
}

/// W1 is refused by this check: no number, nothing it came from, and no limit that it would be below.
fn assert_refused(report: &Report, check: Check) -> String {
    let well = of(report, "W1");
    assert_eq!(well.outcome, Outcome::Refused);
    assert_eq!(well.outcome.provenance(), None);
    assert!(well.decisions.iter().all(|decision| decision.code == DecisionCode::NotDecidable));
    let found = finding(well, check, Effect::Refused);
    assert!(!found.remedy().is_empty());
    found.found.clone()
}

/// W1 has its number, but no verdict is to be drawn from it.
fn assert_withheld(report: &Report, check: Check) -> String {
    quantified(report, "W1");
    let withheld: Vec<Check> = of(report, "W1").withheld().map(|finding| finding.check).collect();
    assert_eq!(withheld, [check]);
    finding(of(report, "W1"), check, Effect::Withheld).found.clone()
}

#[test]
fn a_study_in_which_all_is_well_gives_the_truth_and_a_verdict() {
    let report = report_of(&Study::new());
    let [value, low, high] = quantified(&report, "W1");
    assert!(low < 30.0 && 30.0 < high, "{low} {value} {high}");
    let well = of(&report, "W1");
    assert_eq!(well.findings, []);
    assert_eq!(well.decisions[0].code, DecisionCode::Below);
}

#[test]
fn a_well_over_the_limit_is_above_and_one_at_the_limit_is_neither() {
    let code = |truth| of(&report_of(&Study::with_well_at(truth)), "W1").decisions[0].code;
    assert_eq!(code(80.0), DecisionCode::Above);
    assert_eq!(code(50.0), DecisionCode::TooCloseToCall);
}

#[test]
fn without_a_peak_a_sample_is_not_detected_only_beside_a_living_control() {
    let report = report_of(&Study::with_well_at(0.0));
    let well = of(&report, "W1");
    let Outcome::NotDetected(less) = &well.outcome else { panic!("{well:#?}") };
    assert!(less.less_than.value() > 0.0 && less.less_than.value() < 25.0, "{less:?}");
    assert!(less.less_than.value() >= less.high);
    finding(well, Check::ElectrodeControl, Effect::Noted);

    let mut study = Study::with_well_at(0.0);
    study.scans.retain(|scan| scan.cell("role") != "electrode-control");
    assert_refused(&report_of(&study), Check::ElectrodeControl);
}

#[test]
fn a_dead_control_proves_no_electrode_alive() {
    let mut study = Study::with_well_at(0.0);
    for scan in study.of_role("electrode-control") {
        scan.truth = 1.0;
    }
    let found = assert_refused(&report_of(&study), Check::ElectrodeControl);
    assert!(found.contains("no living electrode"), "{found}");
}

#[test]
fn a_blank_of_another_lot_is_not_subtracted() {
    let mut study = Study::new();
    study.edit_method("model = \"line\"", "model = \"line\"\nper = \"all-lots\"");
    for scan in study.of_sample("W1") {
        scan.set("lot", "L2");
    }
    let found = assert_refused(&report_of(&study), Check::BlankMatch);
    assert!(found.contains("L2"), "{found}");
}

#[test]
fn a_lot_without_standards_has_no_calibration() {
    let mut study = Study::new();
    for scan in study.of_role("blank").into_iter().take(1) {
        scan.set("lot", "L2");
    }
    for scan in study.of_sample("W1") {
        scan.set("lot", "L2");
    }
    let found = assert_refused(&report_of(&study), Check::LotNotCalibrated);
    assert!(found.contains("L2"), "{found}");
}

#[test]
fn a_study_without_a_blank_gives_no_number() {
    let mut study = Study::new();
    study.scans.retain(|scan| scan.cell("role") != "blank");
    assert_refused(&report_of(&study), Check::BlankMatch);
}

#[test]
fn one_clipped_scan_of_three_condemns_the_whole_sample() {
    let mut study = Study::with_well_at(71.0);
    study.of_sample("W1")[1].range_end_a = 15e-6;
    let found = assert_refused(&report_of(&study), Check::ClippedScan);
    assert!(found.contains("-15.0 µA"), "{found}");
}

#[test]
fn an_overridden_check_lets_the_scan_count_and_stays_with_the_result() {
    let mut study = Study::with_well_at(71.0);
    let mut wells = study.of_sample("W1");
    let clipped = &mut *wells[1];
    clipped.range_end_a = 21e-6;
    clipped.set("override", "clipped-scan: cut by one part in a hundred only");
    let report = report_of(&study);
    quantified(&report, "W1");
    let kept: Vec<&Finding> =
        of(&report, "W1").findings.iter().filter(|finding| finding.check == Check::ClippedScan).collect();
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0].overridden.as_deref(), Some("cut by one part in a hundred only"));
}

#[test]
fn an_override_of_one_check_does_not_excuse_another() {
    let mut study = Study::with_well_at(71.0);
    let mut wells = study.of_sample("W1");
    let clipped = &mut *wells[1];
    clipped.range_end_a = 21e-6;
    clipped.set("override", "noise: the pump was running");
    assert_refused(&report_of(&study), Check::ClippedScan);
}

#[test]
fn an_excluded_scan_is_told_with_its_reason_and_no_longer_counts() {
    let mut study = Study::new();
    study.of_sample("W1")[2].set("exclude", "strip fell on the floor");
    let report = report_of(&study);
    let well = of(&report, "W1");
    let Outcome::Quantified(estimate) = &well.outcome else { panic!("{well:#?}") };
    assert_eq!(estimate.electrodes, 2);
    let found = &finding(well, Check::ExcludedScans, Effect::Warned).found;
    assert!(found.contains("wells.csv, scan 3 (strip fell on the floor)"), "{found}");
    finding(well, Check::FewElectrodes, Effect::Warned);
}

#[test]
fn a_sample_of_which_every_scan_is_excluded_is_refused() {
    let mut study = Study::new();
    for scan in study.of_sample("W1") {
        scan.set("exclude", "bottle broken");
    }
    assert_refused(&report_of(&study), Check::ExcludedScans);
}

#[test]
fn a_check_standard_that_reads_wrong_withholds_the_verdict_on_either_side() {
    for file in ["opening.csv", "closing.csv"] {
        let mut study = Study::new();
        for scan in study.of_role("check-standard") {
            if scan.cell("file") == file {
                scan.truth = 65.0;
            }
        }
        let found = assert_withheld(&report_of(&study), Check::CheckStandard);
        assert!(found.contains("for a level of 50.0") && found.contains("limit ±10 %"), "{found}");
    }
}

#[test]
fn a_batch_without_a_check_standard_on_both_sides_withholds_the_verdict() {
    for (file, side) in [("opening.csv", "before"), ("closing.csv", "after")] {
        let mut study = Study::new();
        study.scans.retain(|scan| scan.cell("role") != "check-standard" || scan.cell("file") != file);
        let found = assert_withheld(&report_of(&study), Check::Bracketing);
        assert!(found.contains(side), "{found}");
    }
    let mut study = Study::new();
    study.scans.retain(|scan| scan.cell("role") != "check-standard");
    study.edit_method("[calibration.acceptance]", "[calibration.acceptance]\nbracketing = false");
    assert_eq!(of(&report_of(&study), "W1").findings, []);
}

#[test]
fn a_zero_standard_that_reads_high_withholds_the_verdict() {
    let mut study = Study::new();
    let place = study.scans.len() - 2;
    study.record("zero.csv", "check-standard", "", Some(0), 20.0, &["Z1", "Z2"]);
    study.scans[place..].rotate_right(2);
    assert_eq!(study.scans[place].cell("file"), "zero.csv");
    assert_withheld(&report_of(&study), Check::BatchBlank);
}

#[test]
fn a_zero_check_standard_near_zero_releases_the_batch() {
    let mut study = Study::new();
    let place = study.scans.len() - 2;
    study.record("zero.csv", "check-standard", "", Some(0), 0.0, &["Z1", "Z2"]);
    study.scans[place..].rotate_right(2);
    assert_eq!(of(&report_of(&study), "W1").findings, []);
}

#[test]
fn a_sample_outside_the_span_of_temperatures_is_refused() {
    let mut study = Study::new();
    for scan in study.of_sample("W1") {
        scan.set("temperature_c", "8.5");
    }
    let found = assert_refused(&report_of(&study), Check::Temperature);
    assert_eq!(found, "8.5 °C, method: 10 to 30 °C");
}

#[test]
fn a_sample_without_its_temperature_is_refused() {
    let mut study = Study::new();
    for scan in study.of_sample("W1") {
        scan.set("temperature_c", "");
    }
    let found = assert_refused(&report_of(&study), Check::Temperature);
    assert!(found.contains("not stated"), "{found}");
}

#[test]
fn a_cold_sample_is_refused_without_a_coefficient_and_corrected_with_one() {
    let mut study = Study::new();
    for scan in study.of_sample("W1") {
        scan.set("temperature_c", "13.0");
    }
    assert_refused(&report_of(&study), Check::Temperature);
    let [as_measured, low, high] = quantified(&report_of(&Study::new()), "W1");

    study.edit_method(
        "temperature_tolerance_k = 1.0",
        "temperature_coefficient_per_k = 0.02\ntemperature_coefficient_u_per_k = 0.005",
    );
    let report = report_of(&study);
    let [value, corrected_low, corrected_high] = quantified(&report, "W1");
    let expected = as_measured / (1.0 - 0.02 * 8.0);
    assert!((value / expected - 1.0).abs() < 0.01, "{value}, expected {expected}");
    assert!(corrected_high - corrected_low > 1.2 * (high - low), "{corrected_low} {corrected_high}");
    finding(of(&report, "W1"), Check::Temperature, Effect::Noted);
}

#[test]
fn a_dilution_multiplies_the_result_and_its_uncertainty_widens_it() {
    let [value, low, high] = quantified(&report_of(&Study::new()), "W1");
    let diluted = |dilution_u: &str| {
        let mut study = Study::new();
        for scan in study.of_sample("W1") {
            scan.set("dilution", "4");
            scan.set("dilution_u", dilution_u);
        }
        quantified(&report_of(&study), "W1")
    };
    let [exact_value, exact_low, exact_high] = diluted("");
    assert!((exact_value - 4.0 * value).abs() < 1e-9);
    assert!((exact_low - 4.0 * low).abs() < 1e-9 && (exact_high - 4.0 * high).abs() < 1e-9);
    let [_, wide_low, wide_high] = diluted("0.4");
    // 2 · t · u = 2 · 2.16 · 0.1 · 4 · 30 = 52 alone: the standards leave 13 degrees of freedom.
    assert!(wide_high - wide_low > 50.0 && wide_high - wide_low < 65.0, "{wide_low} {wide_high}");
}

#[test]
fn four_scans_of_one_strip_say_less_than_four_strips() {
    let width = |strips: &[&str]| {
        let mut study = Study::new();
        let closing = study.scans.len() - 2;
        study.record("wells.csv", "sample", "W2", None, 40.0, strips);
        study.scans[closing..].rotate_left(2);
        let report = report_of(&study);
        let Outcome::Quantified(estimate) = &of(&report, "W2").outcome else { panic!("{report:#?}") };
        (estimate.electrodes, estimate.high - estimate.low)
    };
    let (one, width_of_one) = width(&["W2a", "W2a", "W2a", "W2a"]);
    let (four, width_of_four) = width(&["W2a", "W2b", "W2c", "W2d"]);
    assert_eq!((one, four), (1, 4));
    assert!(width_of_one > 1.5 * width_of_four, "{width_of_one} {width_of_four}");
}

#[test]
fn above_the_highest_standard_there_is_a_bound_a_verdict_and_the_dilution_to_use() {
    let report = report_of(&Study::with_well_at(180.0));
    let well = of(&report, "W1");
    let Outcome::AboveRange(above) = &well.outcome else { panic!("{well:#?}") };
    assert!(above.at_least.value() <= 100.0 && above.at_least.value() > 80.0, "{above:?}");
    assert!((above.range_end - 100.0).abs() < 1e-9);
    // Diluted so, 180 falls near the middle of 0 to 100.
    assert!((3.0..=5.0).contains(&above.dilute), "{above:?}");
    assert_eq!(well.decisions[0].code, DecisionCode::Above);
}

#[test]
fn settings_in_the_file_that_contradict_the_technique_refuse_its_scans() {
    let mut files = Study::new().files();
    files.edit("wells.csv", "E / V", "Frequency: 50 Hz\nE / V");
    let report = determined(&files).expect("readable");
    let found = assert_refused(&report, Check::SettingsDiffer);
    assert!(found.contains("50") && found.contains("25"), "{found}");
}

#[test]
fn the_order_of_the_run_sheets_sample_rows_changes_no_bit() {
    let mut study = Study::new();
    let closing = study.scans.len() - 2;
    let strips = ["W2a", "W2a", "W2a", "W2b", "W2b", "W2b", "W2c"];
    study.record("wells.csv", "sample", "W2", None, 44.0, &strips);
    study.scans[closing..].rotate_left(2);
    let files = study.files();
    let sheet: Vec<&str> = files.text("run-sheet.csv").lines().collect();
    let first = sheet.iter().position(|line| line.contains(",sample,W")).expect("a sample");
    let last = sheet.iter().rposition(|line| line.contains(",sample,W")).expect("a sample");
    let as_recorded = determined(&files).expect("readable");
    for turn in 1..=(last - first) {
        let mut turned = sheet.clone();
        turned[first..=last].rotate_left(turn);
        turned[first..=last].reverse();
        let mut files = files.clone();
        files.put("run-sheet.csv", turned.join("\n"));
        let report = determined(&files).expect("readable");
        for sample in ["W1", "W2"] {
            let bits = |report: &Report| quantified(report, sample).map(f64::to_bits);
            assert_eq!(bits(&report), bits(&as_recorded), "{sample}, turned by {turn}");
        }
    }
}

#[test]
fn the_order_of_the_standards_changes_no_number() {
    let files = Study::new().files();
    let sheet: Vec<&str> = files.text("run-sheet.csv").lines().collect();
    let is_standard = |line: &&&str| line.contains(",standard,");
    let mut standards: Vec<&str> = sheet.iter().filter(is_standard).copied().collect();
    standards.reverse();
    let mut standards = standards.into_iter();
    let turned: Vec<&str> = sheet
        .iter()
        .map(|line| if is_standard(&line) { standards.next().unwrap_or("") } else { line })
        .collect();
    let mut backwards = files.clone();
    backwards.put("run-sheet.csv", turned.join("\n"));
    let expected = quantified(&determined(&files).expect("readable"), "W1");
    let found = quantified(&determined(&backwards).expect("readable"), "W1");
    for (expected, found) in expected.iter().zip(found) {
        assert!((expected - found).abs() < 1e-9 * expected.abs(), "{expected} {found}");
    }
}

#[test]
fn an_instrument_that_writes_reduction_currents_as_positive_gives_the_same_bits() {
    let as_iupac = quantified(&report_of(&Study::new()), "W1");
    let mut turned = Study::new();
    turned.sign = -1.0;
    turned.edit_method("[evaluation]", "[reading]\nreduction_current = \"positive\"\n\n[evaluation]");
    assert_eq!(quantified(&report_of(&turned), "W1").map(f64::to_bits), as_iupac.map(f64::to_bits));
}

#[test]
fn a_sign_that_nobody_states_is_refused_and_not_guessed() {
    let mut turned = Study::new();
    turned.sign = -1.0;
    assert_eq!(of(&report_of(&turned), "W1").outcome, Outcome::Refused);
}

#[test]
fn duplicates_that_disagree_withhold_the_verdict_of_both() {
    let mut study = Study::new();
    let closing = study.scans.len() - 2;
    study.record("wells.csv", "duplicate", "W1", None, 44.0, &["W1d", "W1e", "W1f"]);
    study.scans[closing..].rotate_left(2);
    let report = report_of(&study);
    assert_eq!(report.determinations.len(), 2);
    for determination in &report.determinations {
        finding(determination, Check::DuplicatesDisagree, Effect::Withheld);
    }
}

#[test]
fn a_spike_that_is_not_found_again_withholds_the_verdict() {
    let recovered = |truth| {
        let mut study = Study::new();
        let closing = study.scans.len() - 2;
        study.record("wells.csv", "spike", "W1", Some(25), truth, &["P1", "P2", "P3"]);
        study.scans[closing..].rotate_left(3);
        study.scans[closing..].rotate_right(1);
        report_of(&study)
    };
    let good = recovered(55.0);
    finding(of(&good, "W1"), Check::SpikeRecovery, Effect::Noted);
    let poor = recovered(42.0);
    finding(of(&poor, "W1"), Check::SpikeRecovery, Effect::Withheld);
    assert_eq!(poor.determinations.len(), 1, "a spike is no sample");
}

#[test]
fn levels_in_micromole_per_litre_give_the_same_calibration() {
    let expected = quantified(&report_of(&Study::new()), "W1");
    let mut study = Study::new();
    for scan in study.scans.iter_mut().filter(|scan| !scan.cell("level").is_empty()) {
        // 62.004 g/mol: nitrate by the atomic masses of N and O.
        let level: f64 = scan.cell("level").parse().expect("a level");
        scan.set("level", &(level / 62.004e-3).to_string());
        scan.set("unit", "µmol/L");
    }
    let found = quantified(&report_of(&study), "W1");
    for (expected, found) in expected.iter().zip(found) {
        assert!((found / expected - 1.0).abs() < 1e-4, "{expected} {found}");
    }
}

#[test]
fn a_folder_gives_the_same_bits_as_its_files_in_memory() {
    let files = Study::new().files();
    let folder = tempfile::tempdir().expect("a temporary folder");
    files.write_into(folder.path());
    let input = stillwell_folder::open(folder.path(), |_| {}).expect("readable");
    let report = stillwell_method::determine(&input);
    let in_memory = quantified(&determined(&files).expect("readable"), "W1");
    assert_eq!(quantified(&report, "W1").map(f64::to_bits), in_memory.map(f64::to_bits));
}

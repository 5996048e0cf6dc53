//! Attacks on the chain: ways to get a confident wrong number out of a method, a run sheet or a file that looks right.

use stillwell_method::{
    Check, Determination, Effect, Input, Outcome, Override, Report, Role, Row, determine,
};
use stillwell_quantity::Concentration;

use crate::alder_vale::{Came, Study, came, change, currents, is_sample, of, rows_mut, truth, wrongly_below};

fn speaks(determination: &Determination, check: Check, effect: Effect) -> bool {
    determination.findings.iter().any(|finding| finding.check == check && finding.effect == effect)
}

type Spoil = fn(&mut Study);
type Keep<'k> = &'k dyn Fn(&Row) -> bool;

fn after(attack: impl FnOnce(&mut Input)) -> Report {
    let mut input = Study::input();
    attack(&mut input);
    determine(&input)
}

fn problems_of(study: &Study) -> String {
    study.assembled().expect_err("the input is refused").to_string()
}

/// A run sheet with one more column, filled for the rows that `wanted` picks.
fn with_column(study: &mut Study, name: &str, wanted: &str, value: &str) {
    let mut lines = study.sheet.lines();
    let mut sheet = format!("{},{name}\n", lines.next().expect("a header"));
    for line in lines {
        let cell = if line.starts_with(wanted) { value } else { "" };
        sheet.push_str(line);
        sheet.push(',');
        sheet.push_str(cell);
        sheet.push('\n');
    }
    study.sheet = sheet;
}

fn in_sheet(study: &mut Study, from: &str, to: &str) {
    assert!(study.sheet.contains(from), "{from} is not in the run sheet");
    study.sheet = study.sheet.replace(from, to);
}

fn override_of(row: &mut Row, check: Check) {
    row.overrides.push(Override { check: check.id().to_owned(), reason: "seen and accepted".to_owned() });
}

#[test]
fn a_limit_on_another_analyte_is_refused_with_the_method_and_not_dropped() {
    let mut study = Study::read();
    study.in_method("use = \"us-nitrate\"", "use = \"who-nitrite\"");
    let words = problems_of(&study);
    assert!(words.contains("method.toml:") && words.contains("nitrite"), "{words}");
}

#[test]
fn every_determination_is_judged_against_every_limit() {
    let report = determine(&Study::input());
    assert!(report.determinations.iter().all(|determination| determination.decisions.len() == 2));
}

#[test]
fn overriding_one_check_leaves_the_others_in_force() {
    // AV-04 was cut off by its range: the peak is too narrow and stands elsewhere. Overriding the one must not let the other through.
    let report = after(|input| {
        rows_mut(input, |row| is_sample(row, "AV-04")).for_each(|row| override_of(row, Check::PeakShift));
    });
    let well = of(&report, "AV-04");
    assert_eq!(came(well, truth("AV-04")), Came::Refused);
    assert!(well.refusals().any(|finding| finding.check == Check::PeakWidth));
    assert!(well.findings.iter().any(|finding| finding.overridden.is_some()), "the override is not shown");
}

#[test]
fn a_check_that_left_no_signal_cannot_be_overridden() {
    // One scan shows its maximum on the window's edge; the sample stays condemned, whoever overrides it.
    let report = after(|input| {
        change(
            input,
            |row| is_sample(row, "AV-03"),
            |currents_a, nth| {
                if nth == 0 {
                    for point in (30..currents_a.len()).rev() {
                        currents_a[point] = currents_a[point - 30];
                    }
                }
            },
        );
        let first = |row: &Row| is_sample(row, "AV-03") && row.scan == 7;
        rows_mut(input, first).for_each(|row| override_of(row, Check::EdgeMaximum));
    });
    let well = of(&report, "AV-03");
    assert_eq!(came(well, truth("AV-03")), Came::Refused, "{:#?}", well.findings);
    assert!(well.refusals().any(|finding| finding.check == Check::EdgeMaximum));
}

#[test]
fn a_check_standard_that_fails_between_two_scans_of_a_sample_withholds_its_verdict() {
    let report = after(|input| {
        let rows = &mut input.run_sheet.rows;
        let check: Vec<Row> = rows
            .iter()
            .filter(|row| row.batch == "B2" && row.role == Role::CheckStandard)
            .take(2)
            .cloned()
            .collect();
        rows.retain(|row| !check.contains(row));
        let middle = rows.iter().position(|row| is_sample(row, "AV-03")).expect("AV-03") + 3;
        for (place, row) in check.into_iter().enumerate() {
            let (file, scan) = (row.file.clone(), row.scan - 1);
            let currents_a = &mut input.files.get_mut(&file).expect("the file").scans[scan].current_a;
            for current_a in currents_a.iter_mut() {
                *current_a *= 0.7;
            }
            rows.insert(middle + place, row);
        }
    });
    let well = of(&report, "AV-03");
    assert!(speaks(well, Check::CheckStandard, Effect::Withheld), "{:#?}", well.findings);
}

/// Makes the last two check standards of batch 2 zeros, with the currents that `edit` leaves of a blank.
fn late_zero(input: &mut Input, edit: impl Fn(&mut f64, usize)) {
    let blank = currents(input, "standards-B2.txt", 0);
    let kind = input.method.analyte.reported_as.clone();
    let late = |row: &Row| row.file == "opening-checks-B2.txt" && row.role == Role::CheckStandard;
    for row in rows_mut(input, |row| late(row) && row.scan > 2) {
        row.level = Concentration::of_kind(0.0, kind.clone()).ok();
    }
    change(
        input,
        |row| late(row) && row.scan > 2,
        |currents_a, nth| {
            for (point, current_a) in currents_a.iter_mut().enumerate() {
                *current_a = blank[point] + 1e-12 * (nth * point) as f64;
                edit(current_a, point);
            }
        },
    );
}

/// A bell of this height where the nitrate peak lies, A.
fn bell(point: usize, height_a: f64) -> f64 {
    let distance = (point as f64 - 77.0) / 9.0;
    height_a * libm::exp(-0.5 * distance * distance)
}

#[test]
fn a_late_zero_that_reads_off_withholds_on_either_side_though_the_first_zeros_were_good() {
    for (height_a, side) in [(-1.0e-6, "contaminated"), (1.0e-6, "over-subtracted")] {
        let report = after(|input| late_zero(input, |current_a, point| *current_a += bell(point, height_a)));
        let well = of(&report, "AV-03");
        assert!(speaks(well, Check::BatchBlank, Effect::Withheld), "{side}: {:#?}", well.findings);
    }
    let report = after(|input| late_zero(input, |_, _| {}));
    assert!(!speaks(of(&report, "AV-03"), Check::BatchBlank, Effect::Withheld));
}

#[test]
fn with_one_calibration_for_all_lots_a_lot_without_standards_is_refused() {
    let mut study = Study::read();
    study.in_method("per = \"lot\"", "per = \"all-lots\"");
    let mut input = study.assembled().expect("the scenario");
    // Only lot L21 keeps its standards; the wells of batch 2 are on L22.
    for row in rows_mut(&mut input, |row| row.role == Role::Standard && row.lot != "L21") {
        row.exclude = Some("left out of this calibration".to_owned());
    }
    input.run_sheet.rows.retain(|row| row.role != Role::Standard || row.lot == "L21");
    let report = determine(&input);
    let well = of(&report, "AV-03");
    assert!(well.refusals().any(|finding| finding.check == Check::LotNotCalibrated), "{:#?}", well.findings);
}

#[test]
fn with_one_calibration_for_all_lots_a_living_strip_of_another_lot_proves_nothing() {
    let mut study = Study::read();
    study.in_method("per = \"lot\"", "per = \"all-lots\"");
    let mut input = study.assembled().expect("the scenario");
    let is_control = |row: &Row| row.batch == "B1" && row.role == Role::ElectrodeControl;
    rows_mut(&mut input, is_control).for_each(|row| row.lot = "L22".to_owned());
    for row in rows_mut(&mut input, |row| row.role == Role::Blank && row.batch == "B1") {
        row.lot = String::new();
    }
    let well = of(&determine(&input), "AV-05").clone();
    assert!(well.refusals().any(|finding| finding.check == Check::ElectrodeControl), "{:#?}", well.findings);
}

#[test]
fn a_duplicate_above_the_range_withholds_the_verdict_of_a_low_sample() {
    let report = after(|input| {
        let high: Vec<Vec<f64>> = (0..6).map(|scan| currents(input, "standards-B1.csv", 30 + scan)).collect();
        change(
            input,
            |row| row.role == Role::Duplicate,
            |currents_a, nth| {
                // The highest standards, their peak doubled.
                *currents_a = high[nth].clone();
                for (point, current_a) in currents_a.iter_mut().enumerate() {
                    *current_a += bell(point, -9e-6);
                }
            },
        );
    });
    let duplicate = report.determinations.iter().find(|d| d.role == Role::Duplicate).expect("a duplicate");
    assert!(matches!(duplicate.outcome, Outcome::AboveRange(_)), "{duplicate:#?}");
    assert!(speaks(of(&report, "AV-01"), Check::DuplicatesDisagree, Effect::Withheld));
}

#[test]
fn two_dilutions_of_one_sample_must_agree() {
    // The second half of AV-07's strips is said to be diluted 1 : 4; it was 1 : 2.
    let report = after(|input| {
        for row in rows_mut(input, |row| is_sample(row, "AV-07") && row.scan > 10) {
            row.dilution =
                row.dilution.map(|dilution| stillwell_method::Dilution { factor: 4.0, ..dilution });
        }
    });
    let parts: Vec<&Determination> = report.determinations.iter().filter(|d| d.sample == "AV-07").collect();
    assert_eq!(parts.len(), 2);
    assert!(parts.iter().all(|part| speaks(part, Check::DuplicatesDisagree, Effect::Withheld)));
}

#[test]
fn without_a_blank_a_turned_sign_or_a_wrong_unit_is_still_no_clean_water() {
    let ways: [(&str, Spoil); 2] = [
        ("nA for µA", |study| study.rewrite("wells-B2.txt", |_, line| line.replace("\u{b5}A", "nA"))),
        ("sign turned", |study| {
            study.rewrite("wells-B2.txt", |n, line| {
                let turned =
                    |(place, cell): (usize, &str)| match (n > 8 && place % 2 == 1, cell.strip_prefix('-')) {
                        (true, Some(rest)) => rest.to_owned(),
                        (true, None) => format!("-{cell}"),
                        (false, _) => cell.to_owned(),
                    };
                line.split(';').enumerate().map(turned).collect::<Vec<_>>().join(";")
            });
        }),
    ];
    for (name, spoil) in ways {
        let mut study = Study::read();
        study.in_method("blank = \"subtract\"", "blank = \"ignore\"");
        spoil(&mut study);
        let report = study.outcome().expect("it can be read");
        let well = of(&report, "AV-03");
        assert_eq!(came(well, truth("AV-03")), Came::Refused, "{name}: {:#?}", well.findings);
        assert!(wrongly_below(&report).is_empty());
    }
}

#[test]
fn below_the_lowest_standard_no_number_is_extrapolated() {
    // Without the zero and the 10 mg/L standards the lowest level is 25; AV-01 holds 17.6.
    let report = after(|input| {
        input.run_sheet.rows.retain(|row| {
            row.role != Role::Standard || row.level.as_ref().is_some_and(|level| level.value() > 20.0)
        });
    });
    let well = of(&report, "AV-01");
    let Outcome::BelowQuantification(less) = &well.outcome else { panic!("{well:#?}") };
    assert!(less.less_than.value() >= 25.0);
    let lacking = &report.calibrations[0].findings;
    let plan =
        lacking.iter().find(|finding| finding.found.contains("0 on 0 of 3")).expect("the plan is checked");
    assert_eq!((plan.check, plan.effect), (Check::CalibrationAcceptance, Effect::Warned));
}

#[test]
fn a_strip_that_served_another_solution_withholds_the_verdict() {
    let report = after(|input| {
        for row in rows_mut(input, |row| is_sample(row, "AV-03") && row.electrode == "L22-29") {
            "L22-26".clone_into(&mut row.electrode);
        }
    });
    assert!(speaks(of(&report, "AV-03"), Check::ElectrodeReused, Effect::Withheld));
    assert!(!speaks(of(&report, "AV-01"), Check::ElectrodeReused, Effect::Withheld));
}

#[test]
fn a_dilution_without_uncertainty_is_spoken_of_and_an_extreme_one_stays_finite() {
    let report = after(|input| {
        for row in rows_mut(input, |row| is_sample(row, "AV-07")) {
            row.dilution = Some(stillwell_method::Dilution { factor: 1e9, standard_u: 0.0 });
        }
    });
    let well = of(&report, "AV-07");
    assert!(speaks(well, Check::Dilution, Effect::Warned));
    let Outcome::Quantified(estimate) = &well.outcome else { panic!("{well:#?}") };
    assert!(estimate.low.is_finite() && estimate.high.is_finite());
    assert!(wrongly_below(&report).is_empty());
}

#[test]
fn batches_need_no_name_and_standards_may_follow_their_samples() {
    let mut study = Study::read();
    study.sheet = study.sheet.replace(",B1,", ",,").replace(",B2,", ",,").replace(",B3,", ",,");
    let named = determine(&Study::input());
    let unnamed = study.outcome().expect("batches need no name");
    let mut input = Study::input();
    let (standards, others): (Vec<Row>, Vec<Row>) =
        input.run_sheet.rows.iter().cloned().partition(|row| row.role == Role::Standard);
    input.run_sheet.rows = others.into_iter().chain(standards).collect();
    let reordered = determine(&input);
    for report in [unnamed, reordered] {
        for sample in ["AV-01", "AV-02", "AV-03", "AV-06", "AV-07"] {
            let (one, other) = (of(&named, sample), of(&report, sample));
            let value = |d: &Determination| match &d.outcome {
                Outcome::Quantified(e) => (e.value.value().to_bits(), e.high.to_bits()),
                Outcome::AboveRange(a) => (a.at_least.value().to_bits(), 0),
                _ => (0, 0),
            };
            assert_eq!(value(one), value(other), "{sample}");
        }
    }
}

#[test]
fn a_sample_in_two_batches_is_determined_in_each_and_must_agree() {
    let report = after(|input| {
        rows_mut(input, |row| is_sample(row, "AV-03")).for_each(|row| "AV-01".clone_into(&mut row.sample));
    });
    let both: Vec<&Determination> =
        report.determinations.iter().filter(|d| d.sample == "AV-01" && d.role == Role::Sample).collect();
    assert_eq!(both.len(), 2);
    assert!(both.iter().all(|one| speaks(one, Check::DuplicatesDisagree, Effect::Withheld)));
}

#[test]
fn levels_in_other_units_are_converted_and_units_without_a_species_are_refused() {
    let mut study = Study::read();
    in_sheet(&mut study, ",50,mg/L as NO3-,", ",11.2947,mg/L as N,");
    let (one, other) = (determine(&Study::input()), study.outcome().expect("as N is nitrate too"));
    let value = |report: &Report| match &of(report, "AV-02").outcome {
        Outcome::Quantified(estimate) => estimate.value.value(),
        other => panic!("{other:?}"),
    };
    assert!((value(&one) / value(&other) - 1.0).abs() < 1e-4, "{} {}", value(&one), value(&other));
    let mut study = Study::read();
    in_sheet(&mut study, ",50,mg/L as NO3-,", ",50,mg/L,");
    assert!(problems_of(&study).contains("unit"));
    for number in ["NaN", "inf", "-50", "1e400", "5O", "50 mg"] {
        let mut study = Study::read();
        in_sheet(&mut study, ",50,mg/L as NO3-,", &format!(",{number},mg/L as NO3-,"));
        assert!(problems_of(&study).contains("level"), "{number}");
    }
}

#[test]
fn a_unit_on_the_run_sheet_that_the_method_contradicts_is_refused() {
    let mut study = Study::read();
    study.method.push_str("\n[reading]\ncurrent_unit = \"µA\"\n");
    with_column(&mut study, "current_unit", "wells-B1.csv", "nA");
    let words = problems_of(&study);
    assert!(words.contains("current_unit of wells-B1.csv"), "{words}");
}

#[test]
fn a_control_that_fails_after_the_samples_withholds_too() {
    let report = after(|input| {
        let late = |row: &Row| row.file == "closing-checks-B2.txt" && row.scan > 2;
        let kind = input.method.analyte.reported_as.clone();
        for row in rows_mut(input, late) {
            row.role = Role::ElectrodeControl;
            row.level = Concentration::of_kind(50.0, kind.clone()).ok();
        }
        change(input, late, |currents_a, _| currents_a.iter_mut().for_each(|current_a| *current_a *= 0.5));
    });
    assert!(speaks(of(&report, "AV-03"), Check::ElectrodeControl, Effect::Withheld));
}

#[test]
fn numbers_that_are_no_numbers_end_in_refusals() {
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, f64::MIN_POSITIVE] {
        let report = after(|input| {
            change(input, |row| is_sample(row, "AV-03"), |currents_a, _| currents_a.fill(value));
        });
        assert_eq!(came(of(&report, "AV-03"), truth("AV-03")), Came::Refused, "{value}");
        let report = after(|input| {
            change(input, |row| is_sample(row, "AV-03"), |currents_a, nth| currents_a[70 + nth] = value);
        });
        assert_ne!(came(of(&report, "AV-03"), truth("AV-03")), Came::Wrong, "{value}");
    }
}

#[test]
fn two_levels_or_one_strip_a_level_give_wide_intervals_or_none() {
    let only = |input: &mut Input, keep: &dyn Fn(&Row) -> bool| {
        input.run_sheet.rows.retain(|row| row.role != Role::Standard || keep(row));
    };
    let level = |row: &Row| row.level.as_ref().map_or(f64::NAN, Concentration::value);
    let thin: [(&str, Keep<'_>); 4] = [
        ("two levels", &|row| [0.0, 100.0].contains(&level(row))),
        ("one level", &|row| level(row) == 50.0),
        ("three scans", &|row| {
            ["L22-04", "L22-13", "L22-19"].contains(&row.electrode.as_str()) && row.electrode_scan == Some(1)
        }),
        ("two scans", &|row| {
            ["L22-04", "L22-19"].contains(&row.electrode.as_str()) && row.electrode_scan == Some(1)
        }),
    ];
    for (name, keep) in thin {
        let report = after(|input| only(input, keep));
        let well = of(&report, "AV-03");
        let width = match &well.outcome {
            Outcome::Quantified(estimate) => estimate.high - estimate.low,
            _ => f64::NAN,
        };
        println!("{name:<12} {:?} width {width:.1}", came(well, truth("AV-03")));
        assert_ne!(came(well, truth("AV-03")), Came::Wrong, "{name}");
        assert!(wrongly_below(&report).is_empty(), "{name}");
    }
}

#[test]
fn excluding_a_clipped_scan_with_a_reason_withholds_the_verdict_of_the_others() {
    let report = after(|input| {
        change(
            input,
            |row| is_sample(row, "AV-03"),
            |currents_a, nth| {
                if nth == 0 {
                    for current_a in currents_a.iter_mut() {
                        *current_a = current_a.max(-12e-6);
                    }
                }
            },
        );
        let first = rows_mut(input, |row| is_sample(row, "AV-03")).next().expect("a scan of AV-03");
        first.exclude = Some("looked odd".to_owned());
    });
    let determination = of(&report, "AV-03");
    assert!(speaks(determination, Check::ExcludedScans, Effect::Withheld), "{:?}", determination.findings);
}

//! Run sheets that are not what they should be: each is refused with line, column, text and cure, all lines at once.

use crate::command::{assert_refused, folder_with, on};
use crate::small_study::{Files, Study};

fn edited(from: &str, to: &str) -> Files {
    let mut files = Study::new().files();
    files.edit("run-sheet.csv", from, to);
    files
}

fn sheet(content: impl Into<Vec<u8>>) -> Files {
    let mut files = Study::new().files();
    files.put("run-sheet.csv", content);
    files
}

/// What `determine` prints for a study that is readable but cannot give a number.
fn refused_in_the_report(study: &Study, says: &str) {
    let folder = folder_with(&study.files());
    let run = on("determine", folder.path(), &[]);
    assert_eq!(run.code, Some(1), "{}", run.stderr);
    let line = run.stdout.lines().find(|line| line.starts_with("W1 ")).expect("a line for W1");
    assert!(line.contains("refused") && line.contains("UNKNOWN"), "{line}");
    assert!(!line.contains(|c: char| c.is_ascii_digit() && c != '1'), "a number stands in {line:?}");
    assert!(run.stdout.contains(says), "{}", run.stdout);
}

#[test]
fn an_unknown_column_names_the_nearest_known_one() {
    assert_refused(
        &edited("electrode_scan", "electrod_scan"),
        &["run-sheet.csv:1:48: unknown column `electrod_scan`", "cure: did you mean `electrode_scan`?"],
    );
}

#[test]
fn a_column_that_stands_twice_or_is_missing() {
    assert_refused(
        &edited("channel", "lot"),
        &["run-sheet.csv:1:63: column `lot` stands twice", "cure: keep one"],
    );
    assert_refused(&sheet("file,role\nwells.csv,sample\n"), &["run-sheet.csv", "`scan`", "cure:"]);
}

#[test]
fn a_scan_number_beyond_those_of_the_file() {
    assert_refused(
        &edited("wells.csv,3,", "wells.csv,9,"),
        &["run-sheet.csv:25:1: wells.csv has 3 scan(s); there is no scan 9", "cure: a number from 1 to 3"],
    );
}

#[test]
fn a_scan_that_is_not_named() {
    let files = Study::new().files();
    let lines: Vec<&str> =
        files.text("run-sheet.csv").lines().filter(|line| !line.starts_with("wells.csv,2,")).collect();
    assert_refused(
        &sheet(lines.join("\n")),
        &["wells.csv: the run sheet does not name scan 2", "cure: add a line for each", "under `exclude`"],
    );
}

#[test]
fn a_scan_that_is_named_twice() {
    assert_refused(
        &edited("wells.csv,3,", "wells.csv,2,"),
        &[
            "run-sheet.csv:25:1: wells.csv, scan 2 is named twice, first in line 24",
            "cure: keep the line that is right",
        ],
    );
}

#[test]
fn every_bad_line_is_told_at_once() {
    let mut files = Study::new().files();
    for (from, to) in [
        ("blanks.csv,1,blank", "blanks.csv,one,blank"),
        ("standards.csv,2,standard", "standards.csv,2,standart"),
        ("standards.csv,5,standard,,25", "standards.csv,5,standard,,-25"),
        ("standards.csv,7,standard,,50,mg/L as NO3-", "standards.csv,7,standard,,50,"),
        ("opening.csv,1,check-standard,,50", "opening.csv,1,check-standard,,"),
        ("wells.csv,1,sample,W1", "wells.csv,1,sample,"),
        ("W1b", ""),
    ] {
        files.edit("run-sheet.csv", from, to);
    }
    let said = assert_refused(
        &files,
        &[
            "run-sheet.csv:2:12: scan: \"one\" is not a count cure: a whole number from 1",
            "run-sheet.csv:5:17: role: \"standart\" is not a role",
            "did you mean \"standard\"?",
            "run-sheet.csv:8:27: level: \"-25\" is not accepted cure: a concentration from 0",
            "run-sheet.csv:10:30: unit: is blank beside a level cure: the unit and species, such as mg/L as NO3-",
            "run-sheet.csv:19:31: level: a check-standard needs its level",
            "run-sheet.csv:23:20: sample: a sample needs the sample's identity",
            "run-sheet.csv:24:28: electrode: is blank",
            "7 problems",
        ],
    );
    let places: Vec<usize> = said.lines().filter_map(|line| line.split(':').nth(2)?.parse().ok()).collect();
    assert_eq!(places, [2, 5, 8, 10, 19, 23, 24], "in the order of the lines");
}

#[test]
fn a_unit_that_does_not_say_how_nitrate_is_counted() {
    for unit in ["mg/L", "ppm"] {
        let says = [
            "run-sheet.csv:4:29: unit:",
            &format!("\"{unit}\" does not say whether nitrate is counted as NO₃⁻ or as N"),
            "Write \"mg/L as NO3-\" or \"mg/L as N\"",
        ];
        assert_refused(&edited("mg/L as NO3-", unit), &says);
    }
}

#[test]
fn a_unit_of_another_substance() {
    assert_refused(
        &edited("mg/L as NO3-", "mg/L as NO2-"),
        &["run-sheet.csv:4:29: unit: \"mg/L as NO2-\"", "nitrate is expected; accepted: as NO3-, as N"],
    );
}

#[test]
fn micromole_per_litre_is_accepted_and_converted() {
    for (unit, per_mg_per_l) in [("µmol/L", 1.0 / 62.004e-3), ("mg/L as N", 14.007 / 62.004)] {
        let mut study = Study::new();
        for scan in study.scans.iter_mut().filter(|scan| !scan.cell("level").is_empty()) {
            let level: f64 = scan.cell("level").parse().expect("a level");
            scan.set("level", &(level * per_mg_per_l).to_string());
            scan.set("unit", unit);
        }
        let printed = |study: &Study| {
            let folder = folder_with(&study.files());
            let run = on("determine", folder.path(), &[]);
            assert_eq!(run.code, Some(0), "{}", run.stderr);
            run.stdout.lines().find(|line| line.starts_with("W1 ")).expect("a line for W1").to_owned()
        };
        assert_eq!(printed(&study), printed(&Study::new()), "{unit}");
    }
}

#[test]
fn standards_of_one_level_make_no_calibration() {
    let mut study = Study::new();
    study.scans.retain(|scan| scan.cell("role") != "standard" || scan.cell("level") == "50");
    refused_in_the_report(&study, "all standards have the level 50");
}

#[test]
fn a_study_without_a_blank() {
    let mut study = Study::new();
    study.scans.retain(|scan| scan.cell("role") != "blank");
    refused_in_the_report(&study, "record a blank with this lot and channel");
}

#[test]
fn a_study_without_standards() {
    let mut study = Study::new();
    study.scans.retain(|scan| scan.cell("role") != "standard");
    refused_in_the_report(&study, "measure standards on this lot");
    let folder = folder_with(&study.files());
    let run = on("calibrate", folder.path(), &[]);
    crate::command::assert_bad_input(
        &run,
        &["the run sheet names no standard", "cure: add lines with role standard"],
    );
}

#[test]
fn a_refused_sample_has_no_number_for_machines_either() {
    let mut study = Study::with_well_at(71.0);
    for scan in study.of_sample("W1") {
        scan.range_end_a = 15e-6;
    }
    refused_in_the_report(&study, "clipped-scan");
    let folder = folder_with(&study.files());
    let run = on("determine", folder.path(), &["--format", "json"]);
    assert_eq!(run.code, Some(1));
    assert!(run.stdout.contains("\"outcome\": \"refused\""));
    for field in ["concentration", "less_than", "at_least", "low_", "high_", "expanded_u"] {
        assert!(!run.stdout.contains(field), "{field} in {}", run.stdout);
    }
}

#[test]
fn a_withheld_verdict_keeps_its_number_and_shows_no_pass() {
    let mut study = Study::new();
    for scan in study.of_role("check-standard") {
        scan.truth = 70.0;
    }
    let folder = folder_with(&study.files());
    let run = on("determine", folder.path(), &[]);
    assert_eq!(run.code, Some(1));
    let line = run.stdout.lines().find(|line| line.starts_with("W1 ")).expect("a line for W1");
    assert!(line.contains('±') && line.contains("WITHHELD"), "{line}");
    assert!(!run.stdout.contains("nitrate below"), "{}", run.stdout);
    let json = on("determine", folder.path(), &["--format", "json"]).stdout;
    assert!(json.contains("\"verdict\": \"withheld\"") && !json.contains("\"verdict\": \"below\""), "{json}");
}

#[test]
fn an_exclusion_or_an_override_without_a_reason() {
    for tick in ["x", "1", "no", "yes", "true", "excluded"] {
        let mut study = Study::new();
        study.of_sample("W1")[0].set("exclude", tick);
        let says =
            ["run-sheet.csv:23:", &format!("exclude: \"{tick}\" gives no reason"), "cure: why the scan"];
        assert_refused(&study.files(), &says);
    }
    for given in ["clipped-scan", "clipped-scan:", "clipped-scan: x"] {
        let mut study = Study::new();
        study.of_sample("W1")[0].set("override", given);
        assert_refused(
            &study.files(),
            &["run-sheet.csv:23:", &format!("override: \"{given}\" gives no reason")],
        );
    }
}

#[test]
fn an_override_of_an_unknown_check_names_the_nearest_known_one() {
    let mut study = Study::new();
    study.of_sample("W1")[0].set("override", "cliped-scan: seen and accepted");
    assert_refused(&study.files(), &["\"cliped-scan\" is not a check", "cure: did you mean clipped-scan?"]);
}

#[test]
fn an_override_that_could_change_nothing() {
    for check in ["temperature", "bracketing", "blank-match", "calibration-acceptance", "edge-maximum"] {
        let mut study = Study::new();
        study.of_sample("W1")[0].set("override", &format!("{check}: seen and accepted"));
        let says = [
            "run-sheet.csv:23:",
            &format!("{check} cannot be overridden on a scan"),
            &format!("cure: remove it and do what `stillwell explain {check}` says"),
        ];
        assert_refused(&study.files(), &says);
    }
}

#[test]
fn numbers_and_dates_that_cannot_be() {
    for (column, text, accepted) in [
        ("temperature_c", "294", "a temperature in °C from -10 to 100"),
        ("temperature_c", "warm", "a temperature in °C from -10 to 100"),
        ("temperature_c", "nan", "a temperature in °C from -10 to 100"),
        ("ph", "31", "a pH from -2 to 16"),
        ("dilution", "0.5", "a factor, sample over measured solution, from 1"),
        ("dilution", "inf", "a factor, sample over measured solution, from 1"),
        ("dilution_u", "0.1", "fill the column `dilution`"),
        ("date", "4.5.2026", "a date such as 2026-05-04"),
        ("electrode_scan", "0", "a whole number from 1"),
    ] {
        let mut study = Study::new();
        study.of_sample("W1")[0].set(column, text);
        assert_refused(&study.files(), &["run-sheet.csv:23:", column, accepted]);
    }
}

#[test]
fn more_cells_than_columns() {
    let mut files = Study::new().files();
    let text =
        files.text("run-sheet.csv").replace("W1a,1,,D1,,21.0,,,,,,,", "W1a,1,,D1,,21.0,,,,,,,,and more");
    files.put("run-sheet.csv", text);
    assert_refused(&files, &["run-sheet.csv:23:", "more cells than the header has columns", "quote a text"]);
}

#[test]
fn an_empty_run_sheet_and_one_that_names_nothing() {
    assert_refused(
        &sheet(""),
        &["run-sheet.csv: the run sheet is empty", "cure: first line: file,scan,role"],
    );
    assert_refused(
        &sheet("file,scan,role\n"),
        &["run-sheet.csv: the run sheet names no scan", "cure: write one line"],
    );
}

#[test]
fn a_run_sheet_that_is_not_utf_8() {
    let files = Study::new().files();
    let latin_1 = files.text("run-sheet.csv").replace("W1a", "W1a\u{b5}").replace('\u{b5}', "?");
    let mut bytes = latin_1.into_bytes();
    let at = bytes.iter().position(|byte| *byte == b'?').expect("a mark");
    bytes[at] = 0xB5;
    let says = [&format!("run-sheet.csv: not UTF-8 from byte {at}"), "cure: save the file as UTF-8 text"];
    assert_refused(&sheet(bytes), &says);
}

#[test]
fn a_run_sheet_without_a_sample_determines_nothing_and_says_so() {
    let mut study = Study::new();
    study.scans.retain(|scan| scan.cell("role") != "sample");
    let folder = folder_with(&study.files());
    let run = on("determine", folder.path(), &[]);
    assert_eq!(run.code, Some(1), "{}", run.stdout);
    assert!(run.stdout.contains("the run sheet names no sample: nothing is determined"), "{}", run.stdout);
}

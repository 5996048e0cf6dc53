//! `--figure`: what is drawn, where it goes, and what is refused.

use std::fs;

use crate::command::{Run, stillwell};

const FOLDER: &str = "examples/alder-vale";

fn in_folder(command: &str, further: &[&str]) -> (Run, tempfile::TempDir) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let figure = folder.path().join("figure.svg");
    let mut arguments = vec![command, FOLDER, "--figure", figure.to_str().expect("UTF-8")];
    arguments.extend(further);
    (stillwell(&arguments), folder)
}

fn names(folder: &tempfile::TempDir) -> Vec<String> {
    let entries = fs::read_dir(folder.path()).expect("the folder");
    let mut names: Vec<String> =
        entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

fn drawn(folder: &tempfile::TempDir, name: &str) -> String {
    fs::read_to_string(folder.path().join(name)).expect("a figure")
}

#[test]
fn the_first_refused_scan_is_drawn_with_its_reason() {
    let (run, folder) = in_folder("evaluate", &[]);
    assert_eq!(run.code, Some(1), "{}", run.stderr);
    assert!(run.stdout.contains("\nfigure: "), "{}", run.stdout);
    let figure = drawn(&folder, "figure.svg");
    assert!(figure.contains("wells-B2.txt, scan 13") && figure.contains("peak-width"));
}

#[test]
fn a_named_scan_is_drawn_with_its_signal() {
    let (run, folder) = in_folder("evaluate", &["--scan", "standards-B1.csv:11", "--format", "json"]);
    assert_eq!(run.code, Some(1), "{}", run.stderr);
    serde_json::from_str::<serde_json::Value>(&run.stdout).expect("JSON and nothing else");
    assert!(drawn(&folder, "figure.svg").contains("2.96 µA at −0.607 V"));
}

#[test]
fn each_calibration_has_its_file_unless_one_lot_is_named() {
    let (run, folder) = in_folder("calibrate", &[]);
    assert_eq!(run.code, Some(0), "{}", run.stderr);
    assert_eq!(
        names(&folder),
        ["figure-lot-L21-channel-1.svg", "figure-lot-L22-channel-1.svg", "figure-lot-L23-channel-1.svg"]
    );
    let (run, folder) = in_folder("calibrate", &["--lot", "L22"]);
    assert_eq!(run.code, Some(0), "{}", run.stderr);
    assert!(drawn(&folder, "figure.svg").contains("Calibration: lot L22"));
}

#[test]
fn what_is_not_there_or_is_no_figure_is_refused() {
    for (command, further, says) in [
        ("evaluate", ["--scan", "wells-B9.txt:1"], "such as blanks-B1.csv:1"),
        ("evaluate", ["--scan", "wells-B2.txt:999"], "names no scan \"wells-B2.txt:999\""),
        ("calibrate", ["--lot", "L99"], "lots: L21, L22, L23"),
    ] {
        let (run, folder) = in_folder(command, &further);
        assert_eq!(run.code, Some(2), "{further:?}");
        assert!(run.stderr.contains(says), "{}", run.stderr);
        assert!(names(&folder).is_empty());
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let raw = folder.path().join("scans.csv");
    fs::write(&raw, "precious").expect("a file");
    let run = stillwell(&["evaluate", FOLDER, "--figure", raw.to_str().expect("UTF-8")]);
    assert_eq!(run.code, Some(2));
    assert!(run.stderr.contains("does not end in .svg"), "{}", run.stderr);
    assert_eq!(fs::read_to_string(&raw).expect("the file"), "precious");
    let run = stillwell(&["evaluate", FOLDER, "--figure", "no-such-folder/figure.svg"]);
    assert_eq!(run.code, Some(2));
    assert!(run.stderr.contains("a folder that may be written to"), "{}", run.stderr);
    assert_eq!(stillwell(&["evaluate", FOLDER, "--scan", "wells-B2.txt:13"]).code, Some(2));
}

//! Folders and raw files that are not what they should be: each is refused with file, place, text and cure.

use std::fs;
use std::io::Write as _;
use std::path::Path;

use crate::command::{assert_bad_input, assert_refused, folder_with, on, stillwell};
use crate::small_study::{Files, Study};

fn small() -> Files {
    Study::new().files()
}

fn with(name: &str, content: impl Into<Vec<u8>>) -> Files {
    let mut files = small();
    files.put(name, content);
    files
}

fn without(name: &str) -> Files {
    let mut files = small();
    assert!(files.0.remove(name).is_some());
    files
}

#[test]
fn the_study_that_these_tests_bend_is_valid() {
    let folder = folder_with(&small());
    let run = on("determine", folder.path(), &[]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(0), ""));
    assert!(run.stdout.contains("nitrate below 50 mg/L as NO₃⁻"), "{}", run.stdout);
}

#[test]
fn an_empty_raw_file() {
    for content in ["", "\n\n   \n"] {
        let says = ["wells.csv: the file is empty", "A scan needs lines of a potential and a current"];
        assert_refused(&with("wells.csv", content), &says);
    }
}

#[test]
fn a_binary_file() {
    let picture = [0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A, 0, 0, 0, 13];
    assert_refused(
        &with("wells.csv", picture),
        &["wells.csv", "byte 0x00 at offset 8", "this is a binary file", "Export the scan as text"],
    );
}

#[test]
fn a_directory_where_a_file_is_named() {
    for name in ["wells.csv", "method.toml", "run-sheet.csv"] {
        let folder = folder_with(&without(name));
        fs::create_dir(folder.path().join(name)).expect("made");
        let run = on("determine", folder.path(), &[]);
        assert_bad_input(&run, &[name, "is a folder where a file is expected", "cure: put the file there"]);
    }
}

#[test]
fn a_directory_beside_the_files_is_left_alone() {
    let folder = folder_with(&small());
    fs::create_dir(folder.path().join("old")).expect("made");
    fs::create_dir(folder.path().join("sample")).expect("made");
    assert_eq!(on("determine", folder.path(), &[]).code, Some(0));
}

#[test]
fn a_directory_for_inspect() {
    assert_bad_input(
        &stillwell(&["inspect", "examples"]),
        &["examples: cannot be read", "cure: check that it is a file"],
    );
}

#[test]
fn a_file_that_the_run_sheet_names_but_is_not_there() {
    assert_refused(
        &without("wells.csv"),
        &["run-sheet.csv:23:1: there is no file wells.csv", "cure: put the file into the folder"],
    );
}

#[test]
fn a_file_under_nearly_the_name_that_the_run_sheet_has() {
    let mut files = without("wells.csv");
    files.put("weels.csv", small().text("wells.csv"));
    let says = [
        "there is no file wells.csv",
        "did you mean weels.csv?",
        "weels.csv: is in the folder",
        "2 problems",
    ];
    assert_refused(&files, &says);
}

#[test]
fn a_file_that_the_run_sheet_does_not_name() {
    let says = ["late.csv: is in the folder, but the run sheet does not name it", "cure: add its scans"];
    assert_refused(&with("late.csv", small().text("wells.csv")), &says);
}

#[test]
fn a_named_file_is_read_whatever_its_ending() {
    let mut files = without("wells.csv");
    files.put("wells.swv", small().text("wells.csv"));
    files.put("run-sheet.csv", small().text("run-sheet.csv").replace("wells.csv", "wells.swv"));
    let folder = folder_with(&files);
    assert_eq!(on("determine", folder.path(), &[]).code, Some(0));
}

#[test]
fn a_raw_file_that_breaks_off_within_a_line() {
    let files = small();
    let text = files.text("wells.csv");
    let cut = text.find("-0.592").expect("a potential") + "-0.592,-7".len();
    let says = ["wells.csv:75:", "the file breaks off in this line", "Export it again"];
    assert_refused(&with("wells.csv", &text[..cut]), &says);
}

#[test]
fn a_raw_file_that_breaks_off_between_two_lines_gives_no_number() {
    let files = small();
    let text = files.text("wells.csv");
    let cut = text.find("-0.700").expect("a potential");
    let folder = folder_with(&with("wells.csv", &text[..cut]));
    let run = on("determine", folder.path(), &[]);
    assert_eq!(run.code, Some(1));
    let line = run.stdout.lines().find(|line| line.starts_with("W1 ")).expect("a line for W1");
    assert!(line.contains("refused") && line.contains("UNKNOWN"), "{line}");
    assert!(run.stdout.contains("100 points, at least 135 needed"), "{}", run.stdout);
}

#[test]
fn letters_among_the_numbers() {
    let mut files = small();
    files.edit("wells.csv", "-0.400,-", "-0.400,oops-");
    assert_refused(&files, &["wells.csv:27:2: not a number", "Accepted here", "text: oops-1."]);
}

/// Ten million lines are more than any scan has: refused by size, before or while reading, within bounded memory.
#[test]
fn a_file_of_ten_million_lines() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (line, says) in [("-0.304,-1.2\n", "bytes"), ("1\t2\t3\n", "cells")] {
        let path = folder.path().join("endless.csv");
        let mut file = fs::File::create(&path).expect("made");
        let chunk = line.repeat(100_000);
        for _ in 0..100 {
            file.write_all(chunk.as_bytes()).expect("written");
        }
        file.flush().expect("written");
        let run = stillwell(&["inspect", path.to_str().expect("UTF-8")]);
        assert_bad_input(&run, &["endless.csv", says]);
    }
}

#[test]
fn a_raw_file_that_may_not_be_read() {
    let folder = folder_with(&small());
    let path = folder.path().join("wells.csv");
    if !withdraw_permission(&path) {
        println!("skipped: this user may read every file");
        return;
    }
    let run = on("determine", folder.path(), &[]);
    assert_bad_input(
        &run,
        &["wells.csv: cannot be read", "cure: check that it is a file and that you may read it"],
    );
}

/// Whether the file can no longer be read; the superuser reads it all the same.
#[cfg(unix)]
fn withdraw_permission(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt as _;
    fs::set_permissions(path, fs::Permissions::from_mode(0o000)).expect("own file");
    fs::read(path).is_err()
}

#[cfg(not(unix))]
fn withdraw_permission(_path: &Path) -> bool {
    false
}

#[test]
fn not_a_folder() {
    for command in ["determine", "evaluate", "calibrate"] {
        for path in ["README.md", "no-such-folder"] {
            let run = on(command, Path::new(path), &[]);
            assert_bad_input(
                &run,
                &[path, "is not a folder", "cure: name the folder that holds method.toml"],
            );
        }
    }
}

#[test]
fn a_folder_without_a_method_or_a_run_sheet() {
    assert_refused(&without("method.toml"), &["there is no method.toml", "cure: write a method file"]);
    assert_refused(
        &without("run-sheet.csv"),
        &["there is no run-sheet.csv", "cure: write one line for each scan"],
    );
}

#[test]
fn a_file_to_inspect_that_is_not_there() {
    assert_bad_input(
        &stillwell(&["inspect", "no-such-file.csv"]),
        &["no-such-file.csv: cannot be read", "cure:"],
    );
}

#[test]
fn names_on_the_command_line_that_mean_nothing() {
    let chain = stillwell(&["determine", "examples/alder-vale", "--show-chain", "AV-99"]);
    assert_bad_input(&chain, &["there is no sample \"AV-99\"", "cure: samples: AV-01, AV-05, AV-02"]);
    assert_bad_input(
        &stillwell(&["explain", "cliped-scan"]),
        &["there is no check \"cliped-scan\"", "cure:"],
    );
    assert_bad_input(&stillwell(&["man", "README.md/man"]), &["README.md/man", "cure: name a folder"]);
    assert_bad_input(&stillwell(&["determin", "examples/alder-vale"]), &["determine", "--help"]);
    assert_bad_input(&stillwell(&["determine"]), &["<FOLDER>"]);
    assert_bad_input(&stillwell(&["determine", "examples/alder-vale", "--format", "xml"]), &["table, json"]);
    assert_bad_input(&stillwell(&["inspect"]), &["<FILES>"]);
}

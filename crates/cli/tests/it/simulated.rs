//! `twin` and `foresee`: what they write and say, and what they refuse.

use std::fs;
use std::path::Path;

use crate::command::{Run, assert_bad_input, on, root, stillwell, stillwell_in};

const CELL: &str = "examples/cells/copper-strip.toml";
const CIRCUIT: &str = "examples/cells/handheld.toml";

fn twin(out: &Path, further: &[&str]) -> Run {
    let out = out.to_str().expect("UTF-8");
    stillwell(&[&["twin", "examples/alder-vale", "--cell", CELL, "--out", out], further].concat())
}

fn foresee(further: &[&str]) -> Run {
    let asked = ["foresee", "examples/alder-vale", "--cell", CELL, "--circuit", CIRCUIT];
    stillwell(&[&asked, further].concat())
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("the folder");
    let mut names: Vec<String> =
        entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn the_folder_is_determined_right_away_and_holds_its_truth() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let out = place.path().join("made");
    let further =
        ["--levels", "0,10,25,50,75,100", "--replicates", "3", "--sample", "low=12", "--sample", "high=80"];
    let run = twin(&out, &[&further[..], &["--seed", "7"]].concat());
    assert_eq!((run.code, run.stderr.as_str()), (Some(0), ""), "{}", run.stdout);
    assert_eq!(names(place.path()), ["made"], "nothing is left beside it");
    let method = fs::read(out.join("method.toml")).expect("the method");
    assert_eq!(method, fs::read(root().join("examples/alder-vale/method.toml")).expect("the method"));
    let truth = fs::read_to_string(out.join("TRUTH.md")).expect("the truth");
    for says in [
        "not for real water",
        "| seed | 7 |",
        "| low | 12 |",
        "| high | 80 |",
        "handheld.toml of the examples",
    ] {
        assert!(truth.contains(says), "{says}: {truth}");
    }
    let determined = on("determine", &out, &["--format", "json"]);
    assert_eq!(determined.code, Some(1), "{}", determined.stderr);
    let document: serde_json::Value = serde_json::from_str(&determined.stdout).expect("JSON");
    let found = document["determinations"].as_array().expect("a list");
    for (name, truth) in [("low", 12.0), ("high", 80.0)] {
        let of_name = found.iter().find(|entry| entry["sample"] == name).expect("the sample");
        let number = |field: &str| of_name[format!("{field}_mg_per_l_as_no3")].as_f64().expect(field);
        assert!((number("concentration") - truth).abs() < 2.0 * number("expanded_u"), "{of_name:#}");
        assert_eq!(of_name["findings"].as_array().map(Vec::len), Some(0), "{of_name:#}");
    }
    let calibrated = on("calibrate", &out, &[]);
    assert_eq!(calibrated.code, Some(0), "{}", calibrated.stdout);
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_does_not() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let made = |name: &str, seed: &str| {
        let out = place.path().join(name);
        let run =
            twin(&out, &["--levels", "0,50,100", "--replicates", "1", "--sample", "W=20", "--seed", seed]);
        assert_eq!(run.code, Some(0), "{}", run.stderr);
        fs::read(out.join("standards-B1.csv")).expect("a raw file")
    };
    let first = made("a", "1");
    assert_eq!(first, made("b", "1"));
    assert_ne!(first, made("c", "2"));
}

#[test]
fn a_method_file_and_an_empty_folder_are_taken_as_well() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let out = place.path().to_str().expect("UTF-8");
    let run = stillwell(&[
        "twin",
        "examples/alder-vale/method.toml",
        "--cell",
        CELL,
        "--circuit",
        CIRCUIT,
        "--out",
        out,
        "--format",
        "json",
    ]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(0), ""));
    let document: serde_json::Value = serde_json::from_str(&run.stdout).expect("JSON");
    assert_eq!(document["levels_mg_per_l_as_no3"], serde_json::json!([0.0, 10.0, 25.0, 50.0, 75.0, 100.0]));
    assert_eq!(document["samples"][0]["truth_mg_per_l_as_no3"], 10.0);
    assert_eq!(document["files"].as_array().map(Vec::len), Some(names(place.path()).len()));
}

#[test]
fn nothing_is_overwritten_and_nothing_half_made_is_left() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let note = place.path().join("note.txt");
    fs::write(&note, "precious").expect("a file");
    assert_bad_input(&twin(place.path(), &[]), &["is not empty", "nothing is overwritten"]);
    assert_eq!(fs::read_to_string(&note).expect("the file"), "precious");
    assert_bad_input(&twin(&note, &[]), &["note.txt", "cure: name a folder"]);
    let inside = place.path().join("note.txt/inside");
    assert_bad_input(&twin(&inside, &[]), &["inside", "cure: name a folder"]);
    for further in
        [&["--levels", "0,-5,10"][..], &["--levels", "0"], &["--replicates", "0"], &["--levels", "5,5"]]
    {
        let run = twin(&place.path().join("out"), further);
        assert_bad_input(&run, &["error:", "accepted:"]);
    }
    assert_eq!(names(place.path()), ["note.txt"]);
}

#[test]
fn samples_are_named_once_and_hold_a_number() {
    let out = Path::new("never-made");
    assert_bad_input(&twin(out, &["--sample", "W1"]), &["W1=12.5"]);
    assert_bad_input(&twin(out, &["--sample", "W1=much"]), &["\"much\" is no number"]);
    assert_bad_input(&twin(out, &["--sample", "=5"]), &["the name is empty"]);
    assert_bad_input(&twin(out, &["--sample", "W=5", "--sample", "W=6"]), &["two samples are named \"W\""]);
    assert_bad_input(&twin(out, &["--sample", "W=nan"]), &["a level is NaN"]);
}

#[test]
fn a_cell_or_circuit_that_cannot_be_is_refused_with_its_place() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let root = root();
    let cell = fs::read_to_string(root.join(CELL)).expect("the cell").replace("alpha = 0.75", "alpha = 1.75");
    let circuit = fs::read_to_string(root.join(CIRCUIT)).expect("the circuit").replace("adc_bits", "adc_bit");
    fs::write(place.path().join("cell.toml"), cell).expect("a file");
    fs::write(place.path().join("circuit.toml"), circuit).expect("a file");
    let method = root.join("examples/alder-vale");
    let method = method.to_str().expect("UTF-8");
    let good_cell = root.join(CELL);
    let good_cell = good_cell.to_str().expect("UTF-8");
    let run = |arguments: &[&str]| stillwell_in(place.path(), arguments);
    let bad_cell = run(&["twin", method, "--cell", "cell.toml", "--out", "out"]);
    assert_bad_input(&bad_cell, &["cell.toml:", "alpha", "1.75"]);
    let bad_circuit = run(&["foresee", method, "--cell", good_cell, "--circuit", "circuit.toml"]);
    assert_bad_input(
        &bad_circuit,
        &["circuit.toml:", "unknown key `circuit.adc_bit`", "did you mean `adc_bits`?"],
    );
    let missing = run(&["foresee", method, "--cell", "no-cell.toml", "--circuit", "circuit.toml"]);
    assert_bad_input(&missing, &["no-cell.toml: cannot be read"]);
    assert_bad_input(
        &run(&["twin", "no-method", "--cell", good_cell, "--out", "out"]),
        &["no-method: cannot be read"],
    );
    assert_eq!(names(place.path()), ["cell.toml", "circuit.toml"]);
}

#[test]
fn what_cannot_be_varied_is_refused() {
    assert_bad_input(
        &foresee(&["--vary", "adc_bit=10,12"]),
        &["unknown key `adc_bit`", "did you mean `adc_bits`?"],
    );
    assert_bad_input(&foresee(&["--vary", "adc_bits"]), &["adc_bits=10,12,16"]);
    assert_bad_input(&foresee(&["--vary", "adc_bits=ten"]), &["`ten`", "numbers"]);
    assert_bad_input(
        &foresee(&["--vary", "adc_bits=12", "--vary", "adc_bits=16"]),
        &["`adc_bits` is varied twice"],
    );
    let many = "adc_bits=8,9,10,11,12,13,14,15,16";
    let ranges = "range_a=1e-5,2e-5,3e-5,4e-5,5e-5,6e-5,7e-5,8e-5";
    assert_bad_input(
        &foresee(&["--vary", many, "--vary", ranges]),
        &["these values make 72 circuits", "at most 64"],
    );
    assert_bad_input(&foresee(&["--figure", "trade.svg"]), &["--vary"]);
    assert_bad_input(
        &foresee(&["--vary", "adc_bits=12", "--figure", "trade.csv"]),
        &["does not end in .svg"],
    );
    assert_bad_input(&foresee(&["--trials", "0"]), &["1..=1000"]);
}

/// 8 bit on 100 µA are steps of 781 nA where the method allows 100 nA of noise; the trade study says so and goes on.
#[test]
fn a_trade_study_tells_what_fails_and_draws_the_rest() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let figure = place.path().join("trade.svg");
    let figure = figure.to_str().expect("UTF-8");
    let run = foresee(&["--vary", "adc_bits=8,16", "--trials", "2", "--figure", figure]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(1), ""));
    for says in ["No trial was calibrated with 8 bit: calibration-refused", "figure: "] {
        assert!(run.stdout.contains(says), "{says}: {}", run.stdout);
    }
    assert!(
        run.stdout.lines().all(|line| line.contains("trade.svg") || line.chars().count() <= 100),
        "{}",
        run.stdout
    );
    let drawn = fs::read_to_string(figure).expect("the figure");
    assert!(drawn.contains("1 of 2 circuits gave no") && drawn.contains("detection limit (mg/L as NO₃⁻)"));
    assert_eq!(names(place.path()), ["trade.svg"], "nothing is left beside it");
}

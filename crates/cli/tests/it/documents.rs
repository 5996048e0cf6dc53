//! What machines read: the fields of every document, with their kinds. Fields are only ever added.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::command::stillwell;

/// Two trials show every field.
const FORESEE: [&str; 8] = [
    "foresee",
    "examples/alder-vale",
    "--cell",
    "examples/cells/copper-strip.toml",
    "--circuit",
    "examples/cells/handheld.toml",
    "--trials",
    "2",
];

/// Every field as `path: kind`, lists folded into one entry.
pub(crate) fn fields(document: &Value) -> String {
    let mut found = BTreeSet::new();
    walk(document, "", &mut found);
    found.into_iter().collect::<Vec<_>>().join("\n")
}

fn walk(value: &Value, path: &str, found: &mut BTreeSet<String>) {
    let kind = match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                let path = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
                walk(value, &path, found);
            }
            return;
        }
        Value::Array(entries) => {
            for entry in entries {
                walk(entry, &format!("{path}[]"), found);
            }
            return;
        }
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "number",
        Value::String(_) => "text",
    };
    found.insert(format!("{path}: {kind}"));
}

fn document(arguments: &[&str]) -> Value {
    let run = stillwell(&[arguments, &["--format", "json"]].concat());
    assert_eq!(run.stderr, "", "{arguments:?}");
    serde_json::from_str(&run.stdout).expect("JSON")
}

#[test]
fn the_fields_of_every_document() {
    for (name, arguments) in [
        ("fields-determine", vec!["determine", "examples/alder-vale"]),
        ("fields-chain", vec!["determine", "examples/alder-vale", "--show-chain", "AV-08"]),
        ("fields-evaluate", vec!["evaluate", "examples/alder-vale"]),
        ("fields-calibrate", vec!["calibrate", "examples/alder-vale"]),
        ("fields-inspect", vec!["inspect", "examples/alder-vale/wells-B2.txt"]),
        ("fields-plan", vec!["plan", "examples/alder-vale", "--target-u", "5%", "--at", "50mg/L"]),
        ("fields-prepare", vec!["prepare", "examples/alder-vale"]),
        ("fields-budget", vec!["budget", "examples/alder-vale", "--draws", "10000"]),
        ("fields-addition", vec!["addition", "examples/alder-vale-addition"]),
        ("fields-control", vec!["control", "examples/alder-vale-year"]),
        ("fields-lot", vec!["lot", "examples/alder-vale-year"]),
        ("fields-validate", vec!["validate", "examples/alder-vale-year"]),
        ("fields-compare", vec!["compare", "examples/alder-vale-year"]),
        ("fields-foresee", [&FORESEE[..], &["--vary", "adc_bits=8,16"]].concat()),
    ] {
        let mut settings = insta::Settings::clone_current();
        settings.set_prepend_module_to_snapshot(false);
        settings.set_omit_expression(true);
        settings.bind(|| insta::assert_snapshot!(name, fields(&document(&arguments))));
    }
}

#[test]
fn a_document_says_which_contract_it_keeps() {
    assert_eq!(document(&["determine", "examples/alder-vale"])["method"]["contract"], 1);
    assert_eq!(document(&["inspect", "examples/alder-vale/wells-B1.csv"])["contract"], 1);
}

#[test]
fn no_document_holds_a_number_for_a_refused_sample() {
    let document = document(&["determine", "examples/alder-vale"]);
    let all = document["determinations"].as_array().expect("a list");
    let refused: Vec<&Value> = all.iter().filter(|entry| entry["outcome"] == "refused").collect();
    assert_eq!(refused.len(), 1);
    let numbers: Vec<&String> = refused[0]
        .as_object()
        .expect("an object")
        .iter()
        .filter(|(_, value)| value.is_number())
        .map(|(name, _)| name)
        .collect();
    assert_eq!(numbers, Vec::<&String>::new());
}

#[test]
fn a_document_of_a_folder_of_known_truth_keeps_its_fields() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let out = place.path().join("made");
    let out = out.to_str().expect("UTF-8");
    let cell = "examples/cells/copper-strip.toml";
    let made = document(&["twin", "examples/alder-vale", "--cell", cell, "--out", out]);
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!("fields-twin", fields(&made)));
}

/// Every raw file of a number is named with the hash of its bytes, as `inspect` shows it.
#[test]
fn a_number_names_its_raw_files_by_the_hash_of_their_bytes() {
    let determined = document(&["determine", "examples/alder-vale"]);
    let entry = determined["determinations"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|entry| entry["sample"] == "AV-07")
        .expect("AV-07");
    let inspected = document(&["inspect", "examples/alder-vale/wells-B3.tsv"]);
    assert_eq!(entry["raw_files"][0]["file"], "wells-B3.tsv");
    assert_eq!(entry["raw_files"][0]["blake3"], inspected["files"][0]["blake3"]);
    assert_eq!(entry["method_blake3"], determined["method"]["blake3"]);
}

/// What `dossier --format json` says is true of the file that it wrote.
#[test]
fn a_dossier_says_which_file_it_wrote() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let study = place.path().join("wells.study");
    let (study, out) = (study.to_str().expect("UTF-8"), place.path().join("d.html"));
    let run = |arguments: &[&str]| stillwell(arguments).code;
    let method = "examples/alder-vale/method.toml";
    assert_eq!(run(&["study", "new", study, "--method", method, "--as", "ines"]), Some(0));
    assert_eq!(run(&["study", "add", study, "examples/alder-vale", "--as", "ines"]), Some(0));
    let said = document(&["dossier", study, "--out", out.to_str().expect("UTF-8")]);
    let written = std::fs::read(&out).expect("written");
    assert_eq!(said["bytes"], written.len());
    assert_eq!(said["needs_attention"], true);
    assert_eq!(said["path"], out.to_str().expect("UTF-8"));
    let settings = {
        let mut settings = insta::Settings::clone_current();
        settings.set_prepend_module_to_snapshot(false);
        settings.set_omit_expression(true);
        settings
    };
    settings.bind(|| insta::assert_snapshot!("fields-dossier", fields(&said)));
    let refused = stillwell(&["dossier", study, "--out", "examples/alder-vale/method.toml"]);
    assert_eq!(refused.code, Some(2));
    assert!(refused.stderr.contains("does not end in .html"), "{}", refused.stderr);
    let no_study = stillwell(&["dossier", "examples/alder-vale", "--out", out.to_str().expect("UTF-8")]);
    assert_eq!(no_study.code, Some(2));
    assert!(no_study.stderr.contains("is no study"), "{}", no_study.stderr);
}

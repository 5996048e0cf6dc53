//! `budget`: what the page says, what it refuses, and that it moves with what the folder holds.

use serde_json::Value;

use crate::command::{assert_bad_input, folder_with, on, stillwell};
use crate::pages::{assert_looks, printed};
use crate::small_study::Study;

const FOLDER: &str = "examples/alder-vale";

fn document(further: &[&str]) -> Value {
    let arguments = [&["budget", FOLDER, "--draws", "10000", "--format", "json"], further].concat();
    let run = stillwell(&arguments);
    assert_eq!(run.stderr, "", "{arguments:?}");
    serde_json::from_str(&run.stdout).expect("JSON")
}

fn number(value: &Value, name: &str) -> f64 {
    value[name].as_f64().unwrap_or_else(|| panic!("{name}: {value:#}"))
}

#[test]
fn the_page() {
    assert_looks("budget", &printed(&["budget", FOLDER]));
}

#[test]
fn the_page_of_a_sample_without_a_number() {
    assert_looks("budget-refused", &printed(&["budget", FOLDER, "--sample", "AV-04"]));
    for (sample, says) in [("AV-05", "a bound has no ±"), ("AV-06", "dilute the sample 1 : ")] {
        let run = stillwell(&["budget", FOLDER, "--sample", sample]);
        assert_eq!(run.code, Some(1), "{}", run.stderr);
        assert!(run.stdout.contains("no budget: ") && run.stdout.contains(says), "{}", run.stdout);
        assert!(document(&["--sample", sample])["budget"].is_null());
    }
}

/// The well that cannot be decided is the one whose budget matters.
#[test]
fn without_a_name_the_one_too_close_to_call_is_taken() {
    let found = document(&[]);
    assert_eq!(found["determination"]["sample"], "AV-02");
    assert_eq!(found["retests"][0]["limit"], "who-nitrate");
    assert_eq!(found["performance"][0]["limit"], "eu-nitrate");
}

#[test]
fn shares_make_one_and_parts_the_whole() {
    let found = document(&["--sample", "AV-07"]);
    let budget = &found["budget"];
    let parts = budget["parts"].as_array().expect("parts");
    let shares: f64 = parts.iter().map(|part| number(part, "share_of_variance")).sum();
    assert!((shares - 1.0).abs() < 1e-12, "{shares}");
    let unit = "standard_u_mg_per_l_as_no3";
    let squares: f64 = parts.iter().map(|part| number(part, unit) * number(part, unit)).sum();
    assert!((squares.sqrt() - number(budget, unit)).abs() < 1e-9);
    assert!(parts.iter().any(|part| part["component"] == "dilution"));
    assert!(parts.iter().all(|part| !part["source"].as_str().expect("a text").is_empty()));
}

#[test]
fn the_seed_alone_decides_the_digits_of_monte_carlo() {
    let drawn = |seed| number(&document(&["--seed", seed])["monte_carlo"], "mean_mg_per_l_as_no3");
    let (one, again, other) = (drawn("1"), drawn("1"), drawn("2"));
    assert_eq!(one.to_bits(), again.to_bits());
    assert!(one.to_bits() != other.to_bits() && (one - other).abs() < 0.1);
}

/// One batch shows no reproducibility from day to day, and that is said instead of a number.
#[test]
fn what_the_folder_cannot_show_is_said() {
    let run = on("budget", folder_with(&Study::new().files()).path(), &["--draws", "10000"]);
    assert_eq!(run.stderr, "");
    let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("not possible with this folder"), "{said}");
    assert!(said.contains("show no reproducibility from day to day"), "{said}");
}

#[test]
fn what_is_not_there_is_bad_input() {
    assert_bad_input(
        &stillwell(&["budget", FOLDER, "--sample", "AV-99"]),
        &["no sample \"AV-99\"", "samples: AV-01"],
    );
    assert_bad_input(&stillwell(&["budget", FOLDER, "--figure", "budget.png"]), &["does not end in .svg"]);
    assert_eq!(stillwell(&["budget", FOLDER, "--draws", "10"]).code, Some(2));
}

//! The invented scenario has known truth: what is printed of it must hold it, and no well may be called below wrongly.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::command::{root, stillwell};

/// WHO's 50 mg/L and the 10 mg/L as N of 40 CFR 141.62, both in mg/L as NO₃⁻ (62.004 / 14.007 to four digits).
const LIMITS: [(&str, f64); 2] = [("who-nitrate", 50.0), ("us-nitrate", 44.27)];

/// True values by well, from the table of the scenario's page.
fn truths() -> BTreeMap<String, f64> {
    let page = std::fs::read_to_string(root().join("examples/alder-vale/README.md")).expect("the page");
    let rows = page.lines().filter(|line| line.starts_with("| AV-"));
    let truths: BTreeMap<String, f64> = rows
        .map(|row| {
            let cells: Vec<&str> = row.split('|').map(str::trim).collect();
            (cells[1].to_owned(), cells[3].parse().expect("a true value"))
        })
        .collect();
    assert_eq!(truths.len(), 8, "{truths:?}");
    truths
}

fn determinations() -> Vec<Value> {
    let run = stillwell(&["determine", "examples/alder-vale", "--format", "json"]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(1), ""));
    let document: Value = serde_json::from_str(&run.stdout).expect("JSON");
    document["determinations"].as_array().expect("a list").clone()
}

fn number(determination: &Value, name: &str) -> f64 {
    determination[format!("{name}_mg_per_l_as_no3")]
        .as_f64()
        .unwrap_or_else(|| panic!("{name}: {determination:#}"))
}

fn label(determination: &Value) -> String {
    format!(
        "{} ({})",
        determination["sample"].as_str().expect("a text"),
        determination["role"].as_str().expect("a text")
    )
}

#[test]
fn the_truth_lies_within_every_interval_or_bound() {
    let truths = truths();
    let mut missed = Vec::new();
    let mut seen = Vec::new();
    for determination in determinations() {
        let truth = truths[determination["sample"].as_str().expect("a text")];
        let outcome = determination["outcome"].as_str().expect("a text");
        seen.push(outcome.to_owned());
        match outcome {
            "quantified" => {
                let [value, low, high] =
                    ["concentration", "low", "high"].map(|name| number(&determination, name));
                let expanded_u = number(&determination, "expanded_u");
                assert!(low < value && value < high);
                assert_eq!(expanded_u.to_bits(), (high - value).max(value - low).to_bits());
                if truth < low || truth > high {
                    missed.push(label(&determination));
                    assert!(
                        (value - truth).abs() < 1.5 * expanded_u,
                        "{value} ± {expanded_u}, truth {truth}"
                    );
                }
            }
            "above-range" => assert!(number(&determination, "at_least") <= truth),
            "not-detected" => assert!(number(&determination, "less_than") > truth),
            "refused" => assert_eq!(determination["sample"], "AV-04"),
            other => panic!("{other}"),
        }
    }
    seen.sort();
    let quantified = seen.iter().filter(|outcome| *outcome == "quantified").count();
    assert_eq!((seen.len(), quantified), (9, 6), "{seen:?}");
    // One of six intervals of 95 % may miss the truth by chance (1 − 0.95⁶ is 26 % likely); with this seed none does.
    assert_eq!(missed, Vec::<String>::new());
}

#[test]
fn no_well_is_called_below_or_above_a_limit_wrongly() {
    let truths = truths();
    let mut called = BTreeMap::new();
    for determination in determinations() {
        let truth = truths[determination["sample"].as_str().expect("a text")];
        for verdict in determination["verdicts"].as_array().expect("a list") {
            let (_, limit) =
                LIMITS.into_iter().find(|(id, _)| verdict["limit"] == *id).expect("a known limit");
            let word = verdict["verdict"].as_str().expect("a text").to_owned();
            match word.as_str() {
                "below" => assert!(truth <= limit, "{determination:#}"),
                "above" => assert!(truth > limit, "{determination:#}"),
                _ => {}
            }
            called
                .insert((label(&determination), verdict["limit"].as_str().expect("a text").to_owned()), word);
        }
    }
    let word = |label: &str, limit: &str| called[&(label.to_owned(), limit.to_owned())].clone();
    assert_eq!(called.len(), 18);
    for (label, who, us) in [
        ("AV-01 (sample)", "below", "below"),
        ("AV-01 (duplicate)", "below", "below"),
        ("AV-02 (sample)", "too-close-to-call", "above"),
        ("AV-03 (sample)", "above", "above"),
        ("AV-04 (sample)", "not-decidable", "not-decidable"),
        ("AV-05 (sample)", "below", "below"),
        ("AV-06 (sample)", "above", "above"),
        ("AV-07 (sample)", "above", "above"),
        ("AV-08 (sample)", "below", "below"),
    ] {
        assert_eq!(
            (word(label, "who-nitrate").as_str(), word(label, "us-nitrate").as_str()),
            (who, us),
            "{label}"
        );
    }
}

/// What a person reads is what a machine reads, rounded to two digits of its uncertainty.
#[test]
fn the_table_shows_the_numbers_of_the_document() {
    let table = stillwell(&["determine", "examples/alder-vale"]).stdout;
    for determination in determinations() {
        let sample = determination["sample"].as_str().expect("a text");
        let name =
            if determination["role"] == "sample" { format!("{sample}  ") } else { label(&determination) };
        let line =
            table.lines().find(|line| line.starts_with(&name)).unwrap_or_else(|| panic!("{name}: {table}"));
        let shown = line[name.len()..].trim_start();
        match determination["outcome"].as_str().expect("a text") {
            "quantified" => {
                let words: Vec<&str> = shown.split_whitespace().collect();
                let [value, sign, expanded_u, ..] = words[..] else { panic!("{line}") };
                let parsed = |text: &str| text.parse::<f64>().expect("a number");
                assert_eq!(sign, "±");
                let decimals = value.split_once('.').map_or(0, |(_, decimals)| decimals.len());
                let half_step = 0.5 / [1.0, 10.0, 100.0, 1000.0][decimals];
                assert!(
                    (parsed(value) - number(&determination, "concentration")).abs() <= half_step * 1.000_001
                );
                let distance = (parsed(expanded_u) - number(&determination, "expanded_u")).abs();
                assert!(distance <= half_step * 1.000_001, "{line}");
            }
            "above-range" => {
                let bound: f64 = shown.split_whitespace().nth(1).expect("a bound").parse().expect("a number");
                assert!(shown.starts_with("above ") && bound <= number(&determination, "at_least"), "{line}");
            }
            "not-detected" => {
                let bound: f64 = shown.split_whitespace().nth(3).expect("a bound").parse().expect("a number");
                let less_than = number(&determination, "less_than");
                assert!(shown.starts_with("not detected, < ") && bound >= less_than, "{line}");
            }
            _ => assert!(shown.starts_with("refused ") && shown.contains("UNKNOWN (refused)"), "{line}"),
        }
    }
}

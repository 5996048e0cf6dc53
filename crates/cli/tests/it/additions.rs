//! `addition`: the page, and that whatever could make a wrong number look sound keeps its verdict back.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::command::{Run, assert_bad_input, root, stillwell};
use crate::pages::{assert_looks, printed};

const FOLDER: &str = "examples/alder-vale-addition";

/// A copy of the example with every line of the run sheet rewritten.
fn with_sheet(edit: impl FnMut(Vec<String>) -> Vec<String>) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for entry in fs::read_dir(root().join(FOLDER)).expect("the example") {
        let path = entry.expect("an entry").path();
        fs::copy(&path, folder.path().join(path.file_name().expect("a name"))).expect("copied");
    }
    let path = folder.path().join("run-sheet.csv");
    let sheet = fs::read_to_string(&path).expect("the run sheet");
    let mut lines = sheet.lines();
    let mut edited = vec![lines.next().expect("a header").to_owned()];
    let rows = lines.map(|line| line.split(',').map(str::to_owned).collect::<Vec<_>>());
    edited.extend(rows.map(edit).map(|cells| cells.join(",")));
    fs::write(&path, edited.join("\n") + "\n").expect("written");
    folder
}

const ROLE: usize = 2;
const SAMPLE: usize = 3;
const LEVEL: usize = 4;
const ELECTRODE: usize = 7;
const TEMPERATURE: usize = 12;
const PH: usize = 13;

fn is_addition(cells: &[String]) -> bool {
    cells[ROLE] == "addition"
}

fn addition(folder: &Path) -> Run {
    stillwell(&["addition", folder.to_str().expect("UTF-8"), "--format", "json"])
}

fn series(run: &Run) -> Vec<Value> {
    let document: Value = serde_json::from_str(&run.stdout).unwrap_or_else(|_| panic!("{}", run.stderr));
    document["series"].as_array().expect("a list").clone()
}

fn withheld_by(series: &Value) -> Vec<String> {
    assert_eq!(series["verdict_withheld"], true, "{series:#}");
    let findings = series["findings"].as_array().expect("a list");
    let withheld = findings.iter().filter(|finding| finding["effect"] == "withheld");
    withheld.map(|finding| finding["check"].as_str().expect("a text").to_owned()).collect()
}

#[test]
fn the_page() {
    assert_looks("addition", &printed(&["addition", FOLDER]));
}

#[test]
fn one_sample_is_shown_and_drawn_by_name() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let figure = folder.path().join("addition.svg");
    let path = figure.to_str().expect("UTF-8");
    let run = stillwell(&["addition", FOLDER, "--sample", "AV-10", "--figure", path]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(0), ""), "nothing about AV-10 needs attention");
    let drawn = fs::read_to_string(figure).expect("a figure");
    assert!(drawn.contains("Standard addition: AV-10") && drawn.contains("no matrix effect seen"));
}

/// pH outside the method's span refuses, as it does for a sample that is read off the calibration.
#[test]
fn a_sample_outside_the_methods_conditions_has_no_number() {
    let folder = with_sheet(|mut cells| {
        if is_addition(&cells) && cells[SAMPLE] == "AV-10" {
            cells[PH] = "6.8".to_owned();
        }
        cells
    });
    let run = addition(folder.path());
    let found = series(&run);
    assert_eq!((run.code, &found[1]["outcome"]), (Some(1), &Value::from("refused")));
    assert!(found[1]["concentration_mg_per_l_as_no3"].is_null());
    assert_eq!(found[1]["verdicts"][0]["verdict"], "not-decidable");
    let page = stillwell(&["addition", folder.path().to_str().expect("UTF-8")]).stdout;
    assert!(page.contains("UNKNOWN (refused)") && page.contains("pH 6.8, method: 2.5 to 3.5"), "{page}");
}

/// Three strips for three additions leave a bend unseen.
#[test]
fn too_few_additions_to_see_a_bend_give_no_verdict() {
    let mut kept: BTreeMap<String, String> = BTreeMap::new();
    let few = with_sheet(|mut cells| {
        if is_addition(&cells) && cells[SAMPLE] == "AV-10" {
            let electrode = cells[ELECTRODE].clone();
            let first = kept.entry(cells[LEVEL].clone()).or_insert_with(|| electrode.clone());
            if *first != electrode || ["15", "45"].contains(&cells[LEVEL].as_str()) {
                // Another water, so that they count nowhere here.
                cells[SAMPLE] = "AV-11".to_owned();
            }
        }
        cells
    });
    let found = series(&addition(few.path()));
    let found = found.iter().find(|series| series["sample"] == "AV-10").expect("the series");
    assert!(found["concentration_mg_per_l_as_no3"].is_number(), "{found:#}");
    assert_eq!(withheld_by(found), ["addition-line"]);
}

/// A stock of additions stronger than the sheet says lowers the result. The slope gives it away, and nothing is concluded, whether
/// or not the calibration contradicts.
#[test]
fn additions_stronger_than_stated_do_not_make_water_pass() {
    for (sample, at, truth) in [("AV-09", 0, 57.0), ("AV-10", 1, 33.0)] {
        let folder = with_sheet(|mut cells| {
            if is_addition(&cells) && cells[SAMPLE] == sample {
                // Half of what was really added.
                let level: f64 = cells[LEVEL].parse().expect("a number");
                cells[LEVEL] = (level / 2.0).to_string();
            }
            cells
        });
        let found = series(&addition(folder.path()));
        let high = found[at]["high_mg_per_l_as_no3"].as_f64().expect("a number");
        assert!(high < 0.7 * truth, "{sample}: wrong, and surely so: up to {high}");
        assert_eq!(withheld_by(&found[at]), ["addition-line"], "{sample}");
    }
}

#[test]
fn vials_of_different_temperature_give_no_verdict() {
    let folder = with_sheet(|mut cells| {
        if is_addition(&cells) && cells[LEVEL] == "60" {
            cells[TEMPERATURE] = "24.0".to_owned();
        }
        cells
    });
    assert!(withheld_by(&series(&addition(folder.path()))[1]).contains(&"temperature".to_owned()));
}

/// Whoever reads AV-09 off the calibration is told not to.
#[test]
fn determine_draws_no_verdict_where_additions_contradict() {
    let page = printed(&["determine", FOLDER]);
    let row = page.lines().find(|line| line.starts_with("AV-09")).expect("a row");
    assert!(row.contains("WITHHELD") && !row.contains("below"), "{row}");
    assert!(page.contains("withheld matrix-effect"), "{page}");
}

#[test]
fn what_is_not_there_is_bad_input() {
    assert_bad_input(
        &stillwell(&["addition", "examples/alder-vale"]),
        &["names no addition", "role addition"],
    );
    assert_bad_input(
        &stillwell(&["addition", FOLDER, "--sample", "AV-01"]),
        &["no addition to a sample \"AV-01\"", "AV-09, AV-10"],
    );
}

//! `tour`: what it tells, what it leaves, and that it overwrites nothing.

use std::fs;
use std::path::Path;

use crate::command::{assert_bad_input, root, stillwell_in};

fn files_below(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(at) = folders.pop() {
        for entry in fs::read_dir(at).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else {
                found.push(path.strip_prefix(folder).expect("below").to_string_lossy().into_owned());
            }
        }
    }
    found.sort();
    found
}

#[test]
fn the_tour_tells_the_story_and_leaves_a_folder_to_play_with() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let run = stillwell_in(place.path(), &["tour"]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(0), ""));
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.bind(|| insta::assert_snapshot!("tour", run.stdout));
    assert!(run.stdout.lines().all(|line| line.chars().count() <= 106), "a line is too long to print");

    let tour = place.path().join("tour");
    let left = files_below(&tour);
    for name in [
        "README.md",
        "method.toml",
        "run-sheet.csv",
        "cells/copper-strip.toml",
        "cells/handheld.toml",
        "figures/scan-AV-02.svg",
        "figures/scan-AV-04.svg",
        "figures/calibration-L22.svg",
        "wells.study",
    ] {
        assert!(left.iter().any(|found| found == name), "{name}: {left:?}");
    }
    // What it shows is what the examples hold.
    for name in left.iter().filter(|name| !name.contains('/') && *name != "wells.study") {
        let example = fs::read(root().join("examples/alder-vale").join(name)).expect(name);
        assert!(fs::read(tour.join(name)).expect(name) == example, "{name} differs from the example");
    }
    for told in run.stdout.lines().filter_map(|line| line.trim().strip_prefix("figure: ")) {
        assert!(place.path().join(told).is_file(), "{told}");
    }
    let shown = stillwell_in(place.path(), &["study", "show", "tour/wells.study"]);
    assert!(shown.stdout.contains("AV-02") && shown.stdout.contains("not approved"), "{}", shown.stdout);
    assert_eq!(stillwell_in(place.path(), &["determine", "tour"]).code, Some(1), "a well needs attention");
    let again = stillwell_in(place.path(), &["tour"]);
    assert_bad_input(&again, &["tour is not empty", "nothing is overwritten"]);
}

#[test]
fn the_document_holds_wells_with_their_truth_and_their_determinations() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let run = stillwell_in(place.path(), &["tour", "--out", "practice", "--format", "json"]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(0), ""));
    let document: serde_json::Value = serde_json::from_str(&run.stdout).expect("JSON");
    assert_eq!(document["simulated"], true);
    assert_eq!(document["wells"].as_array().map(Vec::len), Some(8));
    assert_eq!(document["wells"][3]["truth_mg_per_l_as_no3"], 71.0);
    assert_eq!(document["report"]["determinations"].as_array().map(Vec::len), Some(9));
}

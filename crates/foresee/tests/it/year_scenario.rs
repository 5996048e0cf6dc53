//! The scenario of a year: what lies in `examples/alder-vale-year` is what the twin makes, and its page tells the same truth.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use stillwell_foresee::alder_vale_year::{README, TRUTH_MG_PER_L, files};
use stillwell_method::RawFile;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/alder-vale-year")
}

/// Simulated once for all tests.
fn made() -> &'static [RawFile] {
    static MADE: OnceLock<Vec<RawFile>> = OnceLock::new();
    MADE.get_or_init(|| files(|| {}).unwrap_or_else(|error| panic!("{error}")))
}

#[test]
fn the_twin_makes_the_committed_files_byte_for_byte() {
    for file in made() {
        let committed = std::fs::read(folder().join(&file.name)).unwrap();
        assert!(committed == file.bytes, "{} differs", file.name);
    }
}

#[test]
fn the_folder_is_small_and_holds_nothing_else() {
    let mut expected: BTreeSet<String> = made().iter().map(|file| file.name.clone()).collect();
    expected.extend(["README.md", "method.toml"].map(str::to_owned));
    let found: BTreeSet<String> = std::fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    assert_eq!(found, expected);
    let bytes: usize = made().iter().map(|file| file.bytes.len()).sum();
    assert!(bytes < 440_000, "{bytes} bytes");
}

#[test]
fn the_page_tells_the_same_truth() {
    let [first, second] = TRUTH_MG_PER_L;
    for (month, truth) in first.into_iter().zip(second).enumerate() {
        let row = README.lines().find(|line| line.starts_with(&format!("| {:02} |", month + 1))).unwrap();
        let cells: Vec<f64> =
            row.split('|').skip(2).take(2).map(|cell| cell.trim().parse().unwrap()).collect();
        assert_eq!(cells, [truth.0, truth.1], "{row}");
    }
}

//! The invented scenario: what lies in `examples/alder-vale` is what the twin makes, byte for byte.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use stillwell_foresee::alder_vale::{README, WELLS, files, n_scans};
use stillwell_method::RawFile;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/alder-vale")
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
        let differs_at = committed.iter().zip(&file.bytes).position(|(old, new)| old != new);
        assert_eq!(differs_at, None, "{}: first differing byte", file.name);
        assert_eq!(committed.len(), file.bytes.len(), "{}: length", file.name);
    }
}

#[test]
fn the_folder_holds_nothing_but_the_scenario_and_what_people_wrote() {
    let mut expected: BTreeSet<String> = made().iter().map(|file| file.name.clone()).collect();
    expected.extend(["README.md", "method.toml"].map(str::to_owned));
    let found: BTreeSet<String> = std::fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    assert_eq!(found, expected);
}

#[test]
fn the_whole_scenario_stays_below_one_megabyte() {
    let bytes: usize = made().iter().map(|file| file.bytes.len()).sum();
    assert!(bytes < 1_000_000, "{bytes} bytes");
}

#[test]
fn the_page_tells_the_same_truth() {
    for well in WELLS {
        let row = README.lines().find(|line| line.starts_with(&format!("| {} |", well.name))).unwrap();
        let truth: f64 = row.split('|').nth(3).unwrap().trim().parse().unwrap();
        assert_eq!(truth, well.truth_mg_per_l, "{row}");
    }
}

#[test]
fn progress_is_told_once_a_scan() {
    let told = std::sync::atomic::AtomicUsize::new(0);
    files(|| {
        told.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
    })
    .unwrap();
    assert_eq!(told.into_inner(), n_scans());
}

//! The invented scenario: what lies in `examples/alder-vale` is what the twin makes, byte for byte.

use std::sync::OnceLock;

use stillwell_foresee::alder_vale::{README, WELLS, files, n_scans};
use stillwell_method::RawFile;

use crate::committed::{
    assert_is_small_and_holds_nothing_else, assert_is_what_the_twin_makes, row_of, truth_in,
};

/// Simulated once for all tests.
fn made() -> &'static [RawFile] {
    static MADE: OnceLock<Vec<RawFile>> = OnceLock::new();
    MADE.get_or_init(|| files(|| {}).unwrap_or_else(|error| panic!("{error}")))
}

#[test]
fn the_twin_makes_the_committed_files_byte_for_byte() {
    assert_is_what_the_twin_makes("alder-vale", made());
}

#[test]
fn the_folder_is_small_and_holds_nothing_but_the_scenario_and_what_people_wrote() {
    assert_is_small_and_holds_nothing_else("alder-vale", made(), 1_000_000);
}

#[test]
fn the_page_tells_the_same_truth() {
    for well in WELLS {
        let row = row_of(README, well.name);
        assert_eq!(truth_in(row), well.truth_mg_per_l, "{row}");
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

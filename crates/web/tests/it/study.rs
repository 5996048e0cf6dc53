//! The invented scenario as a study that is served: made once, copied for each test that acts on it.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use stillwell_study::{By, Clock, Delivery, Study};
use tempfile::TempDir;

pub(crate) fn alder_vale() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/alder-vale")
}

pub(crate) fn analyst() -> By {
    By::new("Ines Field", "routine measurement").unwrap()
}

/// A study with the scenario, determined.
pub(crate) fn made() -> &'static Path {
    static MADE: OnceLock<(TempDir, PathBuf)> = OnceLock::new();
    let (_, path) = MADE.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wells.study");
        let method = std::fs::read_to_string(alder_vale().join("method.toml")).unwrap();
        let mut study = Study::create(&path, "wells", &method, &analyst(), Clock::system()).unwrap();
        let added = study.add(&Delivery::of_folder(&alder_vale()).unwrap(), &analyst(), |_| {}).unwrap();
        study.determine(&added.series, &analyst()).unwrap();
        (folder, path)
    });
    path
}

/// A copy of that study, to act on.
pub(crate) fn copy() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    std::fs::copy(made(), &path).unwrap();
    (folder, path)
}

/// A study with the invented year, determined, and what the invented laboratory reported on record.
pub(crate) fn year() -> &'static Path {
    static MADE: OnceLock<(TempDir, PathBuf)> = OnceLock::new();
    let (_, path) = MADE.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wells.study");
        let from = alder_vale().join("../alder-vale-year");
        let method = std::fs::read_to_string(from.join("method.toml")).unwrap();
        let mut study = Study::create(&path, "wells", &method, &analyst(), Clock::system()).unwrap();
        let added = study.add(&Delivery::of_folder(&from).unwrap(), &analyst(), |_| {}).unwrap();
        study.determine(&added.series, &analyst()).unwrap();
        let reported = std::fs::read(from.join("comparison.csv")).unwrap();
        study.record_laboratory("comparison.csv", &reported, "", &analyst()).unwrap();
        (folder, path)
    });
    path
}

/// A copy of the year, to act on.
pub(crate) fn copy_of_the_year() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    std::fs::copy(year(), &path).unwrap();
    (folder, path)
}

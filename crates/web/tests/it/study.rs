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
        let path = by_method(folder.path(), |method| method);
        (folder, path)
    });
    path
}

/// The scenario in a folder, determined by another method than its own.
pub(crate) fn by_method(folder: &Path, other: impl FnOnce(String) -> String) -> PathBuf {
    let path = folder.join("wells.study");
    let method = other(std::fs::read_to_string(alder_vale().join("method.toml")).unwrap());
    let mut study = Study::create(&path, "wells", &method, &analyst(), Clock::system()).unwrap();
    let from = folder.join("alder-vale");
    std::fs::create_dir(&from).unwrap();
    for file in
        std::fs::read_dir(alder_vale()).unwrap().map(Result::unwrap).filter(|file| file.path().is_file())
    {
        std::fs::copy(file.path(), from.join(file.file_name())).unwrap();
    }
    std::fs::write(from.join("method.toml"), &method).unwrap();
    let added = study.add(&Delivery::of_folder(&from).unwrap(), &analyst(), |_| {}).unwrap();
    study.determine(&added.series, &analyst()).unwrap();
    path
}

/// The scenario by the height at a stated potential.
pub(crate) fn by_height_at(folder: &Path) -> PathBuf {
    by_method(folder, |method| {
        method.replace("measure = \"height\"", "measure = \"height-at\", at_v = -0.61")
    })
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

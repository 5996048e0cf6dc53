//! Small studies that tests share: the invented scenario of the examples, and folders of a few short scans.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use stillwell_stats::random::RandomStream;
use stillwell_study::{By, Clock, Delivery, Study};

/// The folder of the invented scenario.
pub(crate) fn alder_vale() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/alder-vale")
}

pub(crate) fn alder_vale_method() -> String {
    std::fs::read_to_string(alder_vale().join("method.toml")).unwrap()
}

pub(crate) fn analyst() -> By {
    By::new("Ines Field", "routine measurement").unwrap()
}

/// A clock that goes on by a second at each look, from noon of 2026-06-01.
pub(crate) fn clock() -> Clock {
    let seconds = Arc::new(AtomicI64::new(1_780_315_200));
    Clock::of(move || jiff::Timestamp::from_second(seconds.fetch_add(1, Ordering::Relaxed)).unwrap())
}

/// A new study with the scenario's method.
pub(crate) fn new_study(path: &Path) -> Study {
    Study::create(path, "wells", &alder_vale_method(), &analyst(), clock()).unwrap()
}

/// A study that holds the scenario.
pub(crate) fn alder_vale_study(path: &Path) -> Study {
    let mut study = new_study(path);
    study.add(&Delivery::of_folder(&alder_vale()).unwrap(), &analyst(), |_| {}).unwrap();
    study
}

/// A whole number below `n`.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of a small count")]
pub(crate) fn draw(random: &mut RandomStream, n: usize) -> usize {
    ((random.uniform() * n as f64) as usize).min(n - 1)
}

//! What tests of every room share: where the repository stands, and the one rule for skipping.
//!
//! A test that needs something a plain Rust machine lacks (Python, the files beside the repository) asks here
//! for it. Missing means: print why and skip; under `STILLWELL_REQUIRE_ALL=1` (set by `.ci/run`) it means: fail.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The folder that holds the workspace's `Cargo.toml`.
pub fn repository() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().unwrap_or(here).to_path_buf()
}

/// A folder of `examples/`, read.
pub struct ExampleFolder {
    /// Its method file.
    pub method: String,
    /// Its run sheet.
    pub sheet: String,
    /// Names and bytes of its raw files, sorted by name.
    pub raw: Vec<(String, Vec<u8>)>,
}

/// Reads a folder of `examples/`.
///
/// # Panics
/// When it is not there or cannot be read: the repository is not whole.
pub fn example(name: &str) -> ExampleFolder {
    let folder = repository().join("examples").join(name);
    let bytes =
        |path: &Path| std::fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let text = |name: &str| String::from_utf8(bytes(&folder.join(name))).expect("UTF-8");
    let mut raw = Vec::new();
    for entry in std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display())) {
        let path = entry.expect("an entry").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        if !["README.md", "method.toml", "run-sheet.csv"].contains(&name.as_str()) {
            raw.push((name, bytes(&path)));
        }
    }
    raw.sort();
    ExampleFolder { method: text("method.toml"), sheet: text("run-sheet.csv"), raw }
}

/// A file or folder beside the repository (`../shared/<path>`), or `None` after announcing the skip.
///
/// # Panics
/// When it is missing and `STILLWELL_REQUIRE_ALL=1`.
pub fn shared_file(path: &str) -> Option<PathBuf> {
    let found = repository().parent()?.join("shared").join(path);
    if found.exists() {
        return Some(found);
    }
    require_or_skip(&format!("../shared/{path}"));
    None
}

/// A Python with the general-purpose libraries of `peers/requirements.txt`, or `None` after announcing the skip.
///
/// `STILLWELL_PYTHON` names the interpreter; otherwise it is the environment that `.ci/run` makes in `peers/.venv`.
///
/// # Panics
/// When there is none and `STILLWELL_REQUIRE_ALL=1`.
pub fn python() -> Option<Command> {
    let interpreter = std::env::var_os("STILLWELL_PYTHON")
        .map_or_else(|| repository().join("peers/.venv/bin/python"), PathBuf::from);
    if interpreter.exists() {
        return Some(Command::new(interpreter));
    }
    require_or_skip("peers/.venv/bin/python (or an interpreter named by STILLWELL_PYTHON)");
    None
}

/// Announces that a test is skipped because `what` is missing.
///
/// # Panics
/// Under `STILLWELL_REQUIRE_ALL=1`: then nothing may be missing.
pub fn require_or_skip(what: &str) {
    let strict = std::env::var("STILLWELL_REQUIRE_ALL").is_ok_and(|value| value == "1");
    assert!(!strict, "STILLWELL_REQUIRE_ALL=1, but {what} is missing");
    // Written past the test runner, which would keep the words of a passing test to itself.
    let announced = writeln!(std::io::stderr(), "SKIPPED: {what} is missing");
    debug_assert!(announced.is_ok(), "standard error is closed");
}

//! The repository's own files, in a fixed order, without what is built or fetched.

use std::fs;
use std::path::Path;

use stillwell_house::repository;

/// Folders that git ignores: made on this machine, not written by us.
pub(crate) const GENERATED: [&str; 8] =
    ["target", ".git", ".venv", "__pycache__", "corpus", "artifacts", "node_modules", "mutants.out"];

/// Paths relative to the repository, with `/`, of all files below `folder` whose name ends in `ending`.
pub(crate) fn files(folder: &str, ending: &str) -> Vec<String> {
    let mut found = Vec::new();
    collect(&repository().join(folder), folder, ending, &mut found);
    found.sort();
    found
}

fn collect(folder: &Path, relative: &str, ending: &str, found: &mut Vec<String>) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries {
        let entry = entry.unwrap();
        let name = entry.file_name().into_string().unwrap();
        let path = if relative.is_empty() { name.clone() } else { format!("{relative}/{name}") };
        if entry.file_type().unwrap().is_dir() {
            if !GENERATED.contains(&name.as_str()) {
                collect(&entry.path(), &path, ending, found);
            }
        } else if name.ends_with(ending) {
            found.push(path);
        }
    }
}

/// The text of a file of the repository.
pub(crate) fn text(path: &str) -> String {
    fs::read_to_string(repository().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// Folder names below `crates/`: the rooms that exist.
pub(crate) fn rooms() -> Vec<String> {
    let manifests = files("crates", "Cargo.toml");
    let rooms: Vec<String> =
        manifests.iter().filter_map(|path| Some(path.split('/').nth(1)?.to_owned())).collect();
    assert!(rooms.len() >= 9, "only {rooms:?} found below crates/");
    rooms
}

/// Fails with all findings at once, so that one run shows everything there is to mend.
#[track_caller]
pub(crate) fn expect_none(findings: &[String]) {
    assert!(findings.is_empty(), "{} finding(s):\n  {}", findings.len(), findings.join("\n  "));
}

#[test]
fn generated_folders_are_left_out() {
    let all = files("", "");
    assert!(all.contains(&"Cargo.toml".to_owned()));
    assert!(all.iter().all(|path| !path.starts_with("target/") && !path.starts_with(".git/")));
}

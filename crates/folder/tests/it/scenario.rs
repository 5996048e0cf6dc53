//! The invented scenario: what lies in `examples/alder-vale` is what its generator writes, byte for byte.

#[path = "../../examples/alder_vale/scenario/mod.rs"]
mod alder_vale;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/alder-vale")
}

#[test]
fn the_generator_writes_the_committed_files_byte_for_byte() {
    for file in alder_vale::files() {
        let committed = std::fs::read(folder().join(&file.name)).expect(&file.name);
        let differs_at = committed.iter().zip(&file.bytes).position(|(old, new)| old != new);
        assert_eq!(differs_at, None, "{}: first differing byte", file.name);
        assert_eq!(committed.len(), file.bytes.len(), "{}: length", file.name);
    }
}

#[test]
fn the_folder_holds_nothing_but_the_scenario_and_what_people_wrote() {
    let mut expected: BTreeSet<String> = alder_vale::files().into_iter().map(|file| file.name).collect();
    expected.extend(["README.md", "method.toml"].map(str::to_owned));
    let entries = std::fs::read_dir(folder()).expect("examples/alder-vale");
    let found: BTreeSet<String> =
        entries.map(|entry| entry.expect("entry").file_name().to_string_lossy().into_owned()).collect();
    assert_eq!(found, expected);
}

#[test]
fn the_whole_scenario_stays_below_one_megabyte() {
    let bytes: usize = alder_vale::files().iter().map(|file| file.bytes.len()).sum();
    assert!(bytes < 1_000_000, "{bytes} bytes");
}

//! Names: a package is called after its folder, a file after its idea.

use toml_edit::DocumentMut;

use crate::repository;

/// Names that say where things were put, not what they are.
const EMPTY_NAMES: [&str; 9] =
    ["utils", "util", "common", "helpers", "helper", "misc", "types", "shared", "stuff"];

fn package_name(manifest: &str) -> String {
    let document: DocumentMut = manifest.parse().unwrap();
    document["package"]["name"].as_str().unwrap_or_default().to_owned()
}

/// The empty name in a path, be it a file or a folder.
fn empty_name(path: &str) -> Option<&str> {
    path.split('/')
        .map(|part| part.split('.').next().unwrap_or_default())
        .find(|part| EMPTY_NAMES.contains(part))
}

#[test]
fn packages_are_called_after_their_folders() {
    let mut findings = Vec::new();
    for room in repository::rooms() {
        let name = package_name(&repository::text(&format!("crates/{room}/Cargo.toml")));
        if name != format!("stillwell-{room}") {
            findings.push(format!("crates/{room}: is called {name}, not stillwell-{room}"));
        }
    }
    repository::expect_none(&findings);
}

#[test]
fn no_file_has_an_empty_name() {
    let files = repository::files("", "");
    let findings = files.iter().filter_map(|path| empty_name(path).map(|name| format!("{path}: `{name}`")));
    repository::expect_none(&findings.collect::<Vec<_>>());
}

#[test]
fn each_room_has_one_integration_test_binary() {
    let files = repository::files("crates", ".rs");
    let stray = files.iter().filter(|path| {
        let parts: Vec<&str> = path.split('/').collect();
        parts.get(2) == Some(&"tests") && parts.get(3) != Some(&"it")
    });
    let findings: Vec<String> = stray.map(|path| format!("{path}: belongs below tests/it/")).collect();
    repository::expect_none(&findings);
}

#[test]
fn planted_names_are_found() {
    assert_eq!(empty_name("crates/scan/src/utils.rs"), Some("utils"));
    assert_eq!(empty_name("crates/scan/src/common/mod.rs"), Some("common"));
    assert_eq!(empty_name("crates/scan/src/commonness.rs"), None);
    assert_eq!(package_name("[package]\nname = \"stillwell-scan\""), "stillwell-scan");
}

//! Every Rust file opens with a line that says what it is for.

use crate::repository;

fn is_introduced(text: &str) -> bool {
    text.lines()
        .next()
        .is_some_and(|line| line.strip_prefix("//! ").is_some_and(|words| words.trim().len() >= 8))
}

#[test]
fn every_rust_file_is_introduced() {
    let files = repository::files("", ".rs");
    let bare = files.iter().filter(|path| !is_introduced(&repository::text(path)));
    repository::expect_none(
        &bare.map(|path| format!("{path}: does not open with `//! …`")).collect::<Vec<_>>(),
    );
}

#[test]
fn each_room_is_introduced_in_several_lines() {
    let mut findings = Vec::new();
    for room in repository::rooms() {
        let lib = format!("crates/{room}/src/lib.rs");
        let path = if repository::files("crates", ".rs").contains(&lib) {
            lib
        } else {
            format!("crates/{room}/src/main.rs")
        };
        let n_lines = repository::text(&path).lines().take_while(|line| line.starts_with("//!")).count();
        if n_lines < 5 {
            findings
                .push(format!("{path}: introduces the room in {n_lines} line(s), 5 or more are expected"));
        }
    }
    repository::expect_none(&findings);
}

#[test]
fn planted_openings_are_told_apart() {
    assert!(is_introduced("//! Reads scans.\n\nuse a;"));
    assert!(!is_introduced("use a;\n//! Reads scans."));
    assert!(!is_introduced("/// Reads scans."));
    assert!(!is_introduced("//!\n//! Reads scans."));
    assert!(!is_introduced(""));
}

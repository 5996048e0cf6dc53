//! Markdown: every path of ours that a text quotes exists, and no text knows one machine's folders.

use std::fs;

use crate::repository::{self, GENERATED};
use stillwell_house::repository as root;

/// Quoted words that look like paths of this repository: in back-ticks, in fenced blocks and in links.
fn quoted_paths(markdown: &str, top_level: &[String]) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let mut is_fenced = false;
    for (index, line) in markdown.lines().enumerate() {
        if line.trim_start().starts_with("```") {
            is_fenced = !is_fenced;
            continue;
        }
        let mut quoted: Vec<&str> =
            if is_fenced { vec![line] } else { line.split('`').skip(1).step_by(2).collect() };
        if !is_fenced {
            quoted.extend(line.split("](").skip(1).filter_map(|rest| rest.split(')').next()));
        }
        let words = quoted.iter().flat_map(|text| text.split_whitespace());
        let paths = words.map(trimmed).filter(|word| is_path(word, top_level));
        found.extend(paths.map(|word| (index + 1, word.to_owned())));
    }
    found
}

/// Without punctuation around, anchors and line numbers behind.
fn trimmed(word: &str) -> &str {
    let word = word.split('#').next().unwrap_or_default();
    let word = word.trim_matches(|c: char| "(),;:\"'".contains(c)).trim_end_matches('.');
    word.split_once(".rs:").map_or(word, |(path, _)| &word[..path.len() + 3])
}

fn is_path(word: &str, top_level: &[String]) -> bool {
    let has_placeholder =
        word.contains(['*', '<', '>', '{', '}', '…', '$', '=', '|']) || word.contains("...");
    let parts: Vec<&str> = word.split('/').filter(|part| !part.is_empty() && *part != ".").collect();
    if has_placeholder || word.contains("://") || parts.iter().any(|part| GENERATED.contains(part)) {
        return false;
    }
    match parts.as_slice() {
        [] => false,
        [only] => {
            has_ending(only, ".md") || (word.ends_with('/') && top_level.iter().any(|name| name == only))
        }
        [first, ..] => top_level.iter().any(|name| name == first) && !word.starts_with('/'),
    }
}

fn has_ending(name: &str, ending: &str) -> bool {
    name.len() > ending.len() && name.ends_with(ending)
}

/// A path counts as existing from the repository's folder, from the text's own, or (`tests/it/…`) from a room's.
fn exists(path: &str, quoted_in: &str) -> bool {
    let beside = quoted_in.rsplit_once('/').map_or("", |(folder, _)| folder);
    let rooms = repository::rooms().into_iter().map(|room| format!("crates/{room}"));
    rooms.chain([String::new(), beside.to_owned()]).any(|folder| root().join(folder).join(path).exists())
}

/// Beginnings of paths that only one machine has; written in two parts so that this file does not hold them.
fn machine_paths(text: &str) -> Vec<(usize, &'static str)> {
    const BEGINNINGS: [&str; 7] = [
        concat!("/", "work/"),
        concat!("/", "root/"),
        concat!("/", "home/"),
        concat!("/", "Users/"),
        concat!("/", "tmp/pv"),
        concat!("/", "tmp/sw"),
        concat!("C:", "\\Users"),
    ];
    let lines = text.lines().enumerate();
    lines
        .flat_map(|(i, l)| BEGINNINGS.iter().filter(move |b| l.contains(**b)).map(move |b| (i + 1, *b)))
        .collect()
}

#[test]
fn quoted_paths_exist() {
    let entries = fs::read_dir(root()).unwrap();
    let top_level: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    let mut findings = Vec::new();
    for file in repository::files("", ".md") {
        let quoted = quoted_paths(&repository::text(&file), &top_level);
        let missing = quoted.iter().filter(|(_, path)| !exists(path, &file));
        findings.extend(missing.map(|(line, path)| format!("{file}:{line}: {path} does not exist")));
    }
    repository::expect_none(&findings);
}

#[test]
fn no_file_names_a_folder_of_one_machine() {
    let mut findings = Vec::new();
    for file in repository::files("", "") {
        let bytes = fs::read(root().join(&file)).unwrap();
        for (line, beginning) in machine_paths(&String::from_utf8_lossy(&bytes)) {
            findings.push(format!("{file}:{line}: {beginning}"));
        }
    }
    repository::expect_none(&findings);
}

#[test]
fn planted_paths_are_found() {
    let top_level = ["crates", "examples", "README.md", "checks"].map(str::to_owned);
    let quoted = |text: &str| -> Vec<String> {
        quoted_paths(text, &top_level).into_iter().map(|(_, path)| path).collect()
    };
    assert_eq!(
        quoted("see `crates/scan/src/read.rs:12` and `crates/scan`."),
        ["crates/scan/src/read.rs", "crates/scan"]
    );
    assert_eq!(quoted("`cargo run -- determine examples/a`"), ["examples/a"]);
    assert_eq!(quoted("```\nstillwell inspect examples/a/b.csv\n```"), ["examples/a/b.csv"]);
    assert_eq!(quoted("[map](ARCHITECTURE.md#rooms) and `checks/`"), ["checks/", "ARCHITECTURE.md"]);
    assert!(
        quoted("`mg/L`, `checks/<topic>.toml`, `crates/*/src`, crates/unquoted, `target/doc`, `error.rs`")
            .is_empty()
    );
    assert!(!exists("crates/no-such-room", "README.md") && exists("edges.rs", "tests/house/main.rs"));
    assert!(exists("src/lib.rs", "ARCHITECTURE.md") && !exists("src/nowhere.rs", "ARCHITECTURE.md"));
}

#[test]
fn planted_machine_paths_are_found() {
    let text = format!("fine\nsee {}main", concat!("/", "work/"));
    assert_eq!(machine_paths(&text).len(), 1);
    assert!(machine_paths("the work/ folder, `framework/x`").is_empty());
}

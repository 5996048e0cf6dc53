//! The doors to the world: pure rooms open no file, read no clock, start no thread, print nothing.

use crate::repository;
use crate::source::{Source, sources};

/// Rooms whose task is the world outside; every other room is pure.
const ROOMS_WITH_DOORS: [&str; 5] = ["folder", "cli", "study", "web", "instrument"];

/// Modules and types of std that lead outside.
const DOORS: [&str; 12] = [
    "std::fs",
    "std::env",
    "std::net",
    "std::process",
    "std::time",
    "std::thread",
    "SystemTime",
    "Instant",
    "thread::spawn",
    "File::open",
    "stdout()",
    "stdin()",
];

/// The last part of each `std::…` door, as it may stand in a grouped `use std::{…}`.
const GROUPED: [&str; 6] = ["fs", "env", "net", "process", "time", "thread"];

fn open_doors(source: &Source) -> Vec<String> {
    let mut findings = Vec::new();
    for (number, line) in source.product_lines() {
        for door in DOORS.iter().filter(|door| has_word(line, door)) {
            findings.push(format!("{}:{number}: {door} in a pure room", source.path));
        }
        let grouped = line.split_once("use std::{").map(|(_, group)| group);
        for door in GROUPED.iter().filter(|door| grouped.is_some_and(|group| has_word(group, door))) {
            findings.push(format!("{}:{number}: std::{{{door}}} in a pure room", source.path));
        }
    }
    findings
}

/// Does `word` stand in `line` with no letter, digit or underscore directly before or after it?
fn has_word(line: &str, word: &str) -> bool {
    let is_part = |c: char| c.is_alphanumeric() || c == '_';
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let after = line[at + word.len()..].chars().next();
        !before.is_some_and(is_part) && !after.is_some_and(is_part)
    })
}

#[test]
fn pure_rooms_have_no_doors() {
    let sources = sources();
    let pure = sources.iter().filter(|source| !ROOMS_WITH_DOORS.contains(&source.room.as_str()));
    repository::expect_none(&pure.flat_map(open_doors).collect::<Vec<_>>());
}

#[test]
fn planted_doors_are_found_and_words_are_not() {
    let n = |text: &str| open_doors(&Source::new("crates/scan/src/a.rs", text)).len();
    assert_eq!(n("let bytes = std::fs::read(path);"), 1);
    assert_eq!(n("use std::{fmt, fs};"), 1);
    assert_eq!(n("let start = Instant::now();"), 1);
    assert_eq!(n("std::thread::spawn(work);"), 2);
    assert_eq!(
        n("// std::fs is not used here\nlet s = \"std::env\"; let instantaneous = 1; std::env_like();"),
        0
    );
    assert_eq!(n("#[cfg(test)]\nmod tests { use std::fs; }"), 0);
}

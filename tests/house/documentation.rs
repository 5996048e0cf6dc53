//! Documentation of public functions: present, with `# Errors` where they can fail, with source or example in numeric rooms.

use crate::functions::{Function, functions};
use crate::repository;
use crate::source::{Source, sources};

/// Rooms whose public functions a reader has to be able to trust without reading the code.
const DOCUMENTED: [&str; 5] = ["quantity", "stats", "evaluate", "calibrate", "assure"];

/// Rooms that compute: there a public function shows its source or an example, itself or in its file's introduction.
const NUMERIC: [&str; 3] = ["stats", "evaluate", "calibrate"];

const REQUIRED_SHARE: f64 = 0.9;

struct Documented {
    place: String,
    name: String,
    doc: String,
    can_fail: bool,
    has_evidence: bool,
    /// Not a mere look at `self`, nor a size of storage: those have nothing that would need a source.
    is_computing: bool,
}

/// Every `pub fn` of a file with its doc comment.
fn public_functions(source: &Source) -> Vec<Documented> {
    let lines: Vec<&str> = source.text.lines().collect();
    let n_introduction = lines.iter().take_while(|line| line.starts_with("//!")).count();
    let introduction = lines[..n_introduction].join("\n");
    let is_public = |f: &Function| lines[f.line - 1].trim_start().starts_with("pub ");
    let describe = |f: Function| {
        let doc = doc_above(&lines[..f.line - 1]);
        Documented {
            place: format!("{}:{}", source.path, f.line),
            can_fail: returns_result(&f.signature),
            has_evidence: shows_evidence(&doc) || shows_evidence(&introduction),
            is_computing: computes(&f),
            name: f.name,
            doc,
        }
    };
    functions(source).into_iter().filter(is_public).map(describe).collect()
}

fn computes(function: &Function) -> bool {
    let signature = function.signature.trim();
    let only_self = ["(&self)", "(self)"].iter().any(|own| signature.contains(own));
    let has_arithmetic = [" + ", " - ", " * ", " / "].iter().any(|sign| function.body.contains(sign));
    !signature.ends_with("-> usize") && (has_arithmetic || !only_self)
}

/// The `///` lines directly above, attributes skipped.
fn doc_above(above: &[&str]) -> String {
    let mut doc: Vec<&str> = Vec::new();
    let mut in_attribute = false;
    for line in above.iter().rev().map(|line| line.trim()) {
        if let Some(words) = line.strip_prefix("///") {
            doc.push(words);
        } else if line.starts_with("#[") {
            in_attribute = false;
        } else if line.ends_with(")]") {
            in_attribute = true;
        } else if !in_attribute {
            break;
        }
    }
    doc.reverse();
    doc.join("\n")
}

fn returns_result(signature: &str) -> bool {
    let head =
        signature.split(" where ").next().unwrap_or_default().split("\nwhere").next().unwrap_or_default();
    head.rsplit_once("->").is_some_and(|(_, returned)| returned.contains("Result"))
}

fn shows_evidence(doc: &str) -> bool {
    ["# Source", "# Example", "```"].iter().any(|mark| doc.contains(mark))
}

fn undocumented(function: &Documented) -> Option<String> {
    let Documented { place, name, doc, can_fail, .. } = function;
    if doc.trim().is_empty() {
        return Some(format!("{place}: {name} has no doc comment"));
    }
    (*can_fail && !doc.contains("# Errors"))
        .then(|| format!("{place}: {name} returns a Result, but has no `# Errors`"))
}

#[test]
fn public_functions_say_what_they_do_and_how_they_fail() {
    let sources = sources();
    let chosen = sources.iter().filter(|source| DOCUMENTED.contains(&source.room.as_str()));
    let findings: Vec<String> = chosen.flat_map(public_functions).filter_map(|f| undocumented(&f)).collect();
    repository::expect_none(&findings);
}

#[test]
fn numeric_functions_show_source_or_example() {
    let sources = sources();
    let mut findings = Vec::new();
    for room in NUMERIC {
        let in_room = sources.iter().filter(|source| source.room == room);
        let all: Vec<Documented> = in_room.flat_map(public_functions).filter(|f| f.is_computing).collect();
        let bare: Vec<&Documented> = all.iter().filter(|function| !function.has_evidence).collect();
        let share = 1.0 - bare.len() as f64 / all.len() as f64;
        println!(
            "{room}: {} public functions that compute, {:.0} % with source or example",
            all.len(),
            100.0 * share
        );
        if share < REQUIRED_SHARE {
            findings.extend(
                bare.iter().map(|f| format!("{}: {} shows neither source nor example", f.place, f.name)),
            );
        }
    }
    repository::expect_none(&findings);
}

#[test]
fn planted_functions_without_words_are_found() {
    let text = "//! x\n/// Doubles.\n#[inline]\npub fn a(x: f64) -> f64 {\n    x\n}\n\npub fn b() {}\n\
                /// Reads.\n#[expect(\n    lint,\n    reason = \"r\"\n)]\npub fn c() -> Result<(), E> {}\n\
                /// Reads.\n/// # Errors\n/// Never.\npub fn d() -> Result<(), E> {}\npub(crate) fn e() {}\n";
    let found = public_functions(&Source::new("crates/stats/src/a.rs", text));
    let names: Vec<&str> = found.iter().map(|f| f.name.as_str()).collect();
    assert_eq!(names, ["a", "b", "c", "d"]);
    let faulty: Vec<bool> = found.iter().map(|f| undocumented(f).is_some()).collect();
    assert_eq!(faulty, [false, true, true, false]);
    assert!(found.iter().all(|f| !f.has_evidence && f.is_computing));
    let is_computing =
        |text: &str| public_functions(&Source::new("crates/stats/src/a.rs", text))[0].is_computing;
    assert!(!is_computing("//! x\npub fn a(&self) -> f64 {\n    match *self { Self::A => 1.0 }\n}\n"));
    assert!(is_computing("//! x\npub fn a(&self) -> f64 {\n    self.a * 2.0\n}\n"));
    assert!(!is_computing("//! x\npub const fn a_len(n: usize) -> usize {\n    3 * n\n}\n"));
}

#[test]
fn evidence_in_the_introduction_counts_for_the_file() {
    let text = "//! Lines.\n//! # Source\n//! A paper.\n/// Fits.\npub fn a() {}\n";
    assert!(public_functions(&Source::new("crates/stats/src/a.rs", text))[0].has_evidence);
}

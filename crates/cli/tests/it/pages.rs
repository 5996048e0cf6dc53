//! What people see, as pictures for reviewing eyes. Numbers are asserted elsewhere.
//!
//! After an intended change: `INSTA_UPDATE=always cargo test -p stillwell-cli`, then look at the difference.

use crate::command::{folder_with, on, stillwell};
use crate::small_study::Study;

/// Compares a text with its picture. Hashes and numbers at full precision would bury what a person sees; they are
/// asserted elsewhere.
pub(crate) fn assert_looks(name: &str, text: &str) {
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!(name, without_hashes(text)));
}

/// Twelve or more hexadecimal digits in a row become `#`, or `…` behind a decimal point.
fn without_hashes(text: &str) -> String {
    let mut out = String::new();
    for token in text.split_inclusive(|c: char| !c.is_ascii_hexdigit()) {
        let digits = token.trim_end_matches(|c: char| !c.is_ascii_hexdigit());
        match (digits.len() >= 12, out.ends_with('.')) {
            (true, true) => out.push('…'),
            (true, false) => out.push('#'),
            (false, _) => out.push_str(digits),
        }
        out.push_str(&token[digits.len()..]);
    }
    out
}

/// What a command prints on the standard output; nothing may stand on the other.
pub(crate) fn printed(arguments: &[&str]) -> String {
    let run = stillwell(arguments);
    assert_eq!(run.stderr, "", "{arguments:?}");
    run.stdout
}

/// The lines from the first that begins with `from` up to the next that begins with `to`.
fn part<'t>(text: &'t str, from: &str, to: &str) -> Vec<&'t str> {
    let lines = text.lines().skip_while(|line| !line.starts_with(from));
    let mut lines = lines.peekable();
    let first = lines.next().into_iter();
    first.chain(lines.take_while(|line| !line.starts_with(to))).collect()
}

#[test]
fn determine() {
    assert_looks("determine", &printed(&["determine", "examples/alder-vale"]));
}

#[test]
fn a_chain_from_verdict_to_raw_scan() {
    let text = printed(&["determine", "examples/alder-vale", "--show-chain", "AV-07"]);
    let scans = part(&text, "scan ", "calibration ");
    assert_eq!(scans.iter().filter(|line| line.starts_with("scan ")).count(), 6);
    let first_scan = part(&text, "chain ", "scan ");
    let shown = [
        first_scan,
        part(&text, "scan ", "scan "),
        vec!["[five more scans]", ""],
        part(&text, "calibration ", "never"),
    ];
    assert_looks("chain", &shown.concat().join("\n"));
}

#[test]
fn a_chain_that_ends_in_a_refusal() {
    let text = printed(&["determine", "examples/alder-vale", "--show-chain", "AV-04"]);
    let shown = [
        part(&text, "chain ", "scan "),
        part(&text, "scan ", "scan "),
        vec!["[five more scans]", ""],
        part(&text, "result ", "never"),
    ];
    assert_looks("chain-refused", &shown.concat().join("\n"));
}

#[test]
fn calibrate() {
    let text = printed(&["calibrate", "examples/alder-vale"]);
    assert_eq!(text.lines().filter(|line| line.starts_with("lot L")).count(), 3);
    assert_looks("calibrate", &part(&text, "lot L21", "lot L22").join("\n"));
}

#[test]
fn evaluate() {
    let text = printed(&["evaluate", "examples/alder-vale"]);
    let head: Vec<&str> = text.lines().take(9).collect();
    let wells = text.lines().filter(|line| line.starts_with("wells-B2.txt")).skip(8).take(6).collect();
    let foot = part(&text, "level: ", "never");
    assert_looks("evaluate", &[head, vec!["…"], wells, vec!["…"], foot].concat().join("\n"));
}

#[test]
fn inspect_shows_how_each_dialect_was_understood() {
    for (name, file) in [
        ("inspect-shared-potential", "examples/alder-vale/opening-checks-B1.csv"),
        ("inspect-pairs-with-settings", "examples/alder-vale/closing-checks-B2.txt"),
        ("inspect-stacked", "examples/alder-vale/closing-checks-B3.tsv"),
    ] {
        assert_looks(name, &printed(&["inspect", file]));
    }
}

#[test]
fn inspect_with_a_method_runs_the_checks() {
    let file = "examples/alder-vale/wells-B2.txt";
    let text = printed(&["inspect", file, "--method", "examples/alder-vale/method.toml"]);
    assert_looks("inspect-with-method", &text);
}

#[test]
fn explain() {
    assert_looks("explain-list", &printed(&["explain"]));
    assert_looks("explain-clipped-scan", &printed(&["explain", "clipped-scan"]));
}

#[test]
fn help_of_every_command() {
    assert_looks("help", &printed(&["--help"]));
    for command in [
        "determine",
        "inspect",
        "evaluate",
        "calibrate",
        "budget",
        "addition",
        "twin",
        "foresee",
        "plan",
        "prepare",
        "control",
        "lot",
        "validate",
        "compare",
        "station",
        "study",
        "transfer",
        "prove",
        "explain",
        "completions",
        "man",
    ] {
        assert_looks(&format!("help-{command}"), &printed(&[command, "--help"]));
    }
}

const CELL: &str = "examples/cells/copper-strip.toml";

#[test]
fn twin() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let out = place.path().join("made");
    let path = out.to_str().expect("UTF-8");
    let text = printed(&["twin", "examples/alder-vale", "--cell", CELL, "--out", path]);
    assert_looks("twin", &text.replace(path, "made"));
    assert_looks("twin-truth", &std::fs::read_to_string(out.join("TRUTH.md")).expect("the truth"));
}

#[test]
fn foresee() {
    let asked =
        ["foresee", "examples/alder-vale", "--cell", CELL, "--circuit", "examples/cells/handheld.toml"];
    assert_looks("foresee", &printed(&[&asked[..], &["--trials", "3"]].concat()));
    let varied = ["--trials", "2", "--vary", "adc_bits=8,10,16", "--vary", "range_a=1e-5,1e-4"];
    assert_looks("foresee-vary", &printed(&[&asked[..], &varied].concat()));
}

#[test]
fn plan() {
    let asked = ["plan", "examples/alder-vale", "--at", "50 mg/L as NO3-"];
    assert_looks("plan", &printed(&[&asked[..], &["--target-u", "5%", "--samples", "20"]].concat()));
    assert_looks("plan-refused", &printed(&[&asked[..], &["--target-u", "1%"]].concat()));
}

#[test]
fn prepare() {
    let bench = ["--bench", "examples/benches/alder-vale.toml"];
    assert_looks("prepare", &printed(&[&["prepare", "examples/alder-vale"], &bench[..]].concat()));
}

#[test]
fn several_problems_at_once() {
    let mut files = Study::new().files();
    files.edit("run-sheet.csv", "standards.csv,2,standard", "standards.csv,2,standart");
    files.edit(
        "run-sheet.csv",
        "standards.csv,5,standard,,25,mg/L as NO3-",
        "standards.csv,5,standard,,25,mg/L",
    );
    files.edit("run-sheet.csv", "W1b", "");
    let folder = folder_with(&files);
    let run = on("determine", folder.path(), &[]);
    let path = folder.path().to_str().expect("UTF-8");
    assert_looks("several-problems", &run.stderr.replace(path, "FOLDER"));
}

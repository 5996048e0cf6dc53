//! The whole chain on the example's first batch with a few places overwritten: refused or determined, never a panic.
//!
//! The bytes are edits, one after the other: text (1), place (3), bytes to remove (1), bytes to put in (1), these bytes.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use stillwell_assure::DecisionCode;
use stillwell_method::{Input, NamedText, Outcome, RawFile, determine};

const NAMES: [&str; 5] =
    ["blanks-B1.csv", "standards-B1.csv", "opening-checks-B1.csv", "closing-checks-B1.csv", "wells-B1.csv"];

/// Method, run sheet, and the raw files in the order of their names.
static TEXTS: LazyLock<Vec<Vec<u8>>> = LazyLock::new(|| {
    let sheet = include_str!("../../examples/alder-vale/run-sheet.csv");
    let is_first_batch =
        |line: &&str| line.starts_with("file,") || NAMES.iter().any(|name| line.starts_with(name));
    let first_batch: Vec<&str> = sheet.lines().filter(is_first_batch).collect();
    vec![
        include_bytes!("../../examples/alder-vale/method.toml").to_vec(),
        first_batch.join("\n").into_bytes(),
        include_bytes!("../../examples/alder-vale/blanks-B1.csv").to_vec(),
        include_bytes!("../../examples/alder-vale/standards-B1.csv").to_vec(),
        include_bytes!("../../examples/alder-vale/opening-checks-B1.csv").to_vec(),
        include_bytes!("../../examples/alder-vale/closing-checks-B1.csv").to_vec(),
        include_bytes!("../../examples/alder-vale/wells-B1.csv").to_vec(),
    ]
});

fn edited(mut edits: &[u8]) -> Vec<Vec<u8>> {
    let mut texts = TEXTS.clone();
    let n_texts = texts.len();
    while let [which, high, middle, low, n_removed, n_added, rest @ ..] = edits {
        let text = &mut texts[usize::from(*which) % n_texts];
        let place = u32::from_be_bytes([0, *high, *middle, *low]) as usize % (text.len() + 1);
        let end = (place + usize::from(*n_removed)).min(text.len());
        let (added, after) = rest.split_at(usize::from(*n_added).min(rest.len()));
        text.splice(place..end, added.iter().copied());
        edits = after;
    }
    texts
}

fuzz_target!(|edits: &[u8]| {
    let texts = edited(edits);
    let (Ok(method), Ok(run_sheet)) = (std::str::from_utf8(&texts[0]), std::str::from_utf8(&texts[1])) else {
        return;
    };
    let raw_files: Vec<RawFile> = NAMES
        .iter()
        .zip(&texts[2..])
        .map(|(name, bytes)| RawFile { name: (*name).to_owned(), bytes: bytes.clone() })
        .collect();
    let method = NamedText { name: "method.toml", text: method };
    let run_sheet = NamedText { name: "run-sheet.csv", text: run_sheet };
    let Ok(input) = Input::assemble(method, run_sheet, &raw_files, |_| ()) else { return };
    let report = determine(&input);
    assert!(
        !edits.is_empty() || report.determinations.iter().any(|d| !matches!(d.outcome, Outcome::Refused))
    );
    for determination in &report.determinations {
        match &determination.outcome {
            Outcome::Refused => {
                let is_open = |code| code == DecisionCode::NotDecidable;
                assert!(
                    determination.decisions.iter().all(|d| is_open(d.code)),
                    "a refusal with a verdict: {determination:?}"
                );
                assert!(
                    determination.refusals().count() > 0,
                    "a refusal without a reason: {determination:?}"
                );
            }
            Outcome::Quantified(estimate) => {
                let value = estimate.value.value();
                assert!(estimate.low <= value && value <= estimate.high, "{estimate:?}");
                assert!(estimate.low.is_finite() && estimate.high.is_finite(), "{estimate:?}");
            }
            _ => {}
        }
    }
});

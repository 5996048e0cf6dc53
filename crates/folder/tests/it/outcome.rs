//! What the chain made of a study: its report, and the outcome of one sample.

use stillwell_method::{Determination, Input, NamedText, Outcome, Problems, RawFile, Report, determine};

use crate::small_study::{Files, Study};

/// What the chain makes of a study that holds together.
pub(crate) fn report_of(study: &Study) -> Report {
    determined(&study.files()).expect("a study that holds together")
}

/// What the chain makes of some files, or what is wrong with them.
pub(crate) fn determined(files: &Files) -> Result<Report, Problems> {
    let raw_files: Vec<RawFile> = files
        .0
        .iter()
        .filter(|(name, _)| !matches!(name.as_str(), "method.toml" | "run-sheet.csv"))
        .map(|(name, bytes)| RawFile { name: name.clone(), bytes: bytes.clone() })
        .collect();
    let named = |name| NamedText { name, text: files.text(name) };
    let input = Input::assemble(named("method.toml"), named("run-sheet.csv"), &raw_files, |_| {})?;
    Ok(determine(&input))
}

/// The determination of a sample; there must be one.
pub(crate) fn of<'r>(report: &'r Report, sample: &str) -> &'r Determination {
    report.determinations.iter().find(|determination| determination.sample == sample).expect(sample)
}

/// Value, low and high of a quantified sample.
pub(crate) fn quantified(report: &Report, sample: &str) -> [f64; 3] {
    match &of(report, sample).outcome {
        Outcome::Quantified(estimate) => [estimate.value.value(), estimate.low, estimate.high],
        other => panic!("{sample} is {}: {:?}", other.word(), of(report, sample).findings),
    }
}

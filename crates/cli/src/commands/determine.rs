//! `determine`: from raw scans to verdicts.

use stillwell_assure::DecisionCode;
use stillwell_method::{Determination, Outcome as Result_, Report};
use stillwell_report::json;
use stillwell_study::Beside;

use super::source::{Opened, opened};
use crate::args::{FolderArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &FolderArguments) -> Result<(String, Outcome), Failure> {
    let Opened { report, study, .. } = opened(&arguments.place)?;
    let study = study.as_ref();
    let outcome =
        Outcome::attention_if(needs_attention(&report) || study.is_some_and(Beside::needs_attention));
    let mut text = match (&arguments.show_chain, arguments.output.format) {
        (Some(sample), format) => chain(&report, sample, format, study)?,
        (None, Format::Table) => render::determinations::table_for(&report, &arguments.place.folder, study),
        (None, Format::Json) => json::text(&json::study::from(json::determinations::of(&report), study)),
    };
    if let (Some(study), Format::Table) = (study, arguments.output.format) {
        text.push_str(&render::study::beside::foot(&report, study, arguments.show_chain.is_some()));
    }
    Ok((text, outcome))
}

fn chain(report: &Report, sample: &str, format: Format, study: Option<&Beside>) -> Result<String, Failure> {
    let found: Vec<_> = report.determinations.iter().filter(|d| d.sample == sample).collect();
    if found.is_empty() {
        let mut known: Vec<&str> = report.determinations.iter().map(|d| d.sample.as_str()).collect();
        known.dedup();
        return Err(Failure::NotThere {
            what: format!("there is no sample \"{sample}\""),
            cure: format!("samples: {}", known.join(", ")),
        });
    }
    Ok(match format {
        Format::Table => found.iter().map(|d| render::chain::text(report, d)).collect::<Vec<_>>().join("\n"),
        Format::Json => json::text(&json::study::from(json::chain::of(report, &found), study)),
    })
}

/// Whether anything but "below every limit, and released" stands in the report. A report without a sample or a limit
/// has passed nothing.
fn needs_attention(report: &Report) -> bool {
    report.determinations.is_empty() || report.determinations.iter().any(is_no_pass)
}

fn is_no_pass(determination: &Determination) -> bool {
    matches!(determination.outcome, Result_::Refused)
        || determination.decisions.is_empty()
        || determination.withheld().next().is_some()
        || determination.decisions.iter().any(|decision| decision.code != DecisionCode::Below)
}

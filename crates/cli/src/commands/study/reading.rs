//! What a study remembers: `study show`, `chain`, `history`, `anchor`. Nothing is recorded here.

use stillwell_report::json;
use stillwell_study::{History, Overview, Shown, Study};

use crate::args::Format;
use crate::exit::{Failure, Outcome};
use crate::progress::during;
use crate::render;
use crate::study_args::{ChainArguments, HistoryArguments, ReadArguments};

pub(super) fn show(arguments: &ReadArguments) -> Result<(String, Outcome), Failure> {
    let study = Study::open_to_read(&arguments.study)?;
    let overview = Overview::of(&study)?;
    let attention = overview.needs_attention();
    let text = match arguments.output.format {
        Format::Table => render::study::results::overview(&overview, &arguments.study),
        Format::Json => json::text(&json::study::overview(&overview, &arguments.study)),
    };
    Ok((text, Outcome::attention_if(attention)))
}

pub(super) fn chain(arguments: &ChainArguments) -> Result<(String, Outcome), Failure> {
    let study = Study::open_to_read(&arguments.study)?;
    let one = study.determination(&arguments.result)?;
    let report = during("walking the chain", || study.report_of(&one.record.hash))?;
    let wanted = &one.act.result;
    let found = report.determinations.iter().find(|found| {
        (&found.sample, found.role.word(), &found.batch, &found.lot)
            == (&wanted.sample, wanted.role.as_str(), &wanted.batch, &wanted.lot)
    });
    let mut found = found.cloned().ok_or_else(|| Failure::NotThere {
        what: format!("result {} does not come out again", one.label),
        cure: format!(
            "stillwell study verify {} --recompute {}",
            stillwell_study::shell_path(study.path()),
            one.label
        ),
    })?;
    let mut shown = Shown::all(&study, vec![one])?;
    let Some(shown) = shown.pop() else { return Ok((String::new(), Outcome::Attention)) };
    // What forbids the verdict by the study's word stands among the findings of the chain.
    found.findings.extend(shown.findings());
    let anchor = study.anchor()?;
    let text = match arguments.output.format {
        Format::Table => {
            render::study::results::chain(&render::chain::text(&report, &found), &shown, &anchor)
        }
        Format::Json => {
            let document = json::chain::of(&report, &[&found]);
            json::text(&json::study::chain(document, &shown, &anchor, &arguments.study))
        }
    };
    Ok((text, Outcome::attention_if(shown.needs_attention() || !shown.one.standing.counts())))
}

pub(super) fn history(arguments: &HistoryArguments) -> Result<(String, Outcome), Failure> {
    let study = Study::open_to_read(&arguments.study)?;
    let history = during("reading the ledger", || History::of(&study, arguments.of.as_deref()))?;
    let text = match arguments.output.format {
        Format::Table => render::study::history::text(&history),
        Format::Json => json::text(&json::study::history::of(&history, &arguments.study)),
    };
    Ok((text, Outcome::Done))
}

pub(super) fn anchor(arguments: &ReadArguments) -> Result<(String, Outcome), Failure> {
    let study = Study::open_to_read(&arguments.study)?;
    let anchor = study.anchor()?;
    let text = match arguments.output.format {
        Format::Table => render::study::results::anchor(&anchor, &arguments.study),
        Format::Json => json::text(&json::study::head(&anchor, &arguments.study)),
    };
    Ok((text, Outcome::Done))
}

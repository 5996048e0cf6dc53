//! What a study remembers: `study show`, `chain`, `history`, `anchor`. Nothing is recorded here.

use std::collections::BTreeMap;

use stillwell_study::{Digest, HistoryEntry, KeyAct, Record, Study};

use super::{History, Overview, Shown};
use crate::args::Format;
use crate::exit::{Failure, Outcome};
use crate::progress::during;
use crate::study_args::{ChainArguments, HistoryArguments, ReadArguments};
use crate::{json, render};

pub(super) fn show(arguments: &ReadArguments) -> Result<(String, Outcome), Failure> {
    let study = Study::open_to_read(&arguments.study)?;
    let overview = Overview {
        method: study.method()?.method,
        series: study.series()?,
        calibrations: study.calibrations()?,
        results: Shown::all(&study, study.determinations()?)?,
        keys: keys(&study)?,
        anchor: study.anchor()?,
    };
    let attention = overview.results.iter().any(Shown::needs_attention);
    let text = match arguments.format {
        Format::Table => render::study::results::overview(&overview, &arguments.study),
        Format::Json => json::text(&json::study::overview(&overview, &arguments.study)),
    };
    Ok((text, Outcome::attention_if(attention)))
}

/// Keys, and whether each is in force.
fn keys(study: &Study) -> Result<Vec<(Record, KeyAct, bool)>, Failure> {
    let in_force = |record: &Record| study.standing(record).map(|standing| standing.withdrawn.is_none());
    let all = study.keys()?.into_iter();
    all.map(|(record, key)| Ok((record.clone(), key, in_force(&record)?))).collect()
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
        cure: format!("stillwell study verify {} --recompute {}", study.path().display(), one.label),
    })?;
    let mut shown = Shown::all(&study, vec![one])?;
    let Some(shown) = shown.pop() else { return Ok((String::new(), Outcome::Attention)) };
    // What forbids the verdict by the study's word stands among the findings of the chain.
    found.findings.extend(shown.findings());
    let anchor = study.anchor()?;
    let text = match arguments.format {
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
    let history = during("reading the ledger", || remembered(&study, arguments.of.as_deref()))?;
    let text = match arguments.format {
        Format::Table => render::study::history::text(&history),
        Format::Json => json::text(&json::study::history::of(&history, &arguments.study)),
    };
    Ok((text, Outcome::Done))
}

fn remembered(study: &Study, of: Option<&str>) -> Result<History, Failure> {
    let entries = study.history(of)?;
    let anchor = study.anchor()?;
    let mut history = History {
        calibrations: BTreeMap::new(),
        results: BTreeMap::new(),
        names: BTreeMap::new(),
        places: entries.iter().map(|entry| (entry.record.hash, place(entry, &anchor.chain))).collect(),
        entries,
        anchor,
    };
    for one in study.series()? {
        history.names.insert(one.record.hash, format!("series {}", one.label));
    }
    for one in study.calibrations()? {
        history.names.insert(one.record.hash, format!("calibration {}", one.label));
        history.calibrations.insert(one.record.hash, one);
    }
    for shown in Shown::all(study, study.determinations()?)? {
        history.names.insert(shown.one.record.hash, format!("result {}", shown.one.label));
        history.results.insert(shown.one.record.hash, shown);
    }
    for (record, key) in study.keys()? {
        history.names.insert(record.hash, format!("key of {}", key.name));
    }
    let others = history.entries.iter().map(|entry| &entry.record);
    let others: Vec<(Digest, String)> =
        others.filter(|record| record.kind == "revision").map(|r| (r.hash, "method".to_owned())).collect();
    history.names.extend(others);
    Ok(history)
}

fn place(entry: &HistoryEntry, own: &Digest) -> String {
    let record = &entry.record;
    if record.chain == *own {
        format!("#{}", record.seq)
    } else {
        format!("{} #{}", record.chain.short(), record.seq)
    }
}

pub(super) fn anchor(arguments: &ReadArguments) -> Result<(String, Outcome), Failure> {
    let study = Study::open_to_read(&arguments.study)?;
    let anchor = study.anchor()?;
    let text = match arguments.format {
        Format::Table => render::study::results::anchor(&anchor, &arguments.study),
        Format::Json => json::text(&json::study::head(&anchor, &arguments.study)),
    };
    Ok((text, Outcome::Done))
}

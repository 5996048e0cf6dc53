//! `study determine` and `study correct`: results that go on record.

use stillwell_report::json::study::Receipt;
use stillwell_study::{By, Digest, Issued, Shown, Study};

use super::source::series_of;
use super::{printed, routine, scan_of};
use crate::exit::{Failure, Outcome};
use crate::progress::during;
use crate::study_args::{CorrectArguments, IssueArguments};

pub(super) fn determine(arguments: &IssueArguments) -> Result<(String, Outcome), Failure> {
    let by = routine(&arguments.by, "results issued")?;
    let mut study = Study::open_now(&arguments.study)?;
    let series: Vec<(String, Digest)> = match &arguments.series {
        None => study.series()?.into_iter().map(|one| (one.label, one.record.hash)).collect(),
        Some(name) => {
            let one = series_of(&study, Some(name))?;
            vec![(one.label, one.record.hash)]
        }
    };
    if series.is_empty() {
        series_of(&study, None)?;
    }
    let (receipt, outcome) = issued(&mut study, &series, &by)?;
    Ok((printed(&receipt, arguments.output.format), outcome))
}

pub(super) fn correct(arguments: &CorrectArguments) -> Result<(String, Outcome), Failure> {
    let by = By::new(&arguments.by.actor, &arguments.by.reason)?;
    let mut study = Study::open_now(&arguments.study)?;
    let target = study.determination(&arguments.result)?;
    if let Some(later) = &target.standing.replaced_by {
        return Err(Failure::NotThere {
            what: format!("result {} was replaced at {} by {}", target.label, later.at_utc, later.by),
            cure: format!(
                "correct the one that took its place: stillwell study history --of {}",
                target.act.result.sample
            ),
        });
    }
    let scans = arguments.exclude.iter().map(|text| scan_of(text)).collect::<Result<Vec<_>, _>>()?;
    let label = series_label(&study, &target.act.series)?;
    let determining = format!("determining series {label}");
    let (mut records, issued) = during(&determining, || study.correct(&target.record.hash, &scans, &by))?;
    let (mut receipt, outcome) = shown(&study, &[(label, issued)])?;
    let left_out = scans.iter().map(|scan| format!("{} is left out from now on", scan.label()));
    receipt.said.splice(0..0, left_out);
    records.append(&mut receipt.records);
    receipt.records = records;
    let now = study.determination(&target.record.hash.to_string())?;
    receipt.said.push(match &now.standing.replaced_by {
        Some(_) => format!("result {} is kept, and replaced by the one that names it", target.label),
        None => format!("result {} comes out as before, and stands as it is", target.label),
    });
    Ok((printed(&receipt, arguments.output.format), outcome))
}

fn series_label(study: &Study, series: &Digest) -> Result<String, Failure> {
    let all = study.series()?;
    Ok(all.into_iter().find(|one| one.record.hash == *series).map(|one| one.label).unwrap_or_default())
}

/// Determines series one after another; each is one transaction.
fn issued(study: &mut Study, series: &[(String, Digest)], by: &By) -> Result<(Receipt, Outcome), Failure> {
    let mut all = Vec::new();
    for (label, hash) in series {
        let issued = during(&format!("determining series {label}"), || study.determine(hash, by))?;
        all.push((label.clone(), issued));
    }
    shown(study, &all)
}

/// What was issued since the ledger had a head, as it is printed.
fn shown(study: &Study, all: &[(String, Issued)]) -> Result<(Receipt, Outcome), Failure> {
    let mut said = Vec::new();
    let mut wanted: Vec<Digest> = Vec::new();
    let mut records = Vec::new();
    for (label, issued) in all {
        said.push(in_words(label, issued));
        wanted.extend(issued.determinations.iter().map(|one| one.record));
        // What a colleague recorded meanwhile is not this command's.
        for record in &issued.recorded {
            records.push(study.record(record)?);
        }
    }
    records.sort_by_key(|record| record.seq);
    records.dedup();
    let mut results = study.determinations()?;
    results.retain(|one| wanted.contains(&one.record.hash));
    let results = Shown::all(study, results)?;
    let is_withdrawn = |shown: &Shown| shown.one.standing.withdrawn.is_some();
    let attention =
        results.is_empty() || results.iter().any(|shown| shown.needs_attention() || is_withdrawn(shown));
    let mut receipt = Receipt::of(study, "", records)?;
    (receipt.said, receipt.results) = (said, results);
    for shown in receipt.results.iter().filter(|shown| shown.one.standing.withdrawn.is_some()) {
        receipt.hints.push(stays_withdrawn(study, shown));
    }
    if receipt.results.iter().any(|shown| shown.one.standing.counts() && !shown.one.standing.is_approved()) {
        receipt.hints.push(
            "what is not approved waits for another person's word: stillwell study approve; verdicts in full: \
             stillwell determine on this study"
                .to_owned(),
        );
    }
    Ok((receipt, Outcome::attention_if(attention)))
}

/// Why nothing was issued in the place of a withdrawn result, and what would.
fn stays_withdrawn(study: &Study, shown: &Shown) -> String {
    let (one, sample) = (&shown.one, &shown.one.act.result.sample);
    format!(
        "{sample}: result {} was {}; nothing is issued in its place. To issue it anew for a reason: stillwell study correct {} --result {} --as NAME --reason WORDS",
        one.label,
        one.standing.taken_back().unwrap_or_default(),
        study.path().display(),
        one.label
    )
}

fn in_words(label: &str, issued: &Issued) -> String {
    let n_withdrawn = issued.determinations.iter().filter(|one| one.withdrawn.is_some()).count();
    let n_there = issued.determinations.iter().filter(|one| one.was_there).count() - n_withdrawn;
    let n_replacing =
        issued.determinations.iter().filter(|one| !one.was_there && one.act.replaces.is_some()).count();
    let n_new = issued.determinations.len() - n_there - n_withdrawn;
    let mut parts = Vec::new();
    if n_new > 0 || n_there + n_withdrawn == 0 {
        parts.push(format!("{n_new} results issued"));
    }
    if n_replacing > 0 {
        parts.push(format!("{n_replacing} of them in place of an earlier one, which is kept"));
    }
    if n_there > 0 {
        parts.push(format!("{n_there} stood on record already, the same to the last bit"));
    }
    if n_withdrawn > 0 {
        parts.push(format!("{n_withdrawn} withdrawn and not issued anew: treat as unknown"));
    }
    format!("series {label}: {}", parts.join("; "))
}

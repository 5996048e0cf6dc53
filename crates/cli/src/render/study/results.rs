//! Results on record: their numbers, verdicts and standing in a table.

use std::path::Path;

use stillwell_report::wording::laboratory_words;
pub(crate) use stillwell_report::wording::{
    approval_by as by, calibration_words as calibration, number, quantity, sample, verdict_words as verdict,
};
use stillwell_study::{Anchor, CampaignAct, LaboratoryAct, Numbered, Overview, Series, Shown};

use super::super::table::table;
use super::{head, time, wrapped};

/// A table of results, and below it why a verdict is withheld and what came of a result.
pub(crate) fn list(results: &[Shown]) -> String {
    let mut limits: Vec<&str> = Vec::new();
    for one in results.iter().flat_map(|shown| &shown.one.act.result.decisions) {
        if !limits.contains(&one.limit.as_str()) {
            limits.push(&one.limit);
        }
    }
    let mut units: Vec<&str> = results.iter().map(|shown| shown.one.act.result.unit.as_str()).collect();
    units.retain(|unit| !unit.is_empty());
    units.sort_unstable();
    units.dedup();
    let is_one_unit = units.len() < 2;
    let unit = if is_one_unit { units.first().copied().unwrap_or("result") } else { "result" };
    let mut header = vec![">result", "sample", unit];
    header.extend(&limits);
    header.push("standing");
    let rows: Vec<Vec<String>> = results
        .iter()
        .map(|shown| {
            let result = &shown.one.act.result;
            let value = if is_one_unit { number(result) } else { quantity(result) };
            let mut cells = vec![shown.one.label.clone(), sample(result), value];
            cells.extend(limits.iter().map(|limit| verdict(shown, limit).to_owned()));
            cells.push(standing(shown));
            cells
        })
        .collect();
    let mut text = table(&header, &rows);
    for shown in results {
        text.push_str(&withheld(shown));
    }
    text
}

fn standing(shown: &Shown) -> String {
    let standing = &shown.one.standing;
    match (&standing.withdrawn, &standing.replaced_by, &standing.approval) {
        (None, None, Some((word, said))) => {
            let calibration = match &shown.unapproved_calibration {
                Some((label, word)) => format!(", calibration {label} {word}"),
                None => String::new(),
            };
            format!("{}{calibration}", by(*word, said))
        }
        _ => standing.word().to_owned(),
    }
}

/// Why no verdict is drawn from a result that counts.
pub(crate) fn withheld(shown: &Shown) -> String {
    if !shown.one.standing.counts() || shown.one.act.result.numbers.is_none() {
        return String::new();
    }
    let mut text = String::new();
    for why in shown.reasons() {
        let lead = format!("  {} withheld: ", sample(&shown.one.act.result));
        line!(text, "{}", wrapped(&lead, &why));
    }
    text
}

fn calibrations(overview: &Overview) -> String {
    let all = &overview.calibrations;
    let is_stated = !overview.used_until.is_empty();
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|one| {
            let by = match (&one.standing.withdrawn, &one.standing.approval) {
                (Some(said), _) => format!("withdrawn by {}: {}", said.by, said.reason),
                (None, Some((word, said))) => self::by(*word, said),
                (None, None) => one.standing.word().to_owned(),
            };
            let mut cells = vec![one.label.clone(), calibration(one), by];
            if is_stated {
                let until = overview.used_until.get(&one.record.hash);
                cells.push(until.cloned().unwrap_or_else(|| "not stated".to_owned()));
            }
            cells
        })
        .collect();
    let mut header = vec![">calibration", "what", "standing"];
    if is_stated {
        header.push("to be used until");
    }
    table(&header, &rows)
}

fn series(all: &[Numbered<Series>]) -> String {
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|one| {
            vec![
                one.label.clone(),
                one.act.name.clone(),
                one.act.files.len().to_string(),
                one.act.n_scans.to_string(),
                time(&one.record.at_utc),
                one.record.actor.clone(),
            ]
        })
        .collect();
    table(&[">series", "name", ">raw files", ">scans", "taken in (UTC)", "by"], &rows)
}

fn campaigns(all: &[Numbered<CampaignAct>]) -> String {
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|one| {
            vec![
                one.label.clone(),
                one.act.name.clone(),
                one.standing.word().to_owned(),
                time(&one.record.at_utc),
                one.record.actor.clone(),
            ]
        })
        .collect();
    table(&[">campaign", "name", "standing", "recorded (UTC)", "by"], &rows)
}

fn laboratories(all: &[Numbered<LaboratoryAct>]) -> String {
    let row = |one: &Numbered<LaboratoryAct>| {
        vec![
            one.label.clone(),
            laboratory_words(&one.act),
            if one.standing.counts() { "counts".to_owned() } else { one.standing.word().to_owned() },
            time(&one.record.at_utc),
            one.record.actor.clone(),
        ]
    };
    let rows: Vec<Vec<String>> = all.iter().map(row).collect();
    table(&[">laboratory", "what it reported", "standing", "recorded (UTC)", "by"], &rows)
}

/// The whole study on a page.
pub(crate) fn overview(overview: &Overview, path: &Path) -> String {
    let method = &overview.method;
    let mut text = format!(
        "{}\nmethod {}, revision {} ({})\n",
        path.display(),
        method.name,
        method.revision,
        method.hash.short()
    );
    for (heading, part, is_empty) in [
        ("series", series(&overview.series), overview.series.is_empty()),
        ("calibrations", calibrations(overview), overview.calibrations.is_empty()),
        ("results", list(&overview.results), overview.results.is_empty()),
        ("keys", super::people::keys(&overview.keys), overview.keys.is_empty()),
    ] {
        if is_empty {
            line!(text, "\nno {heading} yet");
        } else {
            line!(text, "\n{}", part.trim_end());
        }
    }
    if !overview.campaigns.is_empty() {
        line!(text, "\n{}", campaigns(&overview.campaigns).trim_end());
    }
    if !overview.laboratories.is_empty() {
        line!(text, "\n{}", laboratories(&overview.laboratories).trim_end());
    }
    line!(text, "");
    text.push_str(&head(&overview.anchor));
    text
}

/// The chain of an issued result, and how it stands today.
pub(crate) fn chain(chain: &str, shown: &Shown, anchor: &Anchor) -> String {
    let one = &shown.one;
    let mut text = String::new();
    if !one.standing.counts() {
        line!(
            text,
            "result {} is {} and no longer counts; this is how it came about\n",
            one.label,
            one.standing.word()
        );
    }
    text.push_str(chain);
    line!(
        text,
        "\nrecord      result {}, #{}, issued by {} at {} UTC with {}",
        one.label,
        one.record.seq,
        one.record.actor,
        time(&one.record.at_utc),
        one.act.software
    );
    line!(text, "            {}", one.record.hash);
    line!(text, "standing    {}", standing(shown));
    text.push_str(&head(anchor));
    text
}

/// The head of the ledger, and where it belongs.
pub(crate) fn anchor(anchor: &Anchor, path: &Path) -> String {
    let mut text = head(anchor);
    let words = format!(
        "keep this hash where the owner of {0} cannot change it: on paper, in a mail, with the customer. `stillwell study verify \
         {0} --anchor HASH` shows later that the ledger up to this record is the same.",
        path.display()
    );
    line!(text, "{}", wrapped("", &words));
    text
}

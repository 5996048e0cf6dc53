//! The ledger for reading: who did what, when and why, what it rests on, what it touches.

use stillwell_study::{Act, Deed, FieldStep, History, HistoryEntry, StepAnswer, StepSeen, Word};

use super::results::{by, calibration, quantity, sample, verdicts};
use super::{head, place, time, wrapped};
use crate::render::numbers::counted;

pub(crate) fn text(history: &History) -> String {
    let mut text = String::new();
    for entry in &history.entries {
        text.push_str(&one(history, entry));
        text.push('\n');
    }
    line!(
        text,
        "{}",
        wrapped("", "times are UTC; # is the place of a record in the ledger, and its hash stands behind it")
    );
    text.push_str(&head(&history.anchor));
    text
}

fn one(history: &History, entry: &HistoryEntry) -> String {
    let record = &entry.record;
    let mut text = format!(
        "{:<5} {}  {}  {}\n",
        place(record, &history.anchor),
        time(&record.at_utc),
        record.actor,
        record.hash.short()
    );
    if record.clock_was_set_back() {
        line!(
            text,
            "      the clock said {}, which is earlier than the record before",
            time(&record.clock_utc)
        );
    }
    line!(text, "{}", wrapped("      ", &what(history, entry)));
    text.push_str(&standing(history, entry));
    line!(text, "{}", wrapped("      why: ", &record.reason));
    let rests_on: Vec<String> = entry.rests_on.iter().map(|hash| history.name(hash)).collect();
    if !rests_on.is_empty() {
        line!(text, "{}", wrapped("      rests on: ", &rests_on.join(", ")));
    }
    if !entry.touches.is_empty() {
        let touches: Vec<String> = entry
            .touches
            .iter()
            .map(|one| format!("{} of {} ({})", history.name(&one.record), one.sample, one.standing))
            .collect();
        line!(text, "{}", wrapped("      touches issued results: ", &touches.join(", ")));
    }
    text
}

/// How a calibration or result stands today.
fn standing(history: &History, entry: &HistoryEntry) -> String {
    let Some(standing) = &entry.standing else { return String::new() };
    let mut text = String::new();
    let said = match (&standing.withdrawn, &standing.replaced_by, &standing.approval) {
        (Some(said), _, _) => {
            format!("withdrawn by {} at {} UTC: {}", said.by, time(&said.at_utc), said.reason)
        }
        (None, Some(said), _) => format!("replaced by {}", history.name(&said.record)),
        (None, None, Some((word, said))) => format!("{} at {} UTC", by(*word, said), time(&said.at_utc)),
        (None, None, None) => standing.word().to_owned(),
    };
    line!(text, "{}", wrapped("      today: ", &said));
    if let Some(shown) = history.results.get(&entry.record.hash).filter(|_| standing.counts()) {
        for why in shown.reasons() {
            line!(text, "{}", wrapped("      verdict withheld: ", &why));
        }
    }
    text
}

fn what(history: &History, entry: &HistoryEntry) -> String {
    let own = history.name_alone(&entry.record.hash);
    match &entry.act {
        Act::Founding(act) => format!("study \"{}\" begun with {}", act.name, act.software),
        Act::Revision(act) => {
            format!("{own}: {}, revision {} ({})", act.name, act.revision, act.method.short())
        }
        Act::Files(act) => format!("{} raw files taken in", act.files.len()),
        Act::Series(act) => {
            format!("{own} \"{}\": {} raw files, {} scans", act.name, act.files.len(), act.n_scans)
        }
        Act::Exclusion(act) => format!("{} left out{}", act.scan.label(), origin(act.from_run_sheet)),
        Act::Override(act) => {
            format!("{} used in spite of {}{}", act.scan.label(), act.check, origin(act.from_run_sheet))
        }
        Act::Calibration(act) => match history.calibrations.get(&entry.record.hash) {
            Some(one) => format!("{own}: {}", calibration(one)),
            None => format!("{own}: lot {}", act.result.lot),
        },
        Act::Determination(act) => match history.results.get(&entry.record.hash) {
            Some(shown) => {
                let verdicts = verdicts(shown);
                let apart = if verdicts.is_empty() { "" } else { "; " };
                format!("{own}: {} {}{apart}{verdicts}", sample(&act.result), quantity(&act.result))
            }
            None => format!("{own}: {}", sample(&act.result)),
        },
        other => said_of(history, other),
    }
}

/// Acts about something else.
fn said_of(history: &History, act: &Act) -> String {
    match act {
        Act::Validity(act) => {
            let ends = match act.triggers.as_slice() {
                [] => String::new(),
                triggers => format!("; ends with: {}", triggers.join(", ")),
            };
            format!("{} may be used until {}{ends}", history.name(&act.calibration), act.last_day)
        }
        Act::Trigger(act) => format!("{} ended on {}", history.name(&act.calibration), act.on),
        Act::Key(act) => {
            let came = if act.voucher.is_some() { "on an approver's word" } else { "on trust" };
            format!("key of {} as {} ({}), {came}", act.name, act.role.word(), act.public_key.short())
        }
        Act::Approval(act) => {
            let word = match act.word {
                Word::Approved => "approved",
                Word::Refused => "refused",
            };
            format!("{} {word}, signed", history.name(&act.target))
        }
        Act::Withdrawal(act) => format!("{} withdrawn", history.name(&act.target)),
        Act::Undo(act) => format!("{} undone", history.name(&act.target)),
        Act::Lot(act) => format!(
            "lot {}: {}; last day {}; storage {}; signed",
            act.lot, act.identity, act.last_day, act.storage
        ),
        Act::Custody(act) => format!(
            "sample {}: taken at {}, {}, by {}; preservation {}; {}dilution {}",
            act.sample,
            act.place,
            act.taken,
            act.taken_by,
            act.preservation,
            act.holding_time_h.map_or_else(String::new, |hours| format!("to be measured within {hours} h; ")),
            act.dilution
        ),
        Act::Merge(act) => format!(
            "ledger {} taken in up to its record #{} ({})",
            act.chain.short(),
            act.seq,
            act.head.short()
        ),
        Act::Campaign(act) => format!(
            "campaign \"{}\" with {} of strips ({})",
            act.name,
            counted(act.calibrations.len(), "lot"),
            act.text.short()
        ),
        Act::FieldStep(step) => field_step(step),
        Act::Transfer(act) => format!(
            "{} carried to a device until {}: package {}, signed",
            history.name(&act.calibration),
            act.last_day,
            act.package.short()
        ),
        other => other.kind().to_owned(),
    }
}

/// A step in the field, with what was answered.
fn field_step(step: &FieldStep) -> String {
    let what = match &step.deed {
        Deed::Well { code } => format!("well {code}"),
        Deed::Strip { lot, number } => format!("strip {lot}-{number}"),
        Deed::Temperature { temperature_c } => format!("temperature {temperature_c} °C"),
        Deed::File(file) => {
            format!("file {} ({}, {})", file.name, counted(file.n_scans, "scan"), file.raw.short())
        }
        Deed::Abandon { why } => format!("given up: {why}"),
        other => other.word().to_owned(),
    };
    let answer = match &step.answer {
        StepAnswer::Refused { code, .. } => format!("; REFUSED: {code}"),
        StepAnswer::Taken { seen: None } => String::new(),
        StepAnswer::Taken { seen: Some(seen) } => match seen {
            StepSeen::Alive { found } => format!("; electrode control lives: {found}"),
            StepSeen::NotAlive { found } => format!("; electrode control does not live: {found}"),
            StepSeen::Unusable { check, found } => format!("; cannot be used, {check}: {found}"),
            StepSeen::SecondStrip { found } => format!("; a second strip is asked for: {found}"),
            StepSeen::Disagree { found } => format!("; the two strips disagree: {found}"),
            StepSeen::Unknown { check, found, .. } => format!("; no verdict, {check}: {found}"),
            StepSeen::Issued { .. } => "; a result was issued".to_owned(),
        },
    };
    format!("field run {}, step {} on {}: {what}{answer}", step.run, step.place, step.device)
}

fn origin(from_run_sheet: bool) -> &'static str {
    if from_run_sheet { ", as the run sheet says" } else { "" }
}

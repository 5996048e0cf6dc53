//! Records of the ledger in words, one sentence each.

use stillwell_study::{
    Act, CalibrationAct, Deed, FieldStep, History, HistoryEntry, LaboratoryAct, Numbered, Said as SaidOf,
    Shown, StepAnswer, StepSeen, Word,
};

use super::counted;
use super::results::{quantity, sample};

/// What a record says, in one sentence.
pub fn record_words(history: &History, entry: &HistoryEntry) -> String {
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
            Some(one) => format!("{own}: {}", calibration_words(one)),
            None => format!("{own}: lot {}", act.result.lot),
        },
        Act::Determination(act) => match history.results.get(&entry.record.hash) {
            Some(shown) => {
                let verdicts = verdicts_words(shown);
                let apart = if verdicts.is_empty() { "" } else { "; " };
                format!("{own}: {} {}{apart}{verdicts}", sample(&act.result), quantity(&act.result))
            }
            None => format!("{own}: {}", sample(&act.result)),
        },
        Act::Laboratory(act) => format!("{own}: {}", laboratory_words(act)),
        Act::Validity(_) | Act::Lot(_) => {
            let in_force = history.not_extending(&entry.record.hash);
            let in_spite = in_force.map_or_else(String::new, |day| {
                format!("; does not extend {day}, since no approver's key signed it")
            });
            format!("{}{in_spite}", said_of(history, &entry.act))
        }
        other => said_of(history, other),
    }
}

/// What a laboratory reported, in one line: whose, which file, how many results.
pub fn laboratory_words(act: &LaboratoryAct) -> String {
    let of = if act.laboratory.is_empty() { String::new() } else { format!("{}, ", act.laboratory) };
    format!("{of}{} with {} ({})", act.file, counted(act.n_results, "result"), act.text.short())
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
    let by = if step.label.is_some() { ", by its label" } else { "" };
    format!("field run {}, step {} on {}: {what}{by}{answer}", step.run, step.place, step.device)
}

fn origin(from_run_sheet: bool) -> &'static str {
    if from_run_sheet { ", as the run sheet says" } else { "" }
}

/// The verdict against one limit in a word. A result that no longer counts has none.
pub fn verdict_words(shown: &Shown, limit: &str) -> &'static str {
    let act = &shown.one.act;
    if !shown.one.standing.counts() {
        return "–";
    }
    if act.result.numbers.is_none() {
        return "UNKNOWN (refused)";
    }
    if shown.is_withheld() {
        return "WITHHELD";
    }
    let code = act.verdicts().iter().find(|one| one.limit == limit).map(|one| one.code.as_str());
    match code {
        Some("below") => "below",
        Some("above") => "ABOVE",
        Some("too-close-to-call") => "TOO CLOSE TO CALL",
        Some(_) => "UNKNOWN",
        None => "–",
    }
}

/// Verdicts of all limits, `who-nitrate below, us-nitrate ABOVE`.
pub fn verdicts_words(shown: &Shown) -> String {
    let decisions = shown.one.act.result.decisions.iter();
    let all: Vec<String> =
        decisions.map(|one| format!("{} {}", one.limit, verdict_words(shown, &one.limit))).collect();
    all.join(", ")
}

/// An approver's word with their name.
pub fn approval_by(word: Word, said: &SaidOf) -> String {
    match word {
        Word::Approved => format!("approved by {}", said.by),
        Word::Refused => format!("refused by {}", said.by),
    }
}

/// A calibration in one line: lot and channel, acceptance, standards.
pub fn calibration_words(one: &Numbered<CalibrationAct>) -> String {
    let result = &one.act.result;
    let of = match (result.lot.as_str(), result.channel.as_str()) {
        ("", "") => "all lots".to_owned(),
        (lot, "") => format!("lot {lot}"),
        ("", channel) => format!("channel {channel}"),
        (lot, channel) => format!("lot {lot}, channel {channel}"),
    };
    let accepted = if result.accepted { "accepted" } else { "NOT ACCEPTED" };
    format!("{of}, {accepted}, {} standard scans", result.standards.len())
}

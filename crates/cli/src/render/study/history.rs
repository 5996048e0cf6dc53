//! The ledger for reading: who did what, when and why, what it rests on, what it touches.

use stillwell_report::wording::{approval_by, record_words};
use stillwell_study::{History, HistoryEntry};

use super::{head, place, time, wrapped};

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
    line!(text, "{}", wrapped("      ", &record_words(history, entry)));
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
        (None, None, Some((word, said))) => {
            format!("{} at {} UTC", approval_by(*word, said), time(&said.at_utc))
        }
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

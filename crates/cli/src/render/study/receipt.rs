//! What an act did: said in words, then its records, then the head of the ledger.

use stillwell_report::json::study::Receipt;
use stillwell_study::Record;

use super::{head, place, time, wrapped};

pub(crate) fn text(receipt: &Receipt) -> String {
    let mut text = String::new();
    for said in &receipt.said {
        line!(text, "{}", wrapped("", said));
    }
    if !receipt.results.is_empty() {
        line!(text, "\n{}", super::results::list(&receipt.results).trim_end());
    }
    for hint in &receipt.hints {
        line!(text, "{}", wrapped("", hint));
    }
    if !text.is_empty() {
        text.push('\n');
    }
    for group in receipt.records.chunk_by(is_next) {
        text.push_str(&recorded(group, receipt));
    }
    text.push_str(&head(&receipt.anchor));
    text
}

/// Records of one kind by one person, one behind the other, share a line.
fn is_next(one: &Record, next: &Record) -> bool {
    (one.seq + 1, &one.kind, &one.actor) == (next.seq, &next.kind, &next.actor)
}

fn recorded(group: &[Record], receipt: &Receipt) -> String {
    let (Some(first), Some(last)) = (group.first(), group.last()) else { return String::new() };
    let from = if group.len() > 1 { format!("{} to ", place(first, &receipt.anchor)) } else { String::new() };
    format!(
        "recorded {from}{} ({}) by {} at {} UTC: {}\n",
        place(last, &receipt.anchor),
        last.kind,
        last.actor,
        time(&last.at_utc),
        last.hash.short()
    )
}

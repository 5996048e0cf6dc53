//! What an act did: said in words, then its records, then the head of the ledger.

use super::{head, place, time, wrapped};
use crate::commands::study::Receipt;

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
    for record in &receipt.records {
        line!(
            text,
            "recorded {} {} by {} at {} UTC: {}",
            place(record, &receipt.anchor),
            record.kind,
            record.actor,
            time(&record.at_utc),
            record.hash.short()
        );
    }
    text.push_str(&head(&receipt.anchor));
    text
}

//! What a study says, for people: results with their standing, receipts of acts, history, verification.

pub(crate) mod beside;
pub(crate) mod history;
pub(crate) mod people;
pub(crate) mod receipt;
pub(crate) mod results;
pub(crate) mod revision;
pub(crate) mod verification;

use stillwell_study::{Anchor, Record};

use super::wrapped;

/// `2026-05-12 08:30:00`: UTC, as the head of a page says.
fn time(at_utc: &str) -> String {
    at_utc.get(..19).unwrap_or(at_utc).replace('T', " ")
}

/// A record by its place: `#12`, or `3f2a9c01b7de #12` in a ledger that was taken in.
fn place(record: &Record, own: &Anchor) -> String {
    if record.chain == own.chain {
        format!("#{}", record.seq)
    } else {
        format!("{} #{}", record.chain.short(), record.seq)
    }
}

/// The head of the ledger, as it stands on every page that comes from a study.
pub(crate) fn head(anchor: &Anchor) -> String {
    format!("head of the ledger: record #{}, {}\n", anchor.seq, anchor.head)
}

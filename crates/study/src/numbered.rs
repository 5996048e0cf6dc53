//! Acts of one kind as a person counts them: `3` is the third of the study's own, `ab12cd34ef56:2` the second of a
//! ledger that was taken in.

use crate::act::Act;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, Record};
use crate::standing::Standing;
use crate::study::Study;

/// An act with its number, its record and how it stands now.
#[derive(Debug, Clone)]
pub struct Numbered<T> {
    /// As a person names it.
    pub label: String,
    /// The record.
    pub record: Record,
    /// What it says.
    pub act: T,
    /// Approved, withdrawn, replaced?
    pub standing: Standing,
}

pub(crate) fn numbered<T>(
    study: &Study,
    kind: &str,
    take: impl Fn(Act) -> Option<T>,
) -> Result<Vec<Numbered<T>>, StudyError> {
    let mut found = Vec::new();
    let mut counted: (Option<Digest>, usize) = (None, 0);
    for record in ledger::of_kind(&study.connection, &study.own, kind)? {
        counted = match counted {
            (Some(chain), n) if chain == record.chain => (Some(chain), n + 1),
            _ => (Some(record.chain), 1),
        };
        let number = counted.1;
        let label = if record.chain == study.own {
            number.to_string()
        } else {
            format!("{}:{number}", record.chain.short())
        };
        let Some(act) = take(record.act()?) else { continue };
        let standing = study.standing(&record)?;
        found.push(Numbered { label, record, act, standing });
    }
    Ok(found)
}

/// The one that a person named, by its number or by its record's hash.
pub(crate) fn named<T>(all: Vec<Numbered<T>>, what: &str, name: &str) -> Result<Numbered<T>, StudyError> {
    let labels: Vec<String> = all.iter().map(|one| one.label.clone()).take(20).collect();
    let by_hash = Digest::parse(name);
    all.into_iter().find(|one| one.label == name || Some(one.record.hash) == by_hash).ok_or_else(|| {
        StudyError::Unknown {
            what: format!("{what} {name}"),
            cure: match labels.as_slice() {
                [] => format!("there is no {what} yet"),
                labels => format!("one of {}", labels.join(", ")),
            },
        }
    })
}

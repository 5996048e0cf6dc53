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
    let mut labels = Labels::of(&study.own);
    for record in ledger::of_kind(&study.connection, &study.own, kind)? {
        let label = labels.next(&record.chain);
        let Some(act) = take(record.act()?) else { continue };
        let standing = study.standing(&record)?;
        found.push(Numbered { label, record, act, standing });
    }
    Ok(found)
}

/// Numbers records of one kind that come ledger by ledger, the study's own first.
pub(crate) struct Labels {
    own: Digest,
    counted: Option<(Digest, usize)>,
}

impl Labels {
    pub(crate) fn of(own: &Digest) -> Self {
        Self { own: *own, counted: None }
    }

    /// The label of the next record, which is of this ledger.
    pub(crate) fn next(&mut self, chain: &Digest) -> String {
        let number = match self.counted {
            Some((counted, n)) if counted == *chain => n + 1,
            _ => 1,
        };
        self.counted = Some((*chain, number));
        if *chain == self.own { number.to_string() } else { format!("{}:{number}", chain.short()) }
    }
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

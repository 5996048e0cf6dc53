//! Taking in another study: its ledgers stay as they are, beside this one's own; texts and scans that both hold are kept
//! once. Nothing can clash, because everything is named by its hash.

use std::path::Path;

use rusqlite::types::ToSqlOutput;
use rusqlite::{OptionalExtension as _, Transaction, TransactionBehavior, params};

use crate::act::{Act, Merge};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, By, Record};
use crate::study::{Anchor, Study, anchor_of};
use crate::verify::{RecordName, VerifyRequest};

/// What merging did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Merged {
    /// Ledgers that were new or had grown, up to their present heads.
    pub ledgers: Vec<Anchor>,
    /// Records that were new.
    pub n_records: usize,
    /// Texts that were new.
    pub n_texts: usize,
    /// Scans that were new.
    pub n_scans: usize,
}

impl Study {
    /// Takes in a bundle or another study. Again is a no-op.
    ///
    /// # Errors
    /// One that does not verify, or whose ledger and this study's went two ways.
    pub fn merge(&mut self, other: &Path, by: &By) -> Result<Merged, StudyError> {
        let other = Self::open_to_read(other)?;
        // One state of the other file, from its verification to the last copied byte.
        let snapshot = Transaction::new_unchecked(&other.connection, TransactionBehavior::Deferred)?;
        other.must_be_sound_within()?;
        let merged = self.write(|transaction, study| study.take_in(transaction, &other, by))?;
        drop(snapshot);
        Ok(merged)
    }

    pub(crate) fn must_be_sound(&self) -> Result<(), StudyError> {
        let snapshot = Transaction::new_unchecked(&self.connection, TransactionBehavior::Deferred)?;
        let sound = self.must_be_sound_within();
        drop(snapshot);
        sound
    }

    fn must_be_sound_within(&self) -> Result<(), StudyError> {
        let found = self.verify_within(&VerifyRequest::default(), &mut |_, _| {})?;
        match found.damages.first() {
            None => Ok(()),
            Some(first) => {
                let place =
                    first.record.as_ref().map_or_else(String::new, |RecordName { seq, kind, .. }| {
                        format!("record {seq} ({kind}): ")
                    });
                Err(StudyError::not_allowed(
                    format!("{} does not verify: {place}{}", self.path().display(), first.what),
                    "ask for a new bundle",
                ))
            }
        }
    }

    fn take_in(&self, transaction: &Transaction<'_>, other: &Self, by: &By) -> Result<Merged, StudyError> {
        let mut merged = Merged { ledgers: Vec::new(), n_records: 0, n_texts: 0, n_scans: 0 };
        for chain in ledger::chains(&other.connection, &other.own)? {
            let theirs = anchor_of(&other.connection, &chain)?;
            let ours = ledger::head(transaction, &chain)?.map_or(0, |record| record.seq);
            must_agree(transaction, other, &theirs, ours)?;
            if theirs.seq <= ours {
                continue;
            }
            if chain == self.own {
                return Err(went_two_ways(&chain, ours + 1));
            }
            ledger::walk(&other.connection, &chain, |record| {
                if record.seq > ours {
                    copy_record(transaction, other, &record, &mut merged)?;
                }
                Ok(())
            })?;
            merged.ledgers.push(theirs);
        }
        for Anchor { chain, seq, head } in merged.ledgers.clone() {
            self.append(transaction, by, &Act::Merge(Merge { chain, seq, head }))?;
        }
        Ok(merged)
    }
}

/// As far as both hold a ledger, they hold the same.
fn must_agree(
    transaction: &Transaction<'_>,
    other: &Study,
    theirs: &Anchor,
    ours: u64,
) -> Result<(), StudyError> {
    let last = theirs.seq.min(ours);
    let hash_at = |connection: &rusqlite::Connection, seq: u64| -> Result<Option<Digest>, StudyError> {
        let seq = i64::try_from(seq).unwrap_or(i64::MAX);
        let sql = "SELECT hash FROM record WHERE chain = ?1 AND seq = ?2";
        Ok(connection
            .prepare_cached(sql)?
            .query_row(params![theirs.chain, seq], |row| row.get(0))
            .optional()?)
    };
    // Hashes follow from one another: the first that differs is found by halving.
    let agree = |seq: u64| -> Result<bool, StudyError> {
        Ok(seq == 0 || hash_at(transaction, seq)? == hash_at(&other.connection, seq)?)
    };
    if agree(last)? {
        return Ok(());
    }
    let (mut same, mut differs) = (0, last);
    while differs - same > 1 {
        let middle = same + (differs - same) / 2;
        if agree(middle)? {
            same = middle;
        } else {
            differs = middle;
        }
    }
    Err(went_two_ways(&theirs.chain, differs))
}

fn went_two_ways(chain: &Digest, seq: u64) -> StudyError {
    StudyError::not_allowed(
        format!(
            "the ledger {} went two ways: from record {seq} on the two files say different things",
            chain.short()
        ),
        "a study file was copied and both copies were written to. Keep one; begin the other anew with \
         `stillwell study import`, and add its later folders again",
    )
}

fn copy_record(
    transaction: &Transaction<'_>,
    other: &Study,
    record: &Record,
    merged: &mut Merged,
) -> Result<(), StudyError> {
    let act = record.act()?;
    for text in act.contents() {
        merged.n_texts += copy_rows(transaction, other, &text, CONTENT)?;
    }
    for reading in act.readings() {
        if copy_rows(transaction, other, &reading, READING)? > 0 {
            merged.n_scans += copy_rows(transaction, other, &reading, SCAN)?;
        }
    }
    ledger::insert(transaction, record)?;
    merged.n_records += 1;
    Ok(())
}

/// How the rows of a hash are read and written; a row that is there stays.
type Statements = (&'static str, &'static str);

const CONTENT: Statements = (
    "SELECT hash, n_bytes, packed, packed_hash FROM content WHERE hash = ?1",
    "INSERT INTO content (hash, n_bytes, packed, packed_hash) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING",
);
const READING: Statements = (
    "SELECT hash, key, raw, n_scans, understood FROM reading WHERE hash = ?1",
    "INSERT INTO reading (hash, key, raw, n_scans, understood) VALUES (?1, ?2, ?3, ?4, ?5) \
     ON CONFLICT (hash) DO NOTHING",
);
const SCAN: Statements = (
    "SELECT reading, ordinal, details, potential_v, current_a, forward_a, reverse_a, time_s, hash FROM scan \
     WHERE reading = ?1 ORDER BY ordinal",
    "INSERT INTO scan (reading, ordinal, details, potential_v, current_a, forward_a, reverse_a, time_s, hash) \
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
);

/// Copies the rows of a hash as they are; says how many were new.
fn copy_rows(
    transaction: &Transaction<'_>,
    other: &Study,
    hash: &Digest,
    (select, insert): Statements,
) -> Result<usize, StudyError> {
    let mut from = other.connection.prepare_cached(select)?;
    let n_columns = from.column_count();
    let mut rows = from.query([hash])?;
    let mut n_new = 0;
    while let Some(row) = rows.next()? {
        let mut to = transaction.prepare_cached(insert)?;
        for index in 0..n_columns {
            to.raw_bind_parameter(index + 1, ToSqlOutput::Borrowed(row.get_ref(index)?))?;
        }
        n_new += to.raw_execute()?;
    }
    Ok(n_new)
}

//! The study: making one, opening one, and the write lock under which every act is recorded.

use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use rusqlite::{Connection, Transaction, TransactionBehavior};
use stillwell_method::Method;

use crate::act::{Act, Founding, Revision};
use crate::clock::{Clock, stamp};
use crate::connection;
use crate::content::{self, Packed};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, By, Record, said};
use crate::result::digest_of;
use crate::schema;

/// Version of the software as it stands in records.
pub(crate) const SOFTWARE: &str = concat!("stillwell ", env!("CARGO_PKG_VERSION"));

/// Local days begin so many hours before those of UTC at most.
pub(crate) const DAY_AHEAD_OF_UTC_H: i64 = 14;

/// A study: one file.
#[derive(Debug)]
pub struct Study {
    pub(crate) connection: Connection,
    pub(crate) own: Digest,
    path: PathBuf,
    clock: Clock,
}

/// A method revision of the study.
#[derive(Debug, Clone)]
pub struct MethodRevision {
    /// Hash of its record.
    pub record: Digest,
    /// The method.
    pub method: Method,
}

/// What a report carries so that a cut-off or rewritten ledger can be told later: the head of the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Anchor {
    /// Which ledger.
    pub chain: Digest,
    /// Number of its records.
    pub seq: u64,
    /// Hash of the last one.
    pub head: Digest,
}

impl Study {
    /// Makes a study with its first method revision.
    ///
    /// # Errors
    /// A file that is there already, a place that cannot be written, and everything wrong in the method file.
    pub fn create(path: &Path, name: &str, method: &str, by: &By, clock: Clock) -> Result<Self, StudyError> {
        let method_file = "method.toml";
        let parsed = Method::parse(method_file, method)?;
        let name = said("name of the study", name, 200, "a short name, such as that of the project")?;
        Self::create_with(path, &name, by, clock, |transaction, chain, clock| {
            revise(transaction, chain, clock, &parsed, method, by).map(|_| ())
        })
    }

    /// Makes the file, its founding record and whatever `first` records, all or nothing.
    pub(crate) fn create_with(
        path: &Path,
        name: &str,
        by: &By,
        clock: Clock,
        first: impl FnOnce(&Transaction<'_>, &Digest, &Clock) -> Result<(), StudyError>,
    ) -> Result<Self, StudyError> {
        let connection = connection::create(path)?;
        Self::begin(connection, path, name, by, clock, first).inspect_err(|_| {
            // An unfinished file would only be in the way; the first error is what matters.
            let _best_effort = std::fs::remove_file(path);
        })
    }

    fn begin(
        mut connection: Connection,
        path: &Path,
        name: &str,
        by: &By,
        clock: Clock,
        first: impl FnOnce(&Transaction<'_>, &Digest, &Clock) -> Result<(), StudyError>,
    ) -> Result<Self, StudyError> {
        let mut nonce = [0_u8; 32];
        getrandom::fill(&mut nonce).map_err(|error| StudyError::Storage { found: error.to_string() })?;
        let founding = Act::Founding(Founding {
            name: name.to_owned(),
            nonce: Digest::of(&nonce).to_string(),
            software: SOFTWARE.to_owned(),
        });
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        schema::bring_forward(&transaction, 0)?;
        let record = ledger::found(&transaction, &clock, by, &founding)?;
        first(&transaction, &record.chain, &clock)?;
        transaction.commit()?;
        Ok(Self { connection, own: record.chain, path: path.to_owned(), clock })
    }

    /// Opens a study for reading and writing.
    ///
    /// # Errors
    /// A path that leads nowhere or to another kind of file, a newer format, a file that cannot be written.
    pub fn open(path: &Path, clock: Clock) -> Result<Self, StudyError> {
        Self::of_connection(connection::open(path)?, path, clock)
    }

    /// Opens a study for reading only; it works on a write-protected file and in a write-protected folder.
    ///
    /// # Errors
    /// As [`Self::open`]; and a write-protected folder in which acts wait in a journal beside the study.
    pub fn open_to_read(path: &Path) -> Result<Self, StudyError> {
        Self::of_connection(connection::open_to_read(path)?, path, Clock::system())
    }

    fn of_connection(connection: Connection, path: &Path, clock: Clock) -> Result<Self, StudyError> {
        let own = connection.query_row("SELECT chain FROM study WHERE id = 1", [], |row| row.get(0))?;
        Ok(Self { connection, own, path: path.to_owned(), clock })
    }

    /// How long to wait for another program that writes, before an act is given up; 30 s unless said otherwise.
    ///
    /// # Errors
    /// None that is known.
    pub fn set_patience(&mut self, patience: Duration) -> Result<(), StudyError> {
        Ok(self.connection.busy_timeout(patience)?)
    }

    /// Where the file lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The head of the study's own ledger: to be printed on reports and kept elsewhere.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn anchor(&self) -> Result<Anchor, StudyError> {
        anchor_of(&self.connection, &self.own)
    }

    /// The current method revision: the last one of the study's own ledger.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn method(&self) -> Result<MethodRevision, StudyError> {
        let revisions = ledger::of_kind(&self.connection, &self.own, "revision")?;
        let last = revisions.iter().rfind(|record| record.chain == self.own);
        let record = last.ok_or_else(|| StudyError::damaged("it has no method"))?;
        self.revision_of(record)
    }

    /// The current method file's text.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn method_text(&self) -> Result<String, StudyError> {
        match self.record(&self.method()?.record)?.act()? {
            Act::Revision(revision) => content::text(&self.connection, &revision.text),
            _ => Err(StudyError::damaged("its method is not where it should be")),
        }
    }

    /// A raw file's bytes as they were taken in, by the hash that its series names.
    ///
    /// # Errors
    /// No such text, or one that is damaged.
    pub fn raw_file(&self, raw: &Digest) -> Result<Vec<u8>, StudyError> {
        content::get(&self.connection, raw)
    }

    /// The method revision of a record.
    pub(crate) fn revision(&self, hash: &Digest) -> Result<MethodRevision, StudyError> {
        self.revision_of(&self.record(hash)?)
    }

    fn revision_of(&self, record: &Record) -> Result<MethodRevision, StudyError> {
        let Act::Revision(revision) = record.act()? else {
            return Err(StudyError::damaged(format!("record {} is no method revision", record.seq)));
        };
        let method = Method::parse("method.toml", &content::text(&self.connection, &revision.text)?)?;
        Ok(MethodRevision { record: record.hash, method })
    }

    /// One record by its hash.
    ///
    /// # Errors
    /// No such record.
    pub fn record(&self, hash: &Digest) -> Result<Record, StudyError> {
        ledger::by_hash(&self.connection, hash)?.ok_or_else(|| StudyError::Unknown {
            what: format!("record {}", hash.short()),
            cure: "`stillwell study history` lists the records".to_owned(),
        })
    }

    /// Does something under the write lock; everything it records is kept, or nothing of it.
    pub(crate) fn write<T>(
        &mut self,
        act: impl FnOnce(&Transaction<'_>, &Self) -> Result<T, StudyError>,
    ) -> Result<T, StudyError> {
        let transaction = Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?;
        let done = act(&transaction, self)?;
        transaction.commit()?;
        Ok(done)
    }

    /// Now. Time does not go back within a study: where the clock was set back, it is the time of the last record.
    pub(crate) fn now(&self) -> Timestamp {
        let head = self.anchor().and_then(|anchor| self.record(&anchor.head));
        let last = head.ok().and_then(|head| head.at_utc.parse().ok());
        self.clock.now().max(last.unwrap_or_default())
    }

    /// Today in UTC, `2026-05-12`.
    pub fn today(&self) -> String {
        stamp(self.now()).chars().take(10).collect()
    }

    /// The latest day that it may be anywhere now: local days begin up to 14 h before those of UTC.
    pub(crate) fn latest_day(&self) -> String {
        stamp(self.now() + SignedDuration::from_hours(DAY_AHEAD_OF_UTC_H)).chars().take(10).collect()
    }

    pub(crate) fn clock(&self) -> &Clock {
        &self.clock
    }

    /// Adds a record to the study's own ledger.
    pub(crate) fn append(
        &self,
        transaction: &Transaction<'_>,
        by: &By,
        act: &Act,
    ) -> Result<Record, StudyError> {
        ledger::append(transaction, &self.own, &self.clock, by, act)
    }

    /// Records one act that needs nothing else.
    pub(crate) fn record_act(&mut self, by: &By, act: &Act) -> Result<Record, StudyError> {
        self.write(|transaction, study| study.append(transaction, by, act))
    }
}

pub(crate) fn anchor_of(connection: &Connection, chain: &Digest) -> Result<Anchor, StudyError> {
    let head = ledger::head(connection, chain)?.ok_or_else(|| StudyError::damaged("its ledger is empty"))?;
    Ok(Anchor { chain: *chain, seq: head.seq, head: head.hash })
}

/// Records a method revision.
pub(crate) fn revise(
    transaction: &Transaction<'_>,
    chain: &Digest,
    clock: &Clock,
    method: &Method,
    text: &str,
    by: &By,
) -> Result<Record, StudyError> {
    let packed = Packed::of(text.as_bytes())?;
    content::put(transaction, &packed)?;
    let act = Act::Revision(Revision {
        name: method.name.clone(),
        revision: method.revision.clone(),
        method: digest_of(&method.hash),
        text: packed.hash,
    });
    ledger::append(transaction, chain, clock, by, &act)
}

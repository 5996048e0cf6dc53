//! The ledger: records that only ever follow one another, each holding the hash of the one before.

use rusqlite::{Connection, OptionalExtension as _, Row, Transaction, params};

use crate::act::Act;
use crate::clock::{Clock, stamp};
use crate::error::StudyError;
use crate::hash::{Digest, Joined};

/// One record as it stands in the ledger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record {
    /// Which ledger: the hash of its first record. A study has its own, and those it took in.
    pub chain: Digest,
    /// Place in that ledger, from 1.
    pub seq: u64,
    /// What kind of act.
    pub kind: String,
    /// Whom or what it is about.
    pub subject: String,
    /// Who did it.
    pub actor: String,
    /// When, never before the record before: UTC, `2026-05-12T08:30:00.000000Z`.
    pub at_utc: String,
    /// What the clock said; earlier than `at_utc` where the clock had been set back.
    pub clock_utc: String,
    /// Why.
    pub reason: String,
    /// The act as JSON.
    pub body: Vec<u8>,
    /// Hash of the record before; zeros for the first.
    pub previous: Digest,
    /// Hash of all of the above but the ledger's name.
    pub hash: Digest,
}

impl Record {
    /// The act itself.
    ///
    /// # Errors
    /// A body that this version cannot read.
    pub fn act(&self) -> Result<Act, StudyError> {
        serde_json::from_slice(&self.body).map_err(|error| {
            StudyError::damaged(format!("the body of record {} cannot be read: {error}", self.seq))
        })
    }

    /// Whether the act's text holds a hash: most records that do not need not be read as JSON.
    pub(crate) fn names(&self, hash: &Digest) -> bool {
        let hash = blake3::Hash::from_bytes(*hash.as_bytes()).to_hex();
        memchr::memmem::find(&self.body, hash.as_bytes()).is_some()
    }

    /// Whether the clock stood before the record before.
    pub fn clock_was_set_back(&self) -> bool {
        self.clock_utc != self.at_utc
    }

    /// What its hash must be.
    pub(crate) fn computed_hash(&self) -> Digest {
        Joined::new("stillwell study record 1")
            .number(self.seq)
            .field(self.kind.as_bytes())
            .field(self.subject.as_bytes())
            .field(self.actor.as_bytes())
            .field(self.at_utc.as_bytes())
            .field(self.clock_utc.as_bytes())
            .field(self.reason.as_bytes())
            .field(&self.body)
            .field(self.previous.as_bytes())
            .digest()
    }

    fn from_row(row: &Row<'_>) -> rusqlite::Result<Self> {
        let seq: i64 = row.get(1)?;
        Ok(Self {
            chain: row.get(0)?,
            seq: u64::try_from(seq).unwrap_or(0),
            kind: row.get(2)?,
            subject: row.get(3)?,
            actor: row.get(4)?,
            at_utc: row.get(5)?,
            clock_utc: row.get(6)?,
            reason: row.get(7)?,
            body: row.get(8)?,
            previous: row.get(9)?,
            hash: row.get(10)?,
        })
    }
}

/// Columns in the order that [`Record::from_row`] takes.
const COLUMNS: &str = "chain, seq, kind, subject, actor, at_utc, clock_utc, reason, body, previous, hash";

/// Who acts, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct By {
    actor: String,
    reason: String,
}

impl By {
    /// An actor with a reason.
    ///
    /// # Errors
    /// A name or a reason that is blank, longer than 200 or 2,000 characters, or holds control characters.
    pub fn new(actor: &str, reason: &str) -> Result<Self, StudyError> {
        let actor = said("actor", actor, 200, "the name of the person who acts")?;
        let reason = said("reason", reason, 2000, "why, in words that will be understood in ten years")?;
        if reason.chars().filter(|c| c.is_alphanumeric()).count() < 3 {
            return Err(StudyError::Unsayable {
                what: "reason",
                found: format!("\"{reason}\" gives no reason"),
                cure: "why, in words that will be understood in ten years",
            });
        }
        Ok(Self { actor, reason })
    }

    /// The same actor with a reason that a file states: whatever it holds, it can be recorded.
    pub(crate) fn for_reason(&self, reason: &str) -> Self {
        let plain = |c: char| if c.is_control() { ' ' } else { c };
        Self { actor: self.actor.clone(), reason: reason.chars().take(2000).map(plain).collect() }
    }

    /// Who.
    pub fn actor(&self) -> &str {
        &self.actor
    }

    /// Why.
    pub fn reason(&self) -> &str {
        &self.reason
    }
}

/// A text that may stand in the ledger.
pub(crate) fn said(
    what: &'static str,
    text: &str,
    longest: usize,
    cure: &'static str,
) -> Result<String, StudyError> {
    let text = text.trim();
    let found = if text.is_empty() {
        "is blank".to_owned()
    } else if text.chars().count() > longest {
        format!("{} characters; at most {longest}", text.chars().count())
    } else if let Some(control) = text.chars().find(|c| c.is_control() && *c != '\n') {
        format!("holds the control character {}", control.escape_default())
    } else {
        return Ok(text.to_owned());
    };
    Err(StudyError::Unsayable { what, found, cure })
}

/// Largest body of a record: a run sheet of a million files stays below.
pub(crate) const MAX_BODY_BYTES: usize = 256 << 20;

/// Adds a record at the end of a ledger. The caller holds the write lock, so that nobody comes between.
pub(crate) fn append(
    transaction: &Transaction<'_>,
    chain: &Digest,
    clock: &Clock,
    by: &By,
    act: &Act,
) -> Result<Record, StudyError> {
    let before = head(transaction, chain)?;
    let last = before.as_ref().map(|record| record.at_utc.clone()).unwrap_or_default();
    let mut record = draft(clock, by, act, &last)?;
    record.seq = before.as_ref().map_or(1, |record| record.seq + 1);
    record.previous = before.map_or(Digest::NOTHING, |record| record.hash);
    record.chain = *chain;
    record.hash = record.computed_hash();
    insert(transaction, &record)?;
    Ok(record)
}

/// The first record of a new ledger, which gives the ledger its name.
pub(crate) fn found(
    transaction: &Transaction<'_>,
    clock: &Clock,
    by: &By,
    act: &Act,
) -> Result<Record, StudyError> {
    let mut record = draft(clock, by, act, "")?;
    record.hash = record.computed_hash();
    record.chain = record.hash;
    insert(transaction, &record)?;
    transaction.execute("INSERT INTO study (id, chain) VALUES (1, ?1)", [record.chain])?;
    Ok(record)
}

fn draft(clock: &Clock, by: &By, act: &Act, last: &str) -> Result<Record, StudyError> {
    let not_said = |found: String| StudyError::Unsayable {
        what: "act",
        found,
        cure: "only finite numbers can be recorded; please report this",
    };
    let body = serde_json::to_vec(act).map_err(|error| not_said(error.to_string()))?;
    // What is written must read back as the same act: JSON knows no infinite numbers.
    match serde_json::from_slice::<Act>(&body) {
        Ok(back) if back == *act => {}
        _ => return Err(not_said(format!("the {} would not read back as it was", act.kind()))),
    }
    if body.len() > MAX_BODY_BYTES {
        return Err(StudyError::TooLarge {
            what: format!("the record of this {}", act.kind()),
            found: body.len() as u64,
            limit: MAX_BODY_BYTES as u64,
        });
    }
    let clock_utc = stamp(clock.now());
    Ok(Record {
        chain: Digest::NOTHING,
        seq: 1,
        kind: act.kind().to_owned(),
        subject: act.subject(),
        actor: by.actor.clone(),
        at_utc: clock_utc.clone().max(last.to_owned()),
        clock_utc,
        reason: by.reason.clone(),
        body,
        previous: Digest::NOTHING,
        hash: Digest::NOTHING,
    })
}

/// Writes a record as it is: one just made, or one of another study's ledger.
pub(crate) fn insert(transaction: &Transaction<'_>, record: &Record) -> Result<(), StudyError> {
    let sql = format!("INSERT INTO record ({COLUMNS}) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)");
    let seq = i64::try_from(record.seq).unwrap_or(i64::MAX);
    transaction.prepare_cached(&sql)?.execute(params![
        record.chain,
        seq,
        record.kind,
        record.subject,
        record.actor,
        record.at_utc,
        record.clock_utc,
        record.reason,
        record.body,
        record.previous,
        record.hash,
    ])?;
    Ok(())
}

/// The last record of a ledger.
pub(crate) fn head(connection: &Connection, chain: &Digest) -> Result<Option<Record>, StudyError> {
    let sql = format!("SELECT {COLUMNS} FROM record WHERE chain = ?1 ORDER BY seq DESC LIMIT 1");
    Ok(connection.prepare_cached(&sql)?.query_row([chain], Record::from_row).optional()?)
}

/// One record by its hash.
pub(crate) fn by_hash(connection: &Connection, hash: &Digest) -> Result<Option<Record>, StudyError> {
    let sql = format!("SELECT {COLUMNS} FROM record WHERE hash = ?1");
    Ok(connection.prepare_cached(&sql)?.query_row([hash], Record::from_row).optional()?)
}

/// The records of one kind: the study's own first, then those of each ledger it took in, each in order.
pub(crate) fn of_kind(connection: &Connection, own: &Digest, kind: &str) -> Result<Vec<Record>, StudyError> {
    let sql = format!("SELECT {COLUMNS} FROM record WHERE kind = ?1 ORDER BY chain <> ?2, chain, seq");
    let mut statement = connection.prepare_cached(&sql)?;
    Ok(statement.query_map(params![kind, own], Record::from_row)?.collect::<Result<_, _>>()?)
}

/// The records of one kind whose act holds a text, such as a hash: without reading the others as JSON.
pub(crate) fn of_kind_holding(
    connection: &Connection,
    kind: &str,
    text: &str,
) -> Result<Vec<Record>, StudyError> {
    let sql = format!(
        "SELECT {COLUMNS} FROM record WHERE kind = ?1 AND instr(body, CAST(?2 AS BLOB)) > 0 ORDER BY chain, seq"
    );
    let mut statement = connection.prepare_cached(&sql)?;
    Ok(statement.query_map(params![kind, text], Record::from_row)?.collect::<Result<_, _>>()?)
}

/// The series that no field run made: all but those named `prefix` and a run whose steps, of the kind `step`, stand on record.
pub(crate) fn series_of_desk(
    connection: &Connection,
    prefix: &str,
    step: &str,
) -> Result<Vec<Record>, StudyError> {
    let sql = format!(
        "SELECT {COLUMNS} FROM record WHERE kind = 'series' AND NOT (substr(subject, 1, length(?1)) = ?1 AND EXISTS (\
         SELECT 1 FROM record AS step WHERE step.subject = substr(record.subject, length(?1) + 1) AND step.kind = ?2)) \
         ORDER BY chain, seq"
    );
    let mut statement = connection.prepare_cached(&sql)?;
    Ok(statement.query_map(params![prefix, step], Record::from_row)?.collect::<Result<_, _>>()?)
}

/// Walks the records of one kind in one ledger whose act holds a text, from the last on back, while `visit` says so.
pub(crate) fn back(
    connection: &Connection,
    chain: &Digest,
    kind: &str,
    text: &str,
    mut visit: impl FnMut(Record) -> Result<bool, StudyError>,
) -> Result<(), StudyError> {
    let sql = format!(
        "SELECT {COLUMNS} FROM record WHERE chain = ?1 AND +kind = ?2 AND instr(body, CAST(?3 AS BLOB)) > 0 \
         ORDER BY seq DESC"
    );
    let mut statement = connection.prepare_cached(&sql)?;
    let mut rows = statement.query(params![chain, kind, text])?;
    while let Some(row) = rows.next()? {
        if !visit(Record::from_row(row)?)? {
            break;
        }
    }
    Ok(())
}

/// The records of one kind about one subject, in the order of time.
pub(crate) fn about(connection: &Connection, subject: &str, kind: &str) -> Result<Vec<Record>, StudyError> {
    let sql =
        format!("SELECT {COLUMNS} FROM record WHERE subject = ?1 AND kind = ?2 ORDER BY at_utc, chain, seq");
    let mut statement = connection.prepare_cached(&sql)?;
    Ok(statement.query_map([subject, kind], Record::from_row)?.collect::<Result<_, _>>()?)
}

/// The last record of a kind about one subject.
pub(crate) fn last_about(
    connection: &Connection,
    subject: &str,
    kind: &str,
) -> Result<Option<Record>, StudyError> {
    let sql = format!(
        "SELECT {COLUMNS} FROM record WHERE subject = ?1 AND kind = ?2 \
         ORDER BY at_utc DESC, chain DESC, seq DESC LIMIT 1"
    );
    Ok(connection.prepare_cached(&sql)?.query_row([subject, kind], Record::from_row).optional()?)
}

/// Hash and ledger of each record of a kind, without what they say: the study's own first, then those of each ledger it
/// took in, each in order.
pub(crate) fn names_of_kind(
    connection: &Connection,
    own: &Digest,
    kind: &str,
) -> Result<Vec<(Digest, Digest)>, StudyError> {
    let sql = "SELECT hash, chain FROM record WHERE kind = ?1 ORDER BY chain <> ?2, chain, seq";
    let mut statement = connection.prepare_cached(sql)?;
    let names = statement.query_map(params![kind, own], |row| Ok((row.get(0)?, row.get(1)?)))?;
    Ok(names.collect::<Result<_, _>>()?)
}

/// The records about one subject, in the order of time.
pub(crate) fn of_subject(connection: &Connection, subject: &str) -> Result<Vec<Record>, StudyError> {
    let sql = format!("SELECT {COLUMNS} FROM record WHERE subject = ?1 ORDER BY at_utc, chain, seq");
    let mut statement = connection.prepare_cached(&sql)?;
    Ok(statement.query_map([subject], Record::from_row)?.collect::<Result<_, _>>()?)
}

/// Walks one ledger from its first record on; stops where `visit` fails.
pub(crate) fn walk(
    connection: &Connection,
    chain: &Digest,
    mut visit: impl FnMut(Record) -> Result<(), StudyError>,
) -> Result<(), StudyError> {
    let sql = format!("SELECT {COLUMNS} FROM record WHERE chain = ?1 ORDER BY seq");
    let mut statement = connection.prepare(&sql)?;
    let mut rows = statement.query([chain])?;
    while let Some(row) = rows.next()? {
        visit(Record::from_row(row)?)?;
    }
    Ok(())
}

/// The ledgers in the file: the study's own first.
pub(crate) fn chains(connection: &Connection, own: &Digest) -> Result<Vec<Digest>, StudyError> {
    let mut statement =
        connection.prepare("SELECT DISTINCT chain FROM record ORDER BY chain <> ?1, chain")?;
    Ok(statement.query_map([own], |row| row.get(0))?.collect::<Result<_, _>>()?)
}

//! The tables of a study, and the steps from each older format to the newest.
//!
//! Every table only grows: triggers forbid to change or delete a row. Whoever removes the triggers leaves another schema
//! behind, which verification compares with this one.

use rusqlite::{Connection, Transaction};

use crate::error::StudyError;

/// Marks the file as a study: the letters `SWst`.
pub(crate) const APPLICATION_ID: i64 = 0x5357_7374;

/// Format 1. Frozen: an older study must still be brought forward from it.
pub(crate) const FORMAT_1: &str = "
CREATE TABLE study(
    id INTEGER PRIMARY KEY CHECK (id = 1),
    chain BLOB NOT NULL CHECK (length(chain) = 32)
) STRICT;
CREATE TABLE record(
    chain BLOB NOT NULL CHECK (length(chain) = 32),
    seq INTEGER NOT NULL CHECK (seq >= 1),
    kind TEXT NOT NULL,
    subject TEXT NOT NULL,
    actor TEXT NOT NULL,
    at_utc TEXT NOT NULL,
    clock_utc TEXT NOT NULL,
    reason TEXT NOT NULL,
    body BLOB NOT NULL,
    previous BLOB NOT NULL CHECK (length(previous) = 32),
    hash BLOB NOT NULL UNIQUE CHECK (length(hash) = 32),
    UNIQUE (chain, seq)
) STRICT;
CREATE TABLE content(
    hash BLOB NOT NULL UNIQUE CHECK (length(hash) = 32),
    n_bytes INTEGER NOT NULL CHECK (n_bytes >= 0),
    packed BLOB NOT NULL,
    packed_hash BLOB NOT NULL CHECK (length(packed_hash) = 32)
) STRICT;
CREATE TABLE reading(
    hash BLOB NOT NULL UNIQUE CHECK (length(hash) = 32),
    key BLOB NOT NULL UNIQUE CHECK (length(key) = 32),
    raw BLOB NOT NULL REFERENCES content(hash),
    n_scans INTEGER NOT NULL CHECK (n_scans >= 1),
    understood TEXT NOT NULL
) STRICT;
CREATE TABLE scan(
    reading BLOB NOT NULL REFERENCES reading(hash),
    ordinal INTEGER NOT NULL CHECK (ordinal >= 1),
    details TEXT NOT NULL,
    potential_v BLOB NOT NULL,
    current_a BLOB NOT NULL,
    forward_a BLOB,
    reverse_a BLOB,
    time_s BLOB,
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    UNIQUE (reading, ordinal)
) STRICT;
CREATE TRIGGER study_is_never_changed BEFORE UPDATE ON study BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
CREATE TRIGGER study_is_never_deleted BEFORE DELETE ON study BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
CREATE TRIGGER record_is_never_changed BEFORE UPDATE ON record BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
CREATE TRIGGER record_is_never_deleted BEFORE DELETE ON record BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
CREATE TRIGGER content_is_never_changed BEFORE UPDATE ON content BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
CREATE TRIGGER content_is_never_deleted BEFORE DELETE ON content BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
CREATE TRIGGER reading_is_never_changed BEFORE UPDATE ON reading BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
CREATE TRIGGER reading_is_never_deleted BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
CREATE TRIGGER scan_is_never_changed BEFORE UPDATE ON scan BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
CREATE TRIGGER scan_is_never_deleted BEFORE DELETE ON scan BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;
";

/// From format 1 to 2: the acts of one kind and the history of one sample are found without walking the whole ledger.
const TO_FORMAT_2: &str = "
CREATE INDEX record_by_kind ON record(kind);
CREATE INDEX record_by_subject ON record(subject);
";

/// From format 2 to 3: campaigns and steps of field runs among the acts. The tables stay; a version that does not know these acts
/// must not take the file for its own.
const TO_FORMAT_3: &str = "";

/// From format 3 to 4: a laboratory's results among the acts. The tables stay, as before.
const TO_FORMAT_4: &str = "";

/// Each step leads from the format of its place to the next.
const STEPS: [&str; 4] = [FORMAT_1, TO_FORMAT_2, TO_FORMAT_3, TO_FORMAT_4];

/// The newest format.
pub(crate) const FORMAT: i64 = 4;

/// Brings an empty or older file to the newest format; the caller commits.
pub(crate) fn bring_forward(transaction: &Transaction<'_>, from: i64) -> Result<(), StudyError> {
    let done = usize::try_from(from).unwrap_or(0);
    for step in STEPS.iter().skip(done) {
        transaction.execute_batch(step)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", FORMAT)?;
    Ok(())
}

/// The statements that made the tables, as SQLite keeps them, sorted.
pub(crate) fn statements(connection: &Connection) -> Result<Vec<String>, StudyError> {
    let mut statement = connection.prepare(
        "SELECT type || ' ' || name || ' ' || tbl_name || ' ' || coalesce(sql, '') FROM sqlite_schema",
    )?;
    let mut found = statement.query_map([], |row| row.get(0))?.collect::<Result<Vec<String>, _>>()?;
    found.sort();
    Ok(found)
}

/// The statements that a study of some format has.
pub(crate) fn expected_statements(format: i64) -> Result<Vec<String>, StudyError> {
    let connection = Connection::open_in_memory()?;
    for step in STEPS.iter().take(usize::try_from(format).unwrap_or(0)) {
        connection.execute_batch(step)?;
    }
    statements(&connection)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use rusqlite::Connection;

    use super::*;
    use crate::act::{Act, Custody, Founding};
    use crate::clock::Clock;
    use crate::ledger::{By, append, found};
    use crate::study::{Study, revise};
    use crate::verify::VerifyRequest;

    /// A study of an older format: the steps up to it, and the acts that every format knows.
    fn study_of_format(path: &Path, format: usize) {
        let mut connection = Connection::open(path).unwrap();
        let transaction = connection.transaction().unwrap();
        STEPS.iter().take(format).for_each(|step| transaction.execute_batch(step).unwrap());
        transaction.pragma_update(None, "application_id", APPLICATION_ID).unwrap();
        transaction.pragma_update(None, "user_version", i64::try_from(format).unwrap()).unwrap();
        let (clock, by) = (Clock::system(), By::new("Ines Field", "an older version").unwrap());
        let founding =
            Founding { name: "old".into(), nonce: "00".into(), software: "stillwell 0.1.0".into() };
        let chain = found(&transaction, &clock, &by, &Act::Founding(founding)).unwrap().chain;
        let text = include_str!("../../../examples/alder-vale/method.toml");
        let method = stillwell_method::Method::parse("method.toml", text).unwrap();
        revise(&transaction, &chain, &clock, &method, text, &by).unwrap();
        let custody = Custody {
            sample: "AV-01".into(),
            place: "invented well".into(),
            taken: "2026-05-12".into(),
            taken_by: "Ines Field".into(),
            preservation: "none".into(),
            holding_time_h: Some(48.0),
            dilution: "none".into(),
        };
        append(&transaction, &chain, &clock, &by, &Act::Custody(custody)).unwrap();
        transaction.commit().unwrap();
    }

    #[test]
    fn every_older_format_is_read_as_it_is_and_brought_forward() {
        assert_eq!(i64::try_from(STEPS.len()).unwrap(), FORMAT);
        let folder = tempfile::tempdir().unwrap();
        for format in 1..=STEPS.len() {
            let path = folder.path().join(format!("format-{format}.study"));
            study_of_format(&path, format);
            let old = Study::open_to_read(&path).unwrap();
            let anchor = old.anchor().unwrap();
            let found = old.verify(&VerifyRequest::default()).unwrap();
            assert!(found.is_sound(), "format {format} as it is: {:?}", found.damages);
            drop(old);
            let study = Study::open_now(&path).unwrap();
            assert_eq!(study.anchor().unwrap(), anchor, "the ledger is not touched");
            let found = study.verify(&VerifyRequest::default()).unwrap();
            assert!(found.is_sound(), "format {format} brought forward: {:?}", found.damages);
            assert_eq!(statements(&study.connection).unwrap(), expected_statements(FORMAT).unwrap());
            let version =
                study.connection.pragma_query_value(None, "user_version", |row| row.get::<_, i64>(0));
            assert_eq!(version.unwrap(), FORMAT);
        }
    }
}

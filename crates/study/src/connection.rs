//! Opening the file: what it is, in which format, and how SQLite is told to keep it.

use std::fs;
use std::io::Read as _;
use std::path::Path;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use crate::error::{PATIENCE_S, StudyError};
use crate::schema::{APPLICATION_ID, FORMAT, bring_forward};

/// Bytes of a page: a scan of a few hundred points fits into one.
const PAGE_BYTES: i64 = 16384;

/// Memory for pages of the file: the indices of some 500,000 raw files.
const CACHE_KIB: i64 = 64 * 1024;

/// The same for each reader, of which there may be one a core: scans pass through, the upper pages of the indices stay.
const READER_CACHE_KIB: i64 = 16 * 1024;

/// Statements of a connection that stay prepared: more than this room has.
const PREPARED: usize = 64;

/// The journal is written into the file when it has so many pages: 64 MiB.
const JOURNAL_PAGES: i64 = 4096;

/// Makes the file; refuses one that is there.
pub(crate) fn create(path: &Path) -> Result<Connection, StudyError> {
    match fs::OpenOptions::new().write(true).create_new(true).open(path) {
        Ok(_) => {}
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
            return Err(StudyError::AlreadyThere { path: path.to_owned() });
        }
        Err(error) => return Err(StudyError::file(path, error)),
    }
    let connection = Connection::open_with_flags(path, flags(OpenFlags::SQLITE_OPEN_READ_WRITE))?;
    connection.pragma_update(None, "page_size", PAGE_BYTES)?;
    settle(&connection)?;
    Ok(connection)
}

/// Opens a study for reading and writing, and brings an older format forward.
pub(crate) fn open(path: &Path) -> Result<Connection, StudyError> {
    look_at(path)?;
    let mut connection = Connection::open_with_flags(path, flags(OpenFlags::SQLITE_OPEN_READ_WRITE))?;
    connection.busy_timeout(Duration::from_secs(PATIENCE_S))?;
    let format = format_of(&connection, path)?;
    settle(&connection)?;
    if format < FORMAT {
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        // Another program may have done it meanwhile.
        let format = format_of(&transaction, path)?;
        bring_forward(&transaction, format)?;
        transaction.commit()?;
    }
    Ok(connection)
}

/// Opens a study for reading only; an older format is read as it is.
///
/// In a folder where nothing may be written SQLite cannot make its helper files: then the file is read as one that
/// nobody changes, unless a journal beside it holds acts that are not yet in it.
pub(crate) fn open_to_read(path: &Path) -> Result<Connection, StudyError> {
    look_at(path)?;
    let flags = flags(OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI);
    let plain = Connection::open_with_flags(path, flags);
    let opened = plain.and_then(|connection| {
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))?;
        Ok(connection)
    });
    let connection = match opened {
        Ok(connection) => connection,
        Err(error) => {
            let error = StudyError::from(error);
            if !matches!(error, StudyError::NotWritable { .. }) || journal_bytes(path) > 0 {
                return Err(error);
            }
            Connection::open_with_flags(unchanging(path), flags)?
        }
    };
    format_of(&connection, path)?;
    settle_reader(&connection)?;
    connection.pragma_update(None, "cache_size", -READER_CACHE_KIB)?;
    Ok(connection)
}

/// A connection is used by one thread at a time, as the compiler sees to: SQLite need not lock at every call.
fn flags(access: OpenFlags) -> OpenFlags {
    access | OpenFlags::SQLITE_OPEN_NO_MUTEX
}

fn journal_bytes(path: &Path) -> u64 {
    let mut name = path.as_os_str().to_owned();
    name.push("-wal");
    fs::metadata(name).map_or(0, |metadata| metadata.len())
}

/// The path as a SQLite address of a file that nobody changes.
fn unchanging(path: &Path) -> String {
    let mut address = String::from("file:");
    for byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' => {
                address.push(char::from(*byte));
            }
            _ => {
                use std::fmt::Write as _;
                // Writing into a text does not fail.
                let _infallible = write!(address, "%{byte:02X}");
            }
        }
    }
    address + "?immutable=1"
}

/// Says plainly what the file is when it is no SQLite file at all.
fn look_at(path: &Path) -> Result<(), StudyError> {
    if path.is_dir() {
        return Err(StudyError::NotAStudy { path: path.to_owned(), found: "a folder".to_owned() });
    }
    let mut start = Vec::new();
    match fs::File::open(path) {
        Ok(file) => file.take(16).read_to_end(&mut start).map_err(|error| StudyError::file(path, error))?,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            return Err(StudyError::NotThere { path: path.to_owned() });
        }
        Err(error) => return Err(StudyError::file(path, error)),
    };
    let found = match start.as_slice() {
        b"SQLite format 3\0" => return Ok(()),
        [] => "an empty file",
        _ => "a file of another kind",
    };
    Err(StudyError::NotAStudy { path: path.to_owned(), found: found.to_owned() })
}

fn format_of(connection: &Connection, path: &Path) -> Result<i64, StudyError> {
    let application: i64 = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
    if application != APPLICATION_ID {
        let found = "a database of another program".to_owned();
        return Err(StudyError::NotAStudy { path: path.to_owned(), found });
    }
    let format: i64 = connection.pragma_query_value(None, "user_version", |row| row.get(0))?;
    if format > FORMAT {
        return Err(StudyError::Newer { path: path.to_owned(), found: format, known: FORMAT });
    }
    if format < 1 {
        return Err(StudyError::damaged(format!("its format number is {format}")));
    }
    Ok(format)
}

fn settle(connection: &Connection) -> Result<(), StudyError> {
    connection.busy_timeout(Duration::from_secs(PATIENCE_S))?;
    connection.pragma_update(None, "journal_mode", "WAL")?;
    // What was said to be kept is on the disk.
    connection.pragma_update(None, "synchronous", "FULL")?;
    // Hashes come in no order: their indices must fit into memory, and not be written out at every step.
    connection.pragma_update(None, "cache_size", -CACHE_KIB)?;
    connection.pragma_update(None, "wal_autocheckpoint", JOURNAL_PAGES)?;
    settle_reader(connection)
}

fn settle_reader(connection: &Connection) -> Result<(), StudyError> {
    connection.busy_timeout(Duration::from_secs(PATIENCE_S))?;
    connection.pragma_update(None, "foreign_keys", true)?;
    // A row that is replaced counts as deleted.
    connection.pragma_update(None, "recursive_triggers", true)?;
    connection.pragma_update(None, "trusted_schema", false)?;
    connection.pragma_update(None, "cell_size_check", true)?;
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    // A statement is planned once, not again for each hash that is looked up.
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
    connection.set_prepared_statement_cache_capacity(PREPARED);
    Ok(())
}

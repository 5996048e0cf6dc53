//! What can go wrong with a study, and its wording: what was found, where, what would be accepted.

use std::path::PathBuf;

use rusqlite::ErrorCode;
use stillwell_folder::FolderError;
use stillwell_method::Problems;

/// Why a study did not do what was asked. Nothing that was said to be kept is lost by any of these.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StudyError {
    /// There is a file at the place of the new study.
    #[error("{}: is there already\n  cure: name a new file; a study is never written over", .path.display())]
    AlreadyThere {
        /// The path.
        path: PathBuf,
    },
    /// There is no file.
    #[error("{}: there is no such file\n  cure: `stillwell study new` makes one", .path.display())]
    NotThere {
        /// The path.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{}: is not a study: {found}\n  cure: name a file that `stillwell study new` made", .path.display())]
    NotAStudy {
        /// The path.
        path: PathBuf,
        /// What was found.
        found: String,
    },
    /// A later version of this software made it.
    #[error("{}: was written by a newer version (format {found}; this one reads up to {known})\n  cure: update this software; the file was not touched", .path.display())]
    Newer {
        /// The path.
        path: PathBuf,
        /// Format of the file.
        found: i64,
        /// Newest format known here.
        known: i64,
    },
    /// Another program holds the file.
    #[error(
        "another program is writing to the study, and did not finish in time\n  cure: wait for it to finish and repeat the command; nothing was changed"
    )]
    Locked,
    /// Whoever asked for it stopped it.
    #[error("it was stopped\n  cure: ask for it again; what was kept so far need not be read again")]
    Stopped,
    /// No room.
    #[error(
        "the disk is full; what was recorded before is kept, the last act is not\n  cure: make room and repeat the command"
    )]
    DiskFull,
    /// The file or its folder cannot be written.
    #[error(
        "the study cannot be written: {found}\n  cure: check the rights of the file and its folder, or copy the study to where you may write"
    )]
    NotWritable {
        /// What the operating system or SQLite said.
        found: String,
    },
    /// The file's content is not what was written.
    #[error(
        "the study is damaged: {found}\n  cure: `stillwell study verify` names the first record that is; restore the file from a copy"
    )]
    Damaged {
        /// What was found.
        found: String,
    },
    /// Any other failure of the storage.
    #[error("the study's storage failed: {found}")]
    Storage {
        /// What SQLite said.
        found: String,
    },
    /// A file beside the study could not be read or written.
    #[error("{}: {source}\n  cure: check the path and your rights", .path.display())]
    File {
        /// The path.
        path: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// More than is taken.
    #[error("{what}: {found}; more than {limit} is not taken\n  cure: split it")]
    TooLarge {
        /// What is too large.
        what: String,
        /// Its size.
        found: u64,
        /// The largest that is taken.
        limit: u64,
    },
    /// Raw files without a word on what they are.
    #[error(
        "no run sheet among the files\n  cure: give run-sheet.csv with them, or the folder that holds it: it says which scan is what"
    )]
    NoRunSheet,
    /// The folder states another method than the study.
    #[error(
        "the folder's method.toml is {found}; the study works with {expected}\n  cure: remove method.toml from the folder to use the study's, or bring the new revision in with `stillwell study reevaluate --method`"
    )]
    OtherMethod {
        /// Of the folder: name, revision, hash.
        found: String,
        /// Of the study.
        expected: String,
    },
    /// Method, run sheet or raw files have something wrong with them.
    #[error(transparent)]
    Content(#[from] Problems),
    /// A folder that cannot be read.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// A name or reason that cannot stand in the ledger.
    #[error("{what}: {found}\n  cure: {cure}")]
    Unsayable {
        /// Which field.
        what: &'static str,
        /// What was found.
        found: String,
        /// What would be accepted.
        cure: &'static str,
    },
    /// Something named that the study does not hold.
    #[error("the study holds no {what}\n  cure: {cure}")]
    Unknown {
        /// What was asked for.
        what: String,
        /// What there is.
        cure: String,
    },
    /// Something that may not be done, with the reason.
    #[error("{found}\n  cure: {cure}")]
    NotAllowed {
        /// Why not.
        found: String,
        /// What to do.
        cure: String,
    },
    /// A key file that cannot be used.
    #[error("{}: {found}\n  cure: {cure}", .path.display())]
    Key {
        /// The key file.
        path: PathBuf,
        /// What was found.
        found: String,
        /// What to do.
        cure: &'static str,
    },
}

/// How long a writer waits for another one.
pub(crate) const PATIENCE_S: u64 = 30;

impl From<rusqlite::Error> for StudyError {
    fn from(error: rusqlite::Error) -> Self {
        let found = error.to_string();
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Locked,
            Some(ErrorCode::DiskFull) => Self::DiskFull,
            Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
                Self::NotWritable { found }
            }
            // Without a code: a value of another type or a missing row. Either is not what was written.
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) | None => Self::Damaged { found },
            Some(_) => Self::Storage { found },
        }
    }
}

impl StudyError {
    pub(crate) fn damaged(found: impl Into<String>) -> Self {
        Self::Damaged { found: found.into() }
    }

    pub(crate) fn not_allowed(found: impl Into<String>, cure: impl Into<String>) -> Self {
        Self::NotAllowed { found: found.into(), cure: cure.into() }
    }

    pub(crate) fn file(path: &std::path::Path, source: std::io::Error) -> Self {
        Self::File { path: path.to_owned(), source }
    }
}

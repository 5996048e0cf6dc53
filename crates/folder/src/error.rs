//! What can be wrong with a folder, and its wording.

use std::path::PathBuf;

use stillwell_method::Problems;

/// Why a folder did not become an input.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FolderError {
    /// The path leads nowhere, or to something that is not a folder.
    #[error("{} is not a folder\n  cure: name the folder that holds method.toml, run-sheet.csv and the raw files", .path.display())]
    NotAFolder {
        /// The path as given.
        path: PathBuf,
    },
    /// A file that must be there is not.
    #[error("{}: there is no {name}\n  cure: {cure}", .path.display())]
    FileMissing {
        /// The folder.
        path: PathBuf,
        /// The file's name.
        name: &'static str,
        /// What to do.
        cure: &'static str,
    },
    /// A folder where a file is expected.
    #[error("{}: is a folder where a file is expected\n  cure: put the file there, or give the folder a name without a file's ending", .path.display())]
    NotAFile {
        /// The path.
        path: PathBuf,
    },
    /// The operating system would not hand the file over.
    #[error("{}: cannot be read: {source}\n  cure: check that it is a file and that you may read it", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// The file is larger than a scan file can be.
    #[error("{}: {bytes} bytes; more than {limit} are not read\n  cure: split the file, or check that it is a scan file", .path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Its size.
        bytes: u64,
        /// The largest size that is read.
        limit: u64,
    },
    /// A method file or run sheet that is not UTF-8.
    #[error("{}: not UTF-8 from byte {at}\n  cure: save the file as UTF-8 text", .path.display())]
    NotUtf8 {
        /// The file.
        path: PathBuf,
        /// First byte that is not UTF-8.
        at: usize,
    },
    /// Method, run sheet or raw files have something wrong with them.
    #[error(transparent)]
    Content(#[from] Problems),
}

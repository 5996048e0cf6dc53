//! Opening a folder: which file is what, and its bytes.

use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use stillwell_method::{Input, NamedText, RawFile};

use crate::error::FolderError;

/// The method file's name within a folder.
pub const METHOD_FILE: &str = "method.toml";
/// The run sheet's name within a folder.
pub const RUN_SHEET_FILE: &str = "run-sheet.csv";
/// The name of the file with a laboratory's results within a folder; it is no raw file.
pub const COMPARISON_FILE: &str = "comparison.csv";

/// Endings of files that are taken for raw scans.
const RAW_ENDINGS: [&str; 6] = ["", "csv", "txt", "tsv", "dat", "asc"];

/// What to do where a folder has no run sheet.
const RUN_SHEET_CURE: &str = "write one line for each scan: file,scan,role,sample,level,unit,lot,electrode,…";

/// Larger files are not taken into memory; the reader's own limit is lower.
const LARGEST_FILE_BYTES: u64 = 256 * 1024 * 1024;

/// Reads a folder into one input. `progress` is told each raw file's name before it is read.
///
/// # Errors
/// A folder or file that is not there or cannot be read, and everything that is wrong inside them.
pub fn open(folder: &Path, progress: impl FnMut(&str)) -> Result<Input, FolderError> {
    if !folder.is_dir() {
        return Err(FolderError::NotAFolder { path: folder.to_owned() });
    }
    let method = read_text(
        folder,
        METHOD_FILE,
        "write a method file; examples/alder-vale/method.toml shows every section",
    )?;
    let run_sheet = read_text(folder, RUN_SHEET_FILE, RUN_SHEET_CURE)?;
    let raw_files: Vec<RawFile> = raw_paths(folder, &run_sheet)?
        .into_iter()
        .map(|(name, path)| read_bytes(&path).map(|bytes| RawFile { name, bytes }))
        .collect::<Result<_, _>>()?;
    let input = Input::assemble(
        NamedText { name: METHOD_FILE, text: &method },
        NamedText { name: RUN_SHEET_FILE, text: &run_sheet },
        &raw_files,
        progress,
    )?;
    Ok(input)
}

/// A folder's texts and the places of its raw files, for those who read the files one by one.
#[derive(Debug, Clone)]
pub struct Listing {
    /// The method file, where the folder has one.
    pub method: Option<String>,
    /// The run sheet.
    pub run_sheet: String,
    /// Name and path of each raw file, sorted by name.
    pub raw_files: Vec<(String, PathBuf)>,
}

/// What a folder holds, without reading the raw files; the method file may be missing.
///
/// # Errors
/// A folder without a run sheet, or texts that cannot be read.
pub fn list(folder: &Path) -> Result<Listing, FolderError> {
    if !folder.is_dir() {
        return Err(FolderError::NotAFolder { path: folder.to_owned() });
    }
    let has_method = folder.join(METHOD_FILE).exists();
    let method = has_method.then(|| read_text(folder, METHOD_FILE, "write a method file")).transpose()?;
    let run_sheet = read_text(folder, RUN_SHEET_FILE, RUN_SHEET_CURE)?;
    let raw_files = raw_paths(folder, &run_sheet)?;
    Ok(Listing { method, run_sheet, raw_files })
}

/// The bytes of one file, within the size limit.
///
/// # Errors
/// A path that is no file, cannot be read, or is too large.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, FolderError> {
    let unreadable = |source| FolderError::Unreadable { path: path.to_owned(), source };
    let file = fs::File::open(path).map_err(unreadable)?;
    let bytes = file.metadata().map_err(unreadable)?.len();
    let too_large = |bytes| FolderError::TooLarge { path: path.to_owned(), bytes, limit: LARGEST_FILE_BYTES };
    if bytes > LARGEST_FILE_BYTES {
        return Err(too_large(bytes));
    }
    // One byte of room beyond the end: reading finds the end without growing.
    let mut content = Vec::with_capacity(usize::try_from(bytes).unwrap_or(0) + 1);
    // The size may be unknown (a pipe) or grow while it is read.
    file.take(LARGEST_FILE_BYTES + 1).read_to_end(&mut content).map_err(unreadable)?;
    let read = content.len() as u64;
    if read > LARGEST_FILE_BYTES { Err(too_large(read)) } else { Ok(content) }
}

fn read_text(folder: &Path, name: &'static str, cure: &'static str) -> Result<String, FolderError> {
    let path = folder.join(name);
    if path.is_dir() {
        return Err(FolderError::NotAFile { path });
    }
    if !path.is_file() {
        return Err(FolderError::FileMissing { path: folder.to_owned(), name, cure });
    }
    let bytes = read_bytes(&path)?;
    String::from_utf8(bytes)
        .map_err(|error| FolderError::NotUtf8 { path, at: error.utf8_error().valid_up_to() })
}

/// Raw files of the folder itself, sorted by name: those with an ending of raw files and those that the run sheet names.
/// Hidden files and subfolders are not looked at, unless a subfolder takes the name of a raw file.
fn raw_paths(folder: &Path, run_sheet: &str) -> Result<Vec<(String, PathBuf)>, FolderError> {
    let unreadable = |source| FolderError::Unreadable { path: folder.to_owned(), source };
    let mut names = Vec::new();
    for entry in fs::read_dir(folder).map_err(unreadable)? {
        let entry = entry.map_err(unreadable)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let path = entry.path();
        let is_named = || stands_in_a_cell(run_sheet, &name);
        if path.is_dir() && name.contains('.') && is_named() {
            return Err(FolderError::NotAFile { path });
        }
        if path.is_file() && (is_raw(&name) || is_named()) {
            names.push((name, path));
        }
    }
    names.sort();
    Ok(names)
}

/// Whether a cell of the run sheet is this name; which column it stands in is decided below.
fn stands_in_a_cell(run_sheet: &str, name: &str) -> bool {
    run_sheet
        .lines()
        .flat_map(|line| line.split([',', ';', '\t']))
        .any(|cell| cell.trim().trim_matches('"').trim() == name)
}

fn is_raw(name: &str) -> bool {
    let ending = Path::new(name).extension().map_or(String::new(), |e| e.to_string_lossy().to_lowercase());
    !name.starts_with('.')
        && ![RUN_SHEET_FILE, COMPARISON_FILE].contains(&name)
        && RAW_ENDINGS.contains(&ending.as_str())
}

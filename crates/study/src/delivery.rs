//! What is handed to a study: a run sheet, the raw files that it names, and perhaps the method it was measured by.

use std::path::{Path, PathBuf};

use stillwell_folder::{METHOD_FILE, RUN_SHEET_FILE, list, read_bytes};

use crate::error::StudyError;
use crate::ledger::said;

/// A run sheet with its raw files, not yet read.
#[derive(Debug, Clone)]
pub struct Delivery {
    /// Name: that of the folder.
    pub name: String,
    /// The method file, where one lies beside the run sheet.
    pub method: Option<String>,
    /// The run sheet.
    pub run_sheet: String,
    /// Name and path of each raw file, sorted by name.
    pub raw_files: Vec<(String, PathBuf)>,
}

impl Delivery {
    /// A folder or files, as a person names them on the command line.
    ///
    /// # Errors
    /// Files without a run sheet among them, or that cannot be read.
    pub fn of(paths: &[PathBuf]) -> Result<Self, StudyError> {
        match paths {
            [only] if only.is_dir() => Self::of_folder(only),
            _ => Self::of_files(paths),
        }
    }

    /// A folder with `run-sheet.csv` and raw files.
    ///
    /// # Errors
    /// A folder without a run sheet, or that cannot be read.
    pub fn of_folder(folder: &Path) -> Result<Self, StudyError> {
        let listing = list(folder)?;
        Ok(Self {
            name: name_of(folder)?,
            method: listing.method,
            run_sheet: listing.run_sheet,
            raw_files: listing.raw_files,
        })
    }

    /// Files, one of which is `run-sheet.csv`.
    ///
    /// # Errors
    /// No run sheet among them, two files of one name, or one that cannot be read.
    pub fn of_files(paths: &[PathBuf]) -> Result<Self, StudyError> {
        let mut method = None;
        let mut run_sheet = None;
        let mut raw_files: Vec<(String, PathBuf)> = Vec::new();
        for path in paths {
            let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
            match name.as_str() {
                METHOD_FILE => method = Some(text_of(path)?),
                RUN_SHEET_FILE => run_sheet = Some((text_of(path)?, path)),
                _ => raw_files.push((name, path.clone())),
            }
        }
        raw_files.sort();
        if let Some([(name, first), (_, second)]) =
            raw_files.windows(2).find(|pair| matches!(pair, [(one, _), (other, _)] if one == other))
        {
            return Err(StudyError::not_allowed(
                format!("{} and {} have one name", first.display(), second.display()),
                format!("name only one of them: the run sheet knows one {name}"),
            ));
        }
        let (run_sheet, path) = run_sheet.ok_or(StudyError::NoRunSheet)?;
        let whole = std::path::absolute(path).map_err(|error| StudyError::file(path, error))?;
        let name = whole.parent().map_or_else(|| Ok("files".to_owned()), name_of)?;
        Ok(Self { name, method, run_sheet, raw_files })
    }
}

/// The folder's own name, also of `.`; where it cannot stand in the ledger, a plain word.
fn name_of(folder: &Path) -> Result<String, StudyError> {
    let whole = folder.canonicalize().map_err(|error| StudyError::file(folder, error))?;
    let name = whole.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    Ok(said("folder", &name, 200, "a folder's name").unwrap_or_else(|_| "folder".to_owned()))
}

fn text_of(path: &Path) -> Result<String, StudyError> {
    String::from_utf8(read_bytes(path)?).map_err(|error| StudyError::NotAllowed {
        found: format!("{}: not UTF-8 from byte {}", path.display(), error.utf8_error().valid_up_to()),
        cure: "save the file as UTF-8 text".to_owned(),
    })
}

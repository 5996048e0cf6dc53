//! A folder that a command makes: all of it or nothing, and never over something that is there.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use stillwell_method::RawFile;

use crate::exit::Failure;

/// Refuses a folder in which something lies already.
pub(crate) fn check_free(folder: &Path) -> Result<(), Failure> {
    if !folder.try_exists().map_err(|error| unwritable(folder, &error))? {
        return Ok(());
    }
    let mut entries = fs::read_dir(folder).map_err(|error| unwritable(folder, &error))?;
    if entries.next().is_none() {
        return Ok(());
    }
    Err(Failure::NotThere {
        what: format!("{} is not empty", folder.display()),
        cure: "name a folder that is not there yet; nothing is overwritten".to_owned(),
    })
}

/// Writes the files into a folder beside the final one and then gives it its name: whoever breaks in leaves no half of it.
pub(crate) fn write(folder: &Path, files: &[RawFile]) -> Result<(), Failure> {
    check_free(folder)?;
    let partial = partial(folder);
    let written = write_all(folder, &partial, files);
    if written.is_err() {
        // What cannot be removed was not made.
        fs::remove_dir_all(&partial).ok();
    }
    written.map_err(|error| unwritable(folder, &error))
}

fn write_all(folder: &Path, partial: &Path, files: &[RawFile]) -> io::Result<()> {
    fs::create_dir_all(partial)?;
    for file in files {
        let path = partial.join(&file.name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent)?;
        }
        fs::write(path, &file.bytes)?;
    }
    if folder.exists() {
        // Removes an empty folder only.
        fs::remove_dir(folder)?;
    }
    fs::rename(partial, folder)
}

fn partial(folder: &Path) -> PathBuf {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    folder.with_file_name(format!(".{name}.{}.partial", std::process::id()))
}

fn unwritable(folder: &Path, error: &io::Error) -> Failure {
    Failure::NotThere {
        what: format!("{}: {error}", folder.display()),
        cure: "name a folder that may be written to".to_owned(),
    }
}

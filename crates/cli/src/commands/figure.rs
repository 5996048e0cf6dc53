//! Figures on their way into a file.

use std::fs;
use std::path::{Path, PathBuf};

use crate::exit::Failure;

/// Only names that end in .svg are taken: a slip of the keyboard must not cost a raw file.
pub(crate) fn check_name(path: &Path) -> Result<(), Failure> {
    if path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("svg")) {
        return Ok(());
    }
    Err(Failure::NotThere {
        what: format!("{} does not end in .svg", path.display()),
        cure: "figures are SVG: give a name such as figure.svg".to_owned(),
    })
}

/// The name with a label before its ending, of letters that every file system takes.
pub(crate) fn labelled(path: &Path, label: &str) -> PathBuf {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let plain: String = label.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    let parts: Vec<&str> = plain.split('-').filter(|part| !part.is_empty()).collect();
    path.with_file_name(format!("{stem}-{}.svg", parts.join("-")))
}

/// Written beside its place and then moved there: whoever breaks in leaves no half of a figure.
pub(crate) fn write(path: &Path, figure: &str) -> Result<(), Failure> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let partial = path.with_file_name(format!(".{name}.{}.partial", std::process::id()));
    let written = fs::write(&partial, figure).and_then(|()| fs::rename(&partial, path));
    if written.is_err() {
        // What cannot be removed was not made.
        fs::remove_file(&partial).ok();
    }
    written.map_err(|error| Failure::NotThere {
        what: format!("{}: {error}", path.display()),
        cure: "name a file in a folder that may be written to".to_owned(),
    })
}

/// Says where they are.
pub(crate) fn written(paths: &[PathBuf]) -> String {
    let lines: Vec<String> = paths.iter().map(|path| format!("figure: {}\n", path.display())).collect();
    format!("\n{}", lines.concat())
}

//! Single files that a command is pointed at: methods, cells, circuits.

use std::path::{Path, PathBuf};

use stillwell_folder::{FolderError, METHOD_FILE};
use stillwell_foresee::{CellModel, CircuitModel};
use stillwell_method::{BenchPlan, Method, Problems};
use stillwell_study::Study;

use super::source::is_a_study;
use crate::exit::Failure;

pub(super) fn bytes_at(path: &Path) -> Result<Vec<u8>, Failure> {
    stillwell_folder::read_bytes(path).map_err(|error| Failure::Folder { folder: path.to_owned(), error })
}

pub(super) fn text_at(path: &Path) -> Result<String, Failure> {
    String::from_utf8(bytes_at(path)?).map_err(|error| {
        let error = FolderError::NotUtf8 { path: path.to_owned(), at: error.utf8_error().valid_up_to() };
        Failure::Folder { folder: path.to_owned(), error }
    })
}

/// A method and its text.
pub(super) fn method_at(path: &Path) -> Result<(Method, String), Failure> {
    parsed_at(path, Method::parse)
}

/// The same, where the path may be that of a folder or a study with the method in it.
pub(super) fn method_of(path: &Path) -> Result<(Method, String), Failure> {
    if is_a_study(path)? {
        let study = Study::open_to_read(path)?;
        return Ok((study.method()?.method, study.method_text()?));
    }
    let inside: PathBuf = path.join(METHOD_FILE);
    method_at(if path.is_dir() { &inside } else { path })
}

pub(super) fn cell_at(path: &Path) -> Result<CellModel, Failure> {
    parsed_at(path, CellModel::parse).map(|(cell, _)| cell)
}

pub(super) fn circuit_at(path: &Path) -> Result<CircuitModel, Failure> {
    parsed_at(path, CircuitModel::parse).map(|(circuit, _)| circuit)
}

pub(super) fn bench_at(path: &Path) -> Result<BenchPlan, Failure> {
    parsed_at(path, BenchPlan::parse).map(|(bench, _)| bench)
}

fn parsed_at<T>(
    path: &Path,
    parse: impl Fn(&str, &str) -> Result<T, Problems>,
) -> Result<(T, String), Failure> {
    let text = text_at(path)?;
    let parsed = parse(&path.display().to_string(), &text);
    parsed.map(|found| (found, text)).map_err(|found| Failure::Problems(found.problems))
}

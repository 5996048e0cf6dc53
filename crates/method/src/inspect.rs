//! How one file was read and understood, and whether its raw scans can be trusted, without a run sheet.

use stillwell_scan::{ReadFile, ReadingPin};

use crate::file::Method;
use crate::finding::{Effect, Finding};
use crate::grids::Grid;
use crate::problem::{Place, Problem, Problems};
use crate::raw_checks::{RawChecked, check_raw};
use crate::revision::Hash;

/// One file, inspected.
#[derive(Debug, Clone)]
pub struct Inspection {
    /// What was read.
    pub file: ReadFile,
    /// The checks of each scan; empty without a method, since their limits are the method's.
    pub checks: Vec<RawChecked>,
}

impl Inspection {
    /// Whether a check of some scan did not pass.
    pub fn needs_attention(&self) -> bool {
        let failed = |finding: &Finding| finding.effect > Effect::Noted;
        self.checks.iter().any(|checked| checked.findings.iter().any(failed))
    }
}

/// Reads one file and, with a method, checks its scans.
///
/// # Errors
/// A file that cannot be read, with place and cure.
pub fn inspect(bytes: &[u8], name: &str, method: Option<&Method>) -> Result<Inspection, Problems> {
    let open = ReadingPin::default();
    let pin = method.map_or(&open, |method| &method.reading);
    let file = stillwell_scan::read(bytes, name, pin).map_err(|error| reading_problem(&error))?;
    let checks = method.map_or_else(Vec::new, |method| {
        file.scans
            .iter()
            .map(|scan| {
                let subject = format!("scan {}", scan.ordinal);
                check_raw(method, (scan, &file), &Grid::of(method, scan), subject.as_str(), &mut Vec::new())
            })
            .collect()
    });
    Ok(Inspection { file, checks })
}

/// A reading error with its place, as every other problem is shown.
pub(crate) fn reading_problem(error: &stillwell_scan::ReadError) -> Problem {
    let at = error.place();
    let place =
        Place { file: at.file_name.to_string(), line: at.line, column: at.column, text: at.text.to_string() };
    let whole = error.to_string();
    let found = whole.strip_prefix(&at.to_string()).unwrap_or(&whole).trim_start_matches([':', ' ']);
    Problem::new(place, found.to_owned(), String::new())
}

impl From<&stillwell_scan::ReadError> for Problem {
    fn from(error: &stillwell_scan::ReadError) -> Self {
        reading_problem(error)
    }
}

/// A scan room's hash text as ours.
pub(crate) fn hash_of(file: &ReadFile) -> Hash {
    Hash::from_hex(&file.blake3)
}

//! How staged files are read, and what is wrong with them and their run sheet: all of it found by the rooms below.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

use stillwell_method::{Effect, Input, Method, Problem, Problems, RunSheet, StatedReading, inspect};

use super::desk::{Staged, Staging};
use crate::layout::Refusal;

/// Readings that are remembered.
const MOST: usize = 50_000;

/// How one file was read.
#[derive(Debug, Clone)]
pub(super) struct Read {
    /// Layout, units and sign, in one line.
    pub(super) words: String,
    pub(super) n_scans: usize,
    /// What the reader had to notice.
    pub(super) notes: Vec<String>,
    /// Raw checks that did not pass: scan and check.
    pub(super) attention: Vec<String>,
}

type Known = Arc<Result<Read, Vec<Problem>>>;

/// What was read already, by the hash of the bytes, the method and what the run sheet states of the file.
#[derive(Default)]
pub(crate) struct Readings(Mutex<BTreeMap<(String, String), Known>>);

/// A staging, read and judged.
pub(super) struct Checked {
    /// One for each file.
    pub(super) files: Vec<(Staged, Known)>,
    /// What is wrong with each line of the run sheet, by its line.
    pub(super) of_line: BTreeMap<usize, Vec<Problem>>,
    /// What is wrong elsewhere.
    pub(super) others: Vec<Problem>,
}

impl Checked {
    /// Whether the study would take it.
    pub(super) fn is_good(&self) -> bool {
        self.of_line.is_empty() && self.others.is_empty() && self.files.iter().all(|(_, read)| read.is_ok())
    }

    pub(super) fn n_scans(&self) -> usize {
        self.files.iter().filter_map(|(_, read)| read.as_ref().as_ref().ok()).map(|read| read.n_scans).sum()
    }
}

impl Readings {
    /// Reads every file as the method and the run sheet say, and holds them against each other.
    pub(super) fn check(&self, staging: &Staging, method: &Method) -> Result<Checked, Refusal> {
        let mut problems = Vec::new();
        let sheet = if staging.sheet.trim().is_empty() {
            None
        } else {
            RunSheet::parse("run-sheet.csv", &staging.sheet, &method.analyte.reported_as)
                .map_err(|found| problems.extend(found.problems))
                .ok()
        };
        let mut stated: BTreeMap<&str, StatedReading> = BTreeMap::new();
        for row in sheet.iter().flat_map(|sheet| &sheet.rows) {
            stated.entry(&row.file).or_insert(row.stated);
        }
        let mut files = Vec::new();
        for file in &staging.index.files {
            let known = self.read(
                staging,
                file,
                method,
                stated.get(file.name.as_str()).copied().unwrap_or_default(),
            )?;
            files.push((file.clone(), known));
        }
        if let Some(sheet) = &sheet {
            let names: BTreeSet<&str> = files.iter().map(|(file, _)| file.name.as_str()).collect();
            let n_scans = files
                .iter()
                .filter_map(|(file, read)| Some((file.name.clone(), read.as_ref().as_ref().ok()?.n_scans)));
            let found = [
                Input::reading_pins(method, sheet, &names).map(|_| ()),
                Input::names_every_scan(sheet, &n_scans.collect()),
            ];
            problems
                .extend(found.into_iter().filter_map(Result::err).flat_map(|Problems { problems }| problems));
        }
        let mut checked = Checked { files, of_line: BTreeMap::new(), others: Vec::new() };
        for problem in problems {
            if problem.place.file == "run-sheet.csv" && problem.place.line > 1 {
                checked.of_line.entry(problem.place.line).or_default().push(problem);
            } else {
                checked.others.push(problem);
            }
        }
        Ok(checked)
    }

    fn read(
        &self,
        staging: &Staging,
        file: &Staged,
        method: &Method,
        stated: StatedReading,
    ) -> Result<Known, Refusal> {
        let key = (file.blake3.clone(), format!("{} {stated:?}", method.hash));
        if let Some(known) = self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&key) {
            return Ok(Arc::clone(known));
        }
        let mut method = method.clone();
        let pin = &mut method.reading;
        pin.potential_unit = pin.potential_unit.or(stated.potential_unit);
        pin.current_unit = pin.current_unit.or(stated.current_unit);
        pin.reduction_current = pin.reduction_current.or(stated.reduction_current);
        let known = Arc::new(read(&staging.bytes(file)?, &file.name, &method));
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= MOST {
            all.clear();
        }
        all.insert(key, Arc::clone(&known));
        Ok(known)
    }
}

fn read(bytes: &[u8], name: &str, method: &Method) -> Result<Read, Vec<Problem>> {
    let inspection = inspect(bytes, name, Some(method)).map_err(|found| found.problems)?;
    let attention = inspection.checks.iter().zip(1..).flat_map(|(checked, scan)| {
        let failed = checked.findings.iter().filter(|finding| finding.effect > Effect::Noted);
        failed.map(move |finding| format!("scan {scan}, {}: {}", finding.check.id(), finding.found))
    });
    Ok(Read {
        words: inspection.file.reading.to_string(),
        n_scans: inspection.file.scans.len(),
        notes: inspection.file.notes.iter().map(ToString::to_string).collect(),
        attention: attention.collect(),
    })
}

//! The desk at which the steps of field runs are handed in: one transaction, so that a step, its raw file, the series and the
//! result that came of it are kept together or not at all, and two devices never come between each other.

use std::collections::{BTreeMap, BTreeSet};

use rusqlite::Transaction;
use stillwell_method::{Input, Method, Report, RunSheet, determine};

use crate::act::{Act, FileEntry, Series};
use crate::content::{self, MAX_BYTES, Packed};
use crate::error::StudyError;
use crate::field_step::{Deed, FieldStep, StepAnswer, StepFile};
use crate::hash::Digest;
use crate::issue::{IssuedDetermination, Occasion};
use crate::ledger::{self, By, Record};
use crate::reading::{self, KeptReading};
use crate::study::Study;

/// The kind of a step's record.
pub(crate) const KIND: &str = "field-step";

/// Everything that one step may do to the study.
pub struct FieldDesk<'a> {
    transaction: &'a Transaction<'a>,
    study: &'a Study,
}

impl Study {
    /// Does something at the desk, under the write lock; everything it records is kept, or nothing of it.
    ///
    /// # Errors
    /// Whatever `act` fails with, and a file that cannot be written.
    pub fn at_field_desk<T, E: From<StudyError>>(
        &mut self,
        act: impl FnOnce(&FieldDesk<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let mut failed = None;
        let done = self.write(|transaction, study| {
            act(&FieldDesk { transaction, study }).map_err(|error| {
                failed = Some(error);
                // Only to have the transaction given up; the first error is handed on.
                StudyError::Locked
            })
        });
        match (done, failed) {
            (_, Some(error)) => Err(error),
            (done, None) => Ok(done?),
        }
    }
}

impl FieldDesk<'_> {
    /// The study, to be read.
    pub fn study(&self) -> &Study {
        self.study
    }

    /// The steps of a run that were handed in, in their order.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn steps_of(&self, run: &str) -> Result<Vec<FieldStep>, StudyError> {
        self.study.field_steps_of(run)
    }

    /// Whether these very bytes count already: in a series, or in a step that was taken.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn counts_already(&self, bytes: &[u8]) -> Result<bool, StudyError> {
        let raw = Digest::of(bytes);
        let connection = &self.study.connection;
        if !ledger::of_kind_holding(connection, "series", &raw.to_string())?.is_empty() {
            return Ok(true);
        }
        for record in ledger::of_kind_holding(connection, KIND, &raw.to_string())? {
            if let Act::FieldStep(step) = record.act()?
                && matches!(&step.deed, Deed::File(file) if file.raw == raw)
                && matches!(step.answer, StepAnswer::Taken { .. })
            {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Keeps a raw file with the scans read from it by the method's reading; one that cannot be read is kept as bytes, and
    /// why it cannot be read is said.
    ///
    /// # Errors
    /// More bytes than are taken, or a file that cannot be written.
    pub fn keep_file(
        &self,
        method: &Method,
        name: &str,
        bytes: &[u8],
    ) -> Result<(StepFile, Option<String>), StudyError> {
        if bytes.len() > MAX_BYTES {
            let (found, limit) = (bytes.len() as u64, MAX_BYTES as u64);
            return Err(StudyError::TooLarge { what: name.to_owned(), found, limit });
        }
        let packed = Packed::of(bytes)?;
        let raw = packed.hash;
        content::put(self.transaction, &packed)?;
        let kept = |reading, n_scans| StepFile { name: name.to_owned(), raw, reading, n_scans };
        match stillwell_scan::read(bytes, name, &method.reading) {
            Ok(file) => {
                let key = reading::Keys::default().of(&raw, name, &method.reading)?;
                let reading = KeptReading::of(&file, key, raw)?;
                reading.put(self.transaction)?;
                Ok((kept(Some(reading.hash), file.scans.len()), None))
            }
            Err(error) => Ok((kept(None, 0), Some(error.to_string()))),
        }
    }

    /// What the chain makes of a run sheet with kept files and the standards of a calibration; nothing is recorded.
    ///
    /// # Errors
    /// A run sheet that does not hold together, or content that is damaged.
    pub fn look_through(
        &self,
        run_sheet: &str,
        files: &[StepFile],
        calibration: &Digest,
    ) -> Result<Report, StudyError> {
        let method = self.study.method()?.method;
        let mut sheet = RunSheet::parse("run-sheet.csv", run_sheet, &method.analyte.reported_as)?;
        let names: BTreeSet<&str> = files.iter().map(|file| file.name.as_str()).collect();
        let pins = Input::reading_pins(&method, &sheet, &names)?;
        let mut read = BTreeMap::new();
        for entry in entries(files) {
            let Some(pin) = pins.get(&entry.name) else { continue };
            read.insert(entry.name.clone(), self.study.file(&entry, pin)?);
        }
        let (rows, more) = self.study.borrow(calibration, &method, false)?;
        sheet.rows.extend(rows);
        read.extend(more);
        Ok(determine(&Input { method, run_sheet: sheet, files: read }))
    }

    /// Records a series of kept files, unless it is there, and determines its samples off a given calibration, as at the desk.
    ///
    /// # Errors
    /// A run sheet that does not hold together, a calibration that does not come out with its recorded constants, or a file
    /// that cannot be written.
    pub fn determine(
        &self,
        name: &str,
        run_sheet: &str,
        files: &[StepFile],
        calibration: &Digest,
        by: &By,
    ) -> Result<(Digest, Vec<IssuedDetermination>), StudyError> {
        let revision = self.study.method()?;
        let sheet = RunSheet::parse("run-sheet.csv", run_sheet, &revision.method.analyte.reported_as)?;
        let n_scans = files.iter().map(|file| (file.name.clone(), file.n_scans)).collect();
        Input::names_every_scan(&sheet, &n_scans)?;
        let mut series = Series {
            name: name.to_owned(),
            run_sheet: Digest::of(run_sheet.as_bytes()),
            files: entries(files),
            n_scans: n_scans.values().sum(),
        };
        series.files.sort_by(|a, b| a.name.cmp(&b.name));
        let added = self.study.keep_series(self.transaction, &series, &sheet, run_sheet, by)?;
        let opened = self.study.open_series(&added.series, &revision.method)?;
        let walked = self.study.walk_leaning(opened, &revision, vec![*calibration])?;
        self.study.check_borrowed(&walked.borrowed, &walked.report)?;
        let charts = self.study.chart_hold()?;
        let issued = self.study.issue(self.transaction, walked, &charts, Occasion::Routine, by)?;
        Ok((added.series, issued.determinations))
    }

    /// Records a step.
    ///
    /// # Errors
    /// A file that cannot be written.
    pub fn append(&self, step: FieldStep, by: &By) -> Result<Record, StudyError> {
        self.study.append(self.transaction, by, &Act::FieldStep(Box::new(step)))
    }
}

/// The files that could be read.
fn entries(files: &[StepFile]) -> Vec<FileEntry> {
    let entry = |file: &StepFile| {
        let reading = file.reading?;
        Some(FileEntry { name: file.name.clone(), raw: file.raw, reading })
    };
    files.iter().filter_map(entry).collect()
}

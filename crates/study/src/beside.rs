//! What a study says beside a report that was walked from one of its series.

use std::path::PathBuf;

use crate::act::{CalibrationAct, Series};
use crate::error::StudyError;
use crate::look::LastIssued;
use crate::numbered::Numbered;
use crate::study::{Anchor, Study};

/// What a study says beside a report that came from it.
#[derive(Debug)]
pub struct Beside {
    /// The study's file.
    pub path: PathBuf,
    /// The series' number.
    pub series: String,
    /// Its name.
    pub series_name: String,
    /// Whether the study holds no other.
    pub is_only_series: bool,
    /// The head of the ledger.
    pub anchor: Anchor,
    /// For each calibration of the report: its record, where it is on record.
    pub calibrations: Vec<Option<Numbered<CalibrationAct>>>,
    /// For each determination of the report: the last result issued.
    pub determinations: Vec<Option<LastIssued>>,
}

impl Beside {
    /// Beside a series, before anything was walked.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn series(study: &Study, series: &Numbered<Series>) -> Result<Self, StudyError> {
        Ok(Self {
            path: study.path().to_owned(),
            series: series.label.clone(),
            series_name: series.act.name.clone(),
            is_only_series: study.series()?.len() == 1,
            anchor: study.anchor()?,
            calibrations: Vec::new(),
            determinations: Vec::new(),
        })
    }

    /// Whether some result or calibration of the report is not issued as it is, or not approved.
    pub fn needs_attention(&self) -> bool {
        let is_approved = |one: &Option<Numbered<CalibrationAct>>| {
            one.as_ref().is_some_and(|one| one.standing.is_approved())
        };
        if !self.calibrations.iter().all(is_approved) {
            return true;
        }
        self.determinations
            .iter()
            .any(|last| !last.as_ref().is_some_and(|last| last.is_same && last.result.standing.is_approved()))
    }
}

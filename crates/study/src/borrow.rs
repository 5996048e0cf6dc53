//! Which calibration of an earlier series serves a series without standards of its own.

use std::collections::BTreeSet;

use stillwell_method::{CalibrationScope, Method, Report, Role, Row};

use crate::act::Act;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger;
use crate::result::digest_of;
use crate::series::OpenedSeries;
use crate::study::{MethodRevision, Study};

/// Lot and channel of the calibration that a scan belongs to.
pub(crate) fn group_of<'a>(method: &Method, row: &'a Row) -> (&'a str, &'a str) {
    let lot = match method.calibration.per {
        CalibrationScope::Lot => row.lot.as_str(),
        CalibrationScope::AllLots => "",
    };
    (lot, row.channel.as_str())
}

impl Study {
    /// For each lot and channel that has samples and no standards, the newest calibration in force.
    pub(crate) fn to_borrow(
        &self,
        series: &OpenedSeries,
        revision: &MethodRevision,
    ) -> Result<Vec<Digest>, StudyError> {
        self.to_borrow_of(series, &[revision])
    }

    /// The same, of the first of several revisions that has one.
    pub(crate) fn to_borrow_of(
        &self,
        series: &OpenedSeries,
        revisions: &[&MethodRevision],
    ) -> Result<Vec<Digest>, StudyError> {
        let Some(method) = revisions.first().map(|revision| &revision.method) else { return Ok(Vec::new()) };
        let groups = |wanted: fn(Role) -> bool| -> BTreeSet<(&str, &str)> {
            let rows = series.sheet.rows.iter().filter(|row| wanted(row.role));
            rows.map(|row| group_of(method, row)).collect()
        };
        let with_standards = groups(|role| role == Role::Standard);
        let wanting = groups(|role| matches!(role, Role::Sample | Role::Duplicate | Role::Interference));
        let mut borrowed = Vec::new();
        for group in wanting.difference(&with_standards) {
            for revision in revisions {
                let found = self.newest_calibration(*group, digest_of(&revision.method.hash))?;
                borrowed.extend(found);
                if found.is_some() {
                    break;
                }
            }
        }
        Ok(borrowed)
    }

    fn newest_calibration(
        &self,
        (lot, channel): (&str, &str),
        method: Digest,
    ) -> Result<Option<Digest>, StudyError> {
        let mut of_lot = ledger::about(&self.connection, lot, "calibration")?;
        // Of those of one moment the study's own come first.
        of_lot.sort_by_key(|record| (record.chain != self.own, record.chain, record.seq));
        of_lot.sort_by(|a, b| a.at_utc.cmp(&b.at_utc));
        for record in of_lot.into_iter().rev() {
            let Act::Calibration(act) = record.act()? else { continue };
            let fits = act.result.lot == lot && act.result.channel == channel && act.result.accepted;
            if fits && self.method_of(&act.revision)? == method && self.standing(&record)?.counts() {
                return Ok(Some(record.hash));
            }
        }
        Ok(None)
    }

    /// Identity of the method of a revision's record.
    pub(crate) fn method_of(&self, revision: &Digest) -> Result<Digest, StudyError> {
        match self.record(revision)?.act()? {
            Act::Revision(revision) => Ok(revision.method),
            _ => Err(StudyError::damaged("a method revision is not where it should be")),
        }
    }

    /// Shows that each borrowed calibration came out with the very constants that are on record.
    pub(crate) fn check_borrowed(&self, borrowed: &[Digest], report: &Report) -> Result<(), StudyError> {
        for calibration in borrowed {
            let Act::Calibration(act) = self.record(calibration)?.act()? else { continue };
            let made = report
                .calibrations
                .iter()
                .find(|link| link.key.lot == act.result.lot && link.key.channel == act.result.channel);
            let same_constants = made.is_some_and(|link| {
                let made = crate::result::calibration_result(report, link);
                made.constants == act.result.constants && made.accepted == act.result.accepted
            });
            if !same_constants {
                return Err(StudyError::not_allowed(
                    format!(
                        "the calibration {} does not come out with its recorded constants beside this series",
                        calibration.short()
                    ),
                    "state batch and lot of every blank in the run sheet, so that blanks of one series cannot \
                     serve the other; or measure standards with the samples",
                ));
            }
        }
        Ok(())
    }
}

//! Which calibration of an earlier series serves a series without standards of its own.

use std::collections::BTreeSet;

use stillwell_method::{CalibrationScope, Method, Report, Role, Row, RunSheet};

use crate::act::Act;
use crate::content;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::result::digest_of;
use crate::study::{MethodRevision, Study};

/// Lot and channel of the calibration that a scan belongs to.
pub(crate) fn group_of(method: &Method, row: &Row) -> (String, String) {
    let lot = match method.calibration.per {
        CalibrationScope::Lot => row.lot.clone(),
        CalibrationScope::AllLots => String::new(),
    };
    (lot, row.channel.clone())
}

impl Study {
    /// For each lot and channel that has samples and no standards, the newest calibration in force.
    pub(crate) fn to_borrow(
        &self,
        series: &Digest,
        revision: &MethodRevision,
    ) -> Result<Vec<Digest>, StudyError> {
        let Act::Series(act) = self.record(series)?.act()? else { return Ok(Vec::new()) };
        let text = content::text(&self.connection, &act.run_sheet)?;
        let method = &revision.method;
        let sheet = RunSheet::parse("run-sheet.csv", &text, &method.analyte.reported_as)?;
        let groups = |wanted: fn(Role) -> bool| -> BTreeSet<(String, String)> {
            let rows = sheet.rows.iter().filter(|row| wanted(row.role));
            rows.map(|row| group_of(method, row)).collect()
        };
        let with_standards = groups(|role| role == Role::Standard);
        let wanting = groups(|role| matches!(role, Role::Sample | Role::Duplicate));
        let mut borrowed = Vec::new();
        for group in wanting.difference(&with_standards) {
            borrowed.extend(self.newest_calibration(group, digest_of(&method.hash))?);
        }
        Ok(borrowed)
    }

    fn newest_calibration(
        &self,
        (lot, channel): &(String, String),
        method: Digest,
    ) -> Result<Option<Digest>, StudyError> {
        let mut found = None;
        for calibration in self.calibrations()? {
            let act = &calibration.act;
            let fits = act.result.lot == *lot && act.result.channel == *channel && act.result.accepted;
            let is_newer = |(at, _): &(String, Digest)| *at <= calibration.record.at_utc;
            if fits
                && found.as_ref().is_none_or(is_newer)
                && self.method_of(&act.revision)? == method
                && calibration.standing.counts()
            {
                found = Some((calibration.record.at_utc.clone(), calibration.record.hash));
            }
        }
        Ok(found.map(|(_, record)| record))
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

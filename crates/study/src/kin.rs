//! Kin of a calibration: others from the same standards, made under another revision or beside other blanks.
//!
//! Who withdraws a calibration because a standard was mixed up means the standard. A calibration that is made from it
//! anew carries that word, until a standard is left out.

use crate::act::{Act, CalibrationAct};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::issue::Walked;
use crate::ledger::{self, Record};
use crate::result::{CalibrationResult, calibration_result};
use crate::study::Study;

impl Study {
    /// The kin of each calibration of a report.
    pub(crate) fn kin_of(
        &self,
        walked: &Walked,
        records: &[Option<Record>],
    ) -> Result<Vec<Vec<Record>>, StudyError> {
        let mut all = Vec::new();
        for (link, record) in walked.report.calibrations.iter().zip(records) {
            let result = calibration_result(&walked.report, link);
            // A borrowed calibration belongs to the series that it was borrowed from.
            let mut series = walked.series.hash;
            if let Some(record) = record
                && let Act::Calibration(act) = record.act()?
            {
                series = act.series;
            }
            all.push(self.kin(&series, &result, record.as_ref().map(|record| &record.hash))?);
        }
        Ok(all)
    }

    /// Other calibrations of the same series, lot and channel whose standards all still count.
    pub(crate) fn kin(
        &self,
        series: &Digest,
        result: &CalibrationResult,
        own: Option<&Digest>,
    ) -> Result<Vec<Record>, StudyError> {
        let mut kin = Vec::new();
        for record in ledger::about(&self.connection, &result.lot, "calibration")? {
            if Some(&record.hash) == own || !record.names(series) {
                continue;
            }
            let Act::Calibration(act) = record.act()? else { continue };
            let is_kin = act.series == *series && act.result.channel == result.channel;
            if is_kin && !self.was_mended(&record, &act)? {
                kin.push(record);
            }
        }
        Ok(kin)
    }

    /// Whether one of its standards was left out later.
    fn was_mended(&self, record: &Record, calibration: &CalibrationAct) -> Result<bool, StudyError> {
        let undone = self.undone(None)?;
        for later in ledger::of_kind(&self.connection, &self.own, "exclusion")? {
            let is_later = if later.chain == record.chain {
                later.seq > record.seq
            } else {
                later.at_utc >= record.at_utc
            };
            if is_later
                && !undone.contains(&later.hash)
                && later.names(&calibration.series)
                && let Act::Exclusion(act) = later.act()?
                && act.series == calibration.series
                && calibration.result.standards.iter().any(|standard| standard.scan == act.scan)
            {
                return Ok(true);
            }
        }
        Ok(false)
    }
}

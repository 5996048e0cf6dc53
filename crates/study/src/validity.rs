//! Until when a calibration may be used, and why the study withholds verdicts.

use stillwell_method::{Determination, Report};

use crate::act::{Act, Custody, Lot, Trigger, Validity, Withholding, Word};
use crate::day::{day, day_of, hours_between, moments_of};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, By, Record, said};
use crate::study::Study;

/// What a sample's verdict depends on beside its numbers.
pub(crate) struct Circumstances<'a> {
    pub(crate) measured: String,
    /// What was said of its calibration.
    pub(crate) of_calibration: Vec<Withholding>,
    pub(crate) lot: Option<&'a Lot>,
    pub(crate) custody: Option<&'a Custody>,
}

/// The latest day on which the run sheet dates a scan of this sample; else the day on which the series came in.
pub(crate) fn measured_on(report: &Report, found: &Determination, series: &Record) -> String {
    let rows = found.scans.iter().filter_map(|place| report.scans.get(*place)).map(|link| &link.row.date);
    let day = |text: &str| day_of(text).map(|day| day.to_string());
    let latest = rows.filter_map(|date| day(date)).max();
    latest.or_else(|| day(&series.at_utc)).unwrap_or_default()
}

/// What forbids a verdict by the sample's custody: what cannot have been, and what cannot be shown to have been in time. A
/// sample dated by the day alone was taken at its beginning, and measured at the end of its day.
fn of_custody(custody: &Custody, measured: &str) -> Option<Withholding> {
    let (taken, day) = (custody.taken.clone(), measured.to_owned());
    let moments = moments_of(&custody.taken).zip(moments_of(measured));
    let held_h = moments.map(|([first, _], [_, end])| hours_between(first, end));
    if held_h.is_some_and(|held_h| held_h < 0.0) {
        return Some(Withholding::TakenAfterMeasured { taken, measured: day });
    }
    let holding_time_h = custody.holding_time_h?;
    // A moment that nobody can read shows nothing; ledgers from before took such.
    let is_shown = held_h.is_some_and(|held_h| held_h <= holding_time_h);
    (!is_shown).then_some(Withholding::HeldTooLong { taken, holding_time_h, measured: day })
}

impl Study {
    /// States until when a calibration may be used, and what ends it earlier. The last statement counts.
    ///
    /// # Errors
    /// A record that is no calibration, or a day that is none.
    pub fn set_validity(
        &mut self,
        calibration: &Digest,
        last_day: &str,
        triggers: &[&str],
        by: &By,
    ) -> Result<Record, StudyError> {
        self.must_be(calibration, "calibration")?;
        let last_day = day("last day", last_day)?;
        let triggers = triggers
            .iter()
            .map(|trigger| said("trigger", trigger, 200, "what ends the calibration, in a few words"))
            .collect::<Result<_, _>>()?;
        self.record_act(by, &Act::Validity(Validity { calibration: *calibration, last_day, triggers }))
    }

    /// Records that something ended a calibration's validity; the reason says what.
    ///
    /// # Errors
    /// A record that is no calibration, or a day that is none.
    pub fn end_validity(&mut self, calibration: &Digest, on: &str, by: &By) -> Result<Record, StudyError> {
        self.must_be(calibration, "calibration")?;
        let on = day("day", on)?;
        self.record_act(by, &Act::Trigger(Trigger { calibration: *calibration, on }))
    }

    pub(crate) fn must_be(&self, hash: &Digest, kind: &str) -> Result<Record, StudyError> {
        let record = self.record(hash)?;
        if record.kind == kind {
            return Ok(record);
        }
        Err(StudyError::not_allowed(
            format!("record {} is a {}, not a {kind}", hash.short(), record.kind),
            format!("name a {kind}"),
        ))
    }

    /// Everything that forbids a verdict.
    pub(crate) fn withholdings(about: Circumstances<'_>) -> Vec<Withholding> {
        let Circumstances { measured, of_calibration: mut found, .. } = about;
        if let Some(lot) = about.lot.filter(|lot| lot.last_day < measured) {
            let last_day = lot.last_day.clone();
            found.push(Withholding::LotExpired { last_day, measured: measured.clone() });
        }
        found.extend(about.custody.and_then(|custody| of_custody(custody, &measured)));
        found
    }

    /// What was said of a calibration, and of others from the same standards: a new revision or another blank gives a
    /// new calibration, but does not mend standards that were mixed up. Only the last day is stated for each anew.
    pub(crate) fn calibrations_withhold(
        &self,
        calibration: Option<&Record>,
        kin: &[Record],
        measured: &str,
    ) -> Result<Vec<Withholding>, StudyError> {
        let mut found = Vec::new();
        let mut has_last_day = false;
        if let Some(own) = calibration {
            found = self.calibration_withholds(own, measured)?;
            let said = ledger::of_subject(&self.connection, &own.hash.to_string())?;
            has_last_day = said.iter().any(|record| record.kind == "validity");
        }
        for other in kin {
            for why in self.calibration_withholds(other, measured)? {
                let is_overtaken = has_last_day && matches!(why, Withholding::CalibrationExpired { .. });
                if !is_overtaken && !found.contains(&why) {
                    found.push(why);
                }
            }
        }
        Ok(found)
    }

    fn calibration_withholds(
        &self,
        calibration: &Record,
        measured: &str,
    ) -> Result<Vec<Withholding>, StudyError> {
        let mut expired = None;
        let mut found = Vec::new();
        for later in ledger::of_subject(&self.connection, &calibration.hash.to_string())? {
            let measured = measured.to_owned();
            match later.act()? {
                // The last statement counts: each one takes the place of those before.
                Act::Validity(Validity { last_day, .. }) => {
                    expired = (last_day < measured)
                        .then_some(Withholding::CalibrationExpired { last_day, measured });
                }
                Act::Trigger(Trigger { on, .. }) if on <= measured => {
                    found.push(Withholding::CalibrationEnded { on, what: later.reason, measured });
                }
                Act::Withdrawal(_) => {
                    found.push(Withholding::CalibrationWithdrawn { what: later.reason });
                }
                _ => {}
            }
        }
        found.extend(expired);
        if let Some((Word::Refused, said)) = self.standing(calibration)?.approval {
            found.push(Withholding::CalibrationRefused { what: said.reason });
        }
        Ok(found)
    }
}

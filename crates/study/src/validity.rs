//! Until when a calibration may be used, and why the study withholds verdicts.

use stillwell_method::{Determination, Report};

use crate::act::{Act, Custody, Lot, StudyRole, Trigger, Validity, Withholding, Word};
use crate::day::{day, day_of, hours_between, moments_of};
use crate::error::StudyError;
use crate::hash::{Digest, Joined};
use crate::key_file::SigningPerson;
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
    /// States until when a calibration may be used, and what ends it earlier. The last statement counts; a later day than the
    /// one in force counts only where an approver signs it, with [`Self::set_validity_signed`].
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
        self.state_validity(calibration, last_day, triggers, None, by)
    }

    /// The same by an approver whose key signs it: so a later day counts.
    ///
    /// # Errors
    /// As [`Self::set_validity`], and a key that is no approver's in force.
    pub fn set_validity_signed(
        &mut self,
        calibration: &Digest,
        last_day: &str,
        triggers: &[&str],
        person: &SigningPerson,
        reason: &str,
    ) -> Result<Record, StudyError> {
        let by = By::new(person.name(), reason)?;
        self.state_validity(calibration, last_day, triggers, Some(person), &by)
    }

    fn state_validity(
        &mut self,
        calibration: &Digest,
        last_day: &str,
        triggers: &[&str],
        person: Option<&SigningPerson>,
        by: &By,
    ) -> Result<Record, StudyError> {
        self.must_be(calibration, "calibration")?;
        let last_day = day("last day", last_day)?;
        let triggers = triggers
            .iter()
            .map(|trigger| said("trigger", trigger, 200, "what ends the calibration, in a few words"))
            .collect::<Result<_, _>>()?;
        let mut act = Validity { calibration: *calibration, last_day, triggers, signature: None };
        self.write(|transaction, study| {
            let message = validity_message(&study.own, &act, by.reason());
            act.signature =
                person.map(|person| study.sign(person, Some(StudyRole::Approver), &message)).transpose()?;
            study.append(transaction, by, &Act::Validity(act))
        })
    }

    /// The last day of a calibration that is in force, and whether an approver signed a statement of it.
    pub(crate) fn last_day_in_force(
        &self,
        calibration: &Digest,
    ) -> Result<Option<(String, bool)>, StudyError> {
        Ok(self.last_days(calibration)?.pop().map(|(_, last_day, is_signed)| (last_day, is_signed)))
    }

    /// The statements of a calibration's last day, each with the day in force after it and whether an approver had signed.
    pub(crate) fn last_days(&self, calibration: &Digest) -> Result<Vec<(Digest, String, bool)>, StudyError> {
        let mut all: Vec<(Digest, String, bool)> = Vec::new();
        for record in ledger::of_subject(&self.connection, &calibration.to_string())? {
            let Act::Validity(act) = record.act()? else { continue };
            let message = validity_message(&record.chain, &act, &record.reason);
            let is_signed = match &act.signature {
                Some(signature) => self.is_approvers(&record, signature, &message)?,
                None => false,
            };
            let (before, was_signed) =
                all.last().map_or_else(|| (act.last_day.clone(), false), |(_, day, was)| (day.clone(), *was));
            // Whoever can write the file may shorten a validity, and only an approver may give more.
            let last_day = if is_signed { act.last_day } else { act.last_day.min(before) };
            all.push((record.hash, last_day, is_signed || was_signed));
        }
        Ok(all)
    }

    /// When a calibration ended, the earliest day of several, and why; none where it did not.
    pub(crate) fn ended(&self, calibration: &Digest) -> Result<Option<(String, String)>, StudyError> {
        let mut ends = Vec::new();
        for record in ledger::of_subject(&self.connection, &calibration.to_string())? {
            if let Act::Trigger(act) = record.act()? {
                ends.push((act.on, record.reason));
            }
        }
        Ok(ends.into_iter().min())
    }

    /// Records that something ended a calibration's validity; the reason says what.
    ///
    /// # Errors
    /// A record that is no calibration, or a day that is none.
    pub fn end_validity(&mut self, calibration: &Digest, on: &str, by: &By) -> Result<Record, StudyError> {
        self.must_be(calibration, "calibration")?;
        let on = day("day", on)?;
        if on > self.latest_day() {
            return Err(StudyError::not_allowed(
                format!("{on} is yet to come, and what ends a calibration has happened"),
                "state a last day for what is foreseen: `stillwell study validity --last-day`",
            ));
        }
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
            // A new record of the same standards does not outlive the old one's day by anybody's word.
            has_last_day = self.last_day_in_force(&own.hash)?.is_some_and(|(_, is_signed)| is_signed);
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
        let mut found = Vec::new();
        for later in ledger::of_subject(&self.connection, &calibration.hash.to_string())? {
            let measured = measured.to_owned();
            match later.act()? {
                Act::Trigger(Trigger { on, .. }) if on <= measured => {
                    found.push(Withholding::CalibrationEnded { on, what: later.reason, measured });
                }
                Act::Withdrawal(_) => {
                    found.push(Withholding::CalibrationWithdrawn { what: later.reason });
                }
                _ => {}
            }
        }
        if let Some((last_day, _)) = self.last_day_in_force(&calibration.hash)?
            && last_day.as_str() < measured
        {
            found.push(Withholding::CalibrationExpired { last_day, measured: measured.to_owned() });
        }
        if let Some((Word::Refused, said)) = self.standing(calibration)?.approval {
            found.push(Withholding::CalibrationRefused { what: said.reason });
        }
        Ok(found)
    }
}

/// What is signed: every field, reason and study.
pub(crate) fn validity_message(chain: &Digest, act: &Validity, reason: &str) -> Digest {
    let triggers = act.triggers.len().to_string();
    let joined = Joined::new("stillwell study validity 1")
        .field(chain.as_bytes())
        .field(act.calibration.as_bytes())
        .field(act.last_day.as_bytes())
        .field(reason.as_bytes())
        .field(triggers.as_bytes());
    act.triggers.iter().fold(joined, |joined, trigger| joined.field(trigger.as_bytes())).digest()
}

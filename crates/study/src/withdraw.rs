//! Withdrawing what was issued: the record stays, and a new one says that it no longer counts.

use crate::act::DeterminationAct;
use crate::act::{Act, Withdrawal};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{By, Record};
use crate::numbered::Numbered;
use crate::study::Study;

impl Study {
    /// Withdraws a result, a calibration, a campaign, a key or a laboratory's results.
    ///
    /// # Errors
    /// Something that cannot be withdrawn, or was already.
    pub fn withdraw(&mut self, target: &Digest, by: &By) -> Result<Record, StudyError> {
        self.write(|transaction, study| {
            let record = study.record(target)?;
            let can_be = ["calibration", "determination", "key", "campaign", "laboratory"];
            if !can_be.contains(&record.kind.as_str()) {
                return Err(StudyError::not_allowed(
                    format!("a {} cannot be withdrawn", record.kind),
                    "name a result, a calibration, a campaign, a key or a laboratory's results; a scan is left out by an exclusion",
                ));
            }
            if let Some(earlier) = study.standing(&record)?.withdrawn {
                let found = format!("it was withdrawn at {} by {}", earlier.at_utc, earlier.by);
                return Err(StudyError::not_allowed(found, "nothing needs to be done"));
            }
            study.append(transaction, by, &Act::Withdrawal(Withdrawal { target: *target }))
        })
    }

    /// The issued results that a calibration touches: those that were read off it, or off a series that borrowed it.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn touched_by(&self, calibration: &Digest) -> Result<Vec<Numbered<DeterminationAct>>, StudyError> {
        let mut determinations = self.determinations()?;
        determinations.retain(|one| {
            one.act.calibration == Some(*calibration) || one.act.borrowed.contains(calibration)
        });
        Ok(determinations)
    }
}

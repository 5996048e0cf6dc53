//! Withdrawing what was issued: the record stays, and a new one says that it no longer counts.

use crate::act::DeterminationAct;
use crate::act::{Act, StudyRole, Withdrawal};
use crate::error::StudyError;
use crate::hash::{Digest, Joined};
use crate::key_file::SigningPerson;
use crate::ledger::{By, Record};
use crate::numbered::Numbered;
use crate::study::Study;

impl Study {
    /// Withdraws a result, a calibration, a campaign, a key or a laboratory's results.
    ///
    /// # Errors
    /// Something that cannot be withdrawn, or was already; and the last approver's key, which [`Self::withdraw_signed`] takes.
    pub fn withdraw(&mut self, target: &Digest, by: &By) -> Result<Record, StudyError> {
        self.withdraw_for(target, None, by)
    }

    /// The same by an approver whose key signs it: so the last approver's key is withdrawn by its owner, or nobody.
    ///
    /// # Errors
    /// As [`Self::withdraw`], and a key that is no approver's in force.
    pub fn withdraw_signed(
        &mut self,
        target: &Digest,
        person: &SigningPerson,
        reason: &str,
    ) -> Result<Record, StudyError> {
        self.withdraw_for(target, Some(person), &By::new(person.name(), reason)?)
    }

    fn withdraw_for(
        &mut self,
        target: &Digest,
        person: Option<&SigningPerson>,
        by: &By,
    ) -> Result<Record, StudyError> {
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
            if person.is_none() && study.is_last_approver(&record)? {
                return Err(StudyError::not_allowed(
                    "this is the last approver's key in force: without it nothing can be approved here again, and nobody can vouch for another approver",
                    "add another approver first (`stillwell study key add --voucher`), or let its owner sign: `stillwell study withdraw --key-of NAME --as NAME --signed`",
                ));
            }
            let message = withdrawal_message(&study.own, target, by.reason());
            let signature =
                person.map(|person| study.sign(person, Some(StudyRole::Approver), &message)).transpose()?;
            study.append(transaction, by, &Act::Withdrawal(Withdrawal { target: *target, signature }))
        })
    }

    /// Whether a record is the key of the only approver whose key is in force.
    fn is_last_approver(&self, record: &Record) -> Result<bool, StudyError> {
        let mut approvers = Vec::new();
        for (known, key) in self.keys()? {
            let is_own = known.chain == self.own && key.role == StudyRole::Approver;
            if is_own && self.standing(&known)?.withdrawn.is_none() {
                approvers.push(known.hash);
            }
        }
        Ok(approvers == [record.hash])
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

/// What is signed where an approver withdraws.
pub(crate) fn withdrawal_message(chain: &Digest, target: &Digest, reason: &str) -> Digest {
    Joined::new("stillwell study withdrawal 1")
        .field(chain.as_bytes())
        .field(target.as_bytes())
        .field(reason.as_bytes())
        .digest()
}

//! A campaign: which wells are measured with which strips, by which calibration, under which limits. Its text is kept as it
//! came; an approver's key releases it.

use serde::{Deserialize, Serialize};

use crate::act::{Act, Withholding};
use crate::content::{self, Packed};
use crate::error::StudyError;
use crate::field_step::FieldStep;
use crate::hash::Digest;
use crate::ledger::{self, By, Record, said};
use crate::numbered::{Numbered, named, numbered};
use crate::study::{MethodRevision, Study};

/// A campaign as it stands in the ledger.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CampaignAct {
    /// Name.
    pub name: String,
    /// Hash of the file's text.
    pub text: Digest,
    /// Record of the method revision.
    pub revision: Digest,
    /// Records of the calibrations that its strips are read off, in the order of the text.
    pub calibrations: Vec<Digest>,
}

impl Study {
    /// Records a campaign for the current method. It may be used once an approver has approved it.
    ///
    /// # Errors
    /// A name that cannot stand in the ledger, or a calibration that is not accepted, does not count, or is of another method.
    pub fn record_campaign(
        &mut self,
        name: &str,
        text: &str,
        calibrations: &[Digest],
        by: &By,
    ) -> Result<Record, StudyError> {
        let name = said("name of the campaign", name, 200, "a short name")?;
        let revision = self.method()?;
        for calibration in calibrations {
            let record = self.must_be(calibration, "calibration")?;
            let Act::Calibration(act) = record.act()? else { continue };
            let is_of_method =
                self.method_of(&act.revision)? == crate::result::digest_of(&revision.method.hash);
            if !is_of_method || !act.result.accepted || !self.standing(&record)?.counts() {
                return Err(StudyError::not_allowed(
                    format!(
                        "the calibration {} of lot {} is of another method, was not accepted, or no longer counts",
                        calibration.short(),
                        act.result.lot
                    ),
                    "name an accepted calibration of the method in force",
                ));
            }
        }
        let packed = Packed::of(text.as_bytes())?;
        let act = CampaignAct {
            name,
            text: packed.hash,
            revision: revision.record,
            calibrations: calibrations.to_vec(),
        };
        self.write(|transaction, study| {
            content::put(transaction, &packed)?;
            study.append(transaction, by, &Act::Campaign(act))
        })
    }

    /// Every campaign, the study's own first.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn campaigns(&self) -> Result<Vec<Numbered<CampaignAct>>, StudyError> {
        numbered(self, "campaign", |act| match act {
            Act::Campaign(act) => Some(act),
            _ => None,
        })
    }

    /// The campaign that a person names: `1`, or its record's hash.
    ///
    /// # Errors
    /// No such campaign; the numbers there are.
    pub fn campaign(&self, name: &str) -> Result<Numbered<CampaignAct>, StudyError> {
        named(self.campaigns()?, "campaign", name)
    }

    /// The text of a campaign's file.
    ///
    /// # Errors
    /// A text that is damaged.
    pub fn campaign_text(&self, campaign: &CampaignAct) -> Result<String, StudyError> {
        content::text(&self.connection, &campaign.text)
    }

    /// The method revision that a campaign was recorded for.
    ///
    /// # Errors
    /// A method that is damaged.
    pub fn campaign_method(&self, campaign: &CampaignAct) -> Result<MethodRevision, StudyError> {
        self.revision(&campaign.revision)
    }

    /// Why a calibration may give no verdict to a sample measured on a day.
    ///
    /// # Errors
    /// A record that is no calibration.
    pub fn calibration_withheld(
        &self,
        calibration: &Digest,
        day: &str,
    ) -> Result<Vec<Withholding>, StudyError> {
        let record = self.must_be(calibration, "calibration")?;
        let Act::Calibration(act) = record.act()? else { return Ok(Vec::new()) };
        let kin = self.kin(&act.series, &act.result, Some(calibration))?;
        self.calibrations_withhold(Some(&record), &kin, day)
    }

    /// The last day of a calibration that is in force; none where nobody stated one.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn calibration_last_day(&self, calibration: &Digest) -> Result<Option<String>, StudyError> {
        Ok(self.last_day_in_force(calibration)?.map(|(last_day, _)| last_day))
    }

    /// The last day of a lot of electrodes by its record, where it has one.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn lot_last_day(&self, lot: &str) -> Result<Option<String>, StudyError> {
        Ok(self.lot_in_force(lot)?.map(|(_, act)| act.last_day))
    }

    /// Every step of field runs that the study's own ledger holds, in its order.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn field_steps(&self) -> Result<Vec<FieldStep>, StudyError> {
        let mut steps = Vec::new();
        for record in ledger::of_kind(&self.connection, &self.own, crate::field_desk::KIND)? {
            if record.chain == self.own
                && let Act::FieldStep(step) = record.act()?
            {
                steps.push(*step);
            }
        }
        Ok(steps)
    }
}

//! What the study says is in force: campaign, calibrations, and which strips are still free.

use std::collections::BTreeSet;

use stillwell_study::{Deed, FieldStep, StepAnswer, Study, StudyError, Word};

use crate::campaign::Strip;
use crate::desk::Field;
use crate::laboratory::World;
use crate::refusal::Refusal;

/// What the study says to a run.
pub(crate) struct InForce<'a> {
    pub(crate) study: &'a Study,
    pub(crate) field: &'a Field,
    pub(crate) run: &'a str,
}

impl InForce<'_> {
    fn campaign(&self, day: &str) -> Result<Option<Refusal>, StudyError> {
        let (study, field) = (self.study, self.field);
        let standing = study.standing(&study.record(field.record_hash())?)?;
        if standing.withdrawn.is_some()
            || matches!(standing.approval, Some((Word::Refused, _)))
            || study.method()?.record != *field.revision()
        {
            return Ok(Some(Refusal::CampaignWithdrawn));
        }
        if !standing.is_approved() {
            return Ok(Some(Refusal::CampaignNotApproved));
        }
        let last_day = &field.campaign().last_day;
        let is_over = day > last_day.as_str();
        Ok(is_over.then(|| Refusal::CampaignOver { last_day: last_day.clone() }))
    }

    fn calibration(&self, strip: &Strip, day: &str) -> Result<Option<Refusal>, StudyError> {
        let study = self.study;
        let not_in_force = Some(Refusal::CalibrationNotInForce { lot: strip.lot.code.clone() });
        let Some(calibration) = self.field.calibration_of(&strip.lot) else {
            return Ok(not_in_force);
        };
        let standing = study.standing(&study.record(calibration)?)?;
        if !standing.is_approved() || !study.calibration_withheld(calibration, day)?.is_empty() {
            return Ok(not_in_force);
        }
        let last_day = study.lot_last_day(&strip.lot.lot)?.filter(|last_day| day > last_day.as_str());
        Ok(last_day.map(|last_day| Refusal::StripExpired { strip: strip.code(), last_day }))
    }

    /// Whether a run of the field used the strip or holds it. Only runs that name its number are looked at.
    fn is_used_in_the_field(&self, strip: &Strip) -> Result<bool, StudyError> {
        let is_it = |step: &FieldStep| is_choice_of(&step.deed, strip);
        let named = self.study.field_steps_holding(&format!("\"number\":{}", strip.number))?;
        let runs: BTreeSet<String> = named.into_iter().filter(is_it).map(|step| step.run).collect();
        for run in runs {
            if keeps(&self.study.field_steps_of(&run)?, strip, run == self.run) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Whether a run sheet of the desk names the strip: `L21-7`, `L21-07` and `7` all name number 7 of lot L21.
    fn is_used_at_the_desk(&self, strip: &Strip) -> Result<bool, StudyError> {
        let (lot, number) = (strip.lot.lot.as_str(), strip.number);
        self.study.desk_names_electrode(&number.to_string(), |of_lot, electrode| {
            let rest = electrode.strip_prefix(lot);
            // A desk without lots writes the lot before the number; with lots, it may leave it out there.
            let is_of_lot = of_lot == lot || (of_lot.is_empty() && rest.is_some());
            let digits = rest.unwrap_or(electrode).trim_start_matches([' ', '-', '_', '/', '#']);
            is_of_lot && digits.parse() == Ok(number)
        })
    }
}

/// What cannot be read is not in force.
fn or_refused(found: Result<Option<Refusal>, StudyError>, otherwise: Refusal) -> Result<(), Refusal> {
    match found {
        Ok(None) => Ok(()),
        Ok(Some(refusal)) => Err(refusal),
        Err(_unreadable) => Err(otherwise),
    }
}

impl World for InForce<'_> {
    fn campaign_in_force(&self, day: &str) -> Result<(), Refusal> {
        or_refused(self.campaign(day), Refusal::CampaignWithdrawn)
    }

    fn calibration_in_force(&self, strip: &Strip, day: &str) -> Result<(), Refusal> {
        let otherwise = Refusal::CalibrationNotInForce { lot: strip.lot.code.clone() };
        or_refused(self.calibration(strip, day), otherwise)
    }

    fn strip_is_free(&self, strip: &Strip) -> bool {
        let is_used = self.is_used_in_the_field(strip);
        is_used.is_ok_and(|used| !used) && self.is_used_at_the_desk(strip).is_ok_and(|used| !used)
    }
}

fn is_choice_of(deed: &Deed, strip: &Strip) -> bool {
    matches!(deed, Deed::Strip { lot, number }
        if *number == strip.number && lot.eq_ignore_ascii_case(&strip.lot.code))
}

/// Whether a run rinsed the strip, or is another one that holds it and is not closed.
fn keeps(steps: &[FieldStep], strip: &Strip, is_own: bool) -> bool {
    let mut holds = false;
    for step in steps.iter().filter(|step| matches!(step.answer, StepAnswer::Taken { .. })) {
        match &step.deed {
            deed @ Deed::Strip { .. } => holds = is_choice_of(deed, strip),
            Deed::Rinse if holds => return true,
            Deed::Abandon { .. } | Deed::Overdue => holds = false,
            _ => {}
        }
    }
    holds && !is_own
}

//! A result as a reader may see it: what stands on record, and why no verdict may be drawn from it today.

use std::collections::BTreeMap;

use stillwell_method::Finding;

use crate::act::{DeterminationAct, Withholding};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::numbered::Numbered;
use crate::study::Study;

/// A result on record, and why no verdict may be drawn from it today.
#[derive(Debug, Clone)]
pub struct Shown {
    /// What stands on record.
    pub one: Numbered<DeterminationAct>,
    /// What withholds its verdict today.
    pub today: Vec<Withholding>,
    /// Number and standing of its calibration, where that is not approved.
    pub unapproved_calibration: Option<(String, &'static str)>,
}

impl Shown {
    /// Results with what withholds their verdicts today.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn all(study: &Study, results: Vec<Numbered<DeterminationAct>>) -> Result<Vec<Self>, StudyError> {
        let today = study.withheld_today(results.iter().map(|one| &one.act))?;
        let calibrations = study.calibrations()?;
        let unapproved: BTreeMap<Digest, (String, &'static str)> = calibrations
            .into_iter()
            .filter(|one| !one.standing.is_approved())
            .map(|one| (one.record.hash, (one.label, one.standing.word())))
            .collect();
        let shown = results.into_iter().zip(today).map(|(one, today)| {
            let calibration = one.act.calibration.as_ref().and_then(|hash| unapproved.get(hash).cloned());
            Self { one, today, unapproved_calibration: calibration }
        });
        Ok(shown.collect())
    }

    /// Results that somebody took back, where nothing took their place and no later result of that sample counts: the water
    /// counts as unknown.
    pub fn no_longer_counting(results: &[Self]) -> Vec<&Self> {
        let is_measured_again = |old: &Self| {
            let (sample, role) = (&old.one.act.result.sample, &old.one.act.result.role);
            results.iter().any(|new| {
                new.one.standing.counts()
                    && (&new.one.act.result.sample, &new.one.act.result.role) == (sample, role)
                    && new.one.record.at_utc > old.one.record.at_utc
            })
        };
        let unknown = |one: &&Self| one.one.standing.leaves_unknown() && !is_measured_again(one);
        results.iter().filter(unknown).collect()
    }

    /// Whether chain or study withhold the verdict, then or today.
    pub fn is_withheld(&self) -> bool {
        !self.today.is_empty()
            || (self.one.act.verdicts().is_empty() && !self.one.act.result.decisions.is_empty())
    }

    /// Why the verdict is withheld, each reason once.
    pub fn reasons(&self) -> Vec<String> {
        let act = &self.one.act;
        let of_study = act.withheld.iter().chain(&self.today).map(Withholding::found);
        let of_chain = act.result.findings.iter().filter(|finding| finding.is_withholding());
        let mut reasons: Vec<String> = Vec::new();
        for reason in of_study.chain(of_chain.map(|finding| finding.found.clone())) {
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
        reasons
    }

    /// The study's reasons as findings, each once.
    pub fn findings(&self) -> Vec<Finding> {
        let mut all: Vec<Finding> = Vec::new();
        for why in self.one.act.withheld.iter().chain(&self.today) {
            let finding = why.finding(&self.one.act.result.sample);
            if !all.contains(&finding) {
                all.push(finding);
            }
        }
        all
    }

    /// Whether it counts and is anything but approved and below every limit.
    pub fn needs_attention(&self) -> bool {
        let act = &self.one.act;
        let is_below = !act.verdicts().is_empty() && act.verdicts().iter().all(|one| one.code == "below");
        let standing = &self.one.standing;
        if standing.withdrawn.is_some() || standing.replaced_by.is_some() {
            return false;
        }
        !standing.is_approved()
            || self.unapproved_calibration.is_some()
            || !is_below
            || self.is_withheld()
            || act.result.numbers.is_none()
    }
}

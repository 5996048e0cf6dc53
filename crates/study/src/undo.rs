//! Undoing an exclusion or an override: a new record says that it no longer holds; what was recorded before stays.

use std::collections::BTreeSet;

use crate::act::{Act, AsOf, Undo};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, By, Record};
use crate::study::Study;

impl Study {
    /// Undoes an exclusion or an override, also one that stood in the run sheet from the start.
    ///
    /// # Errors
    /// Something else, or what was undone before.
    pub fn undo(&mut self, target: &Digest, by: &By) -> Result<Record, StudyError> {
        self.write(|transaction, study| {
            let record = study.record(target)?;
            if !matches!(record.kind.as_str(), "exclusion" | "override") {
                return Err(StudyError::not_allowed(
                    format!("a {} cannot be undone", record.kind),
                    "name an exclusion or an override; results, calibrations and keys are withdrawn",
                ));
            }
            if study.undone(None)?.contains(target) {
                return Err(StudyError::not_allowed("it was undone already", "nothing needs to be done"));
            }
            study.append(transaction, by, &Act::Undo(Undo { target: *target }))
        })
    }

    /// Exclusions and overrides of a series that hold now, in the order of the ledger.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn amendments(&self, series: &Digest) -> Result<Vec<(Record, Act)>, StudyError> {
        let undone = self.undone(None)?;
        let mut found = Vec::new();
        for kind in ["exclusion", "override"] {
            for record in ledger::of_kind(&self.connection, &self.own, kind)? {
                let act = record.act()?;
                let is_of_series = matches!(&act, Act::Exclusion(act) if act.series == *series)
                    || matches!(&act, Act::Override(act) if act.series == *series);
                if is_of_series && !undone.contains(&record.hash) {
                    found.push((record, act));
                }
            }
        }
        Ok(found)
    }

    /// Records that were undone; with `as_of`, only by what had been recorded up to there.
    pub(crate) fn undone(&self, as_of: Option<&[AsOf]>) -> Result<BTreeSet<Digest>, StudyError> {
        let counts = |record: &Record| {
            as_of.is_none_or(|limits| {
                limits.iter().any(|limit| limit.chain == record.chain && record.seq <= limit.seq)
            })
        };
        let mut undone = BTreeSet::new();
        for record in ledger::of_kind(&self.connection, &self.own, "undo")?.iter().filter(|one| counts(one)) {
            if let Act::Undo(act) = record.act()? {
                undone.insert(act.target);
            }
        }
        Ok(undone)
    }
}

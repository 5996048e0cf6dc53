//! The record of an electrode lot: signed, and apart from the method, so that a new lot never means a new method.

use crate::act::{Act, Lot, Signature};
use crate::day::day;
use crate::error::StudyError;
use crate::hash::{Digest, Joined};
use crate::key_file::SigningPerson;
use crate::ledger::{self, By, Record, said};
use crate::study::Study;

/// No electrode of this kind gives more, by far: sensitivities per unit and blanks lie below 1e-3 A. Common practice, no source.
const MAX_CURRENT_A: f64 = 1.0;

/// What is known of a lot, before it is signed.
#[derive(Debug, Clone, PartialEq)]
pub struct LotStatement {
    /// Identity of the lot, as the run sheet has it.
    pub lot: String,
    /// What it is of and who made it, in words.
    pub identity: String,
    /// Last day of use, `2027-03-31`.
    pub last_day: String,
    /// How it is to be stored.
    pub storage: String,
    /// Stated sensitivity, A per unit of the method's results.
    pub sensitivity_a_per_unit: Option<f64>,
    /// Stated signal of the blank, A.
    pub blank_a: Option<f64>,
}

impl Study {
    /// Records what is known of a lot, signed by someone whose key the study knows. The last record counts; a later last day
    /// than the one in force counts only where an approver signed it.
    ///
    /// # Errors
    /// A blank field, a day that is none, a number that is not finite, or a key that the study does not know.
    pub fn record_lot(
        &mut self,
        lot: &LotStatement,
        person: &SigningPerson,
        reason: &str,
    ) -> Result<Record, StudyError> {
        let by = By::new(person.name(), reason)?;
        let numbers = [lot.sensitivity_a_per_unit, lot.blank_a];
        if numbers.iter().flatten().any(|number| number.is_nan() || number.abs() > MAX_CURRENT_A) {
            return Err(StudyError::not_allowed(
                "a number that no electrode gives",
                "state it in ampere, not beyond 1 A, or leave it out",
            ));
        }
        if lot.sensitivity_a_per_unit.is_some_and(|sensitivity| sensitivity <= 0.0) {
            return Err(StudyError::not_allowed(
                "a sensitivity is above 0: the size of the signal, whichever way the current flows",
                "state it without its sign, or leave it out",
            ));
        }
        let mut act = Lot {
            lot: said("lot", &lot.lot, 200, "the lot as the run sheet has it")?,
            identity: said("identity", &lot.identity, 500, "what the lot is of")?,
            last_day: day("last day", &lot.last_day)?,
            storage: said("storage", &lot.storage, 500, "how it is to be stored")?,
            sensitivity_a_per_unit: lot.sensitivity_a_per_unit,
            blank_a: lot.blank_a,
            signature: Signature { key: Digest::NOTHING, signature: String::new() },
        };
        self.write(|transaction, study| {
            act.signature = study.sign(person, None, &lot_message(&study.own, &act))?;
            study.append(transaction, &by, &Act::Lot(act))
        })
    }
}

/// What is signed: every field, and the study.
pub(crate) fn lot_message(chain: &Digest, lot: &Lot) -> Digest {
    let bits = |number: Option<f64>| {
        number.map_or_else(|| "none".to_owned(), |number| format!("{:016x}", number.to_bits()))
    };
    Joined::new("stillwell study lot 1")
        .field(chain.as_bytes())
        .field(lot.lot.as_bytes())
        .field(lot.identity.as_bytes())
        .field(lot.last_day.as_bytes())
        .field(lot.storage.as_bytes())
        .field(bits(lot.sensitivity_a_per_unit).as_bytes())
        .field(bits(lot.blank_a).as_bytes())
        .digest()
}

impl Study {
    /// The last record of a lot, with the last day that is in force: a later one counts only by an approver's signature, an
    /// earlier one by anybody's.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn lot_in_force(&self, lot: &str) -> Result<Option<(Record, Lot)>, StudyError> {
        Ok(self.lots(lot)?.pop())
    }

    /// The records of a lot, each with the last day in force after it.
    pub(crate) fn lots(&self, lot: &str) -> Result<Vec<(Record, Lot)>, StudyError> {
        let mut all: Vec<(Record, Lot)> = Vec::new();
        if lot.is_empty() {
            return Ok(all);
        }
        for record in ledger::about(&self.connection, lot, "lot")? {
            let Act::Lot(mut act) = record.act()? else { continue };
            if let Some((_, before)) = all.last()
                && before.last_day < act.last_day
                && !self.is_approvers(&record, &act.signature, &lot_message(&record.chain, &act))?
            {
                act.last_day.clone_from(&before.last_day);
            }
            all.push((record, act));
        }
        Ok(all)
    }
}

//! What the state machine asks of others: whether something is in force, and what a scan shows.

use stillwell_study::{StepAnswer, StepSeen};

use crate::campaign::{Known, Strip, Well};
use crate::error::FieldError;
use crate::refusal::Refusal;
use crate::strip::{Measured, Purpose};

/// What is in force now.
pub trait World {
    /// Whether the campaign may be used on a day.
    ///
    /// # Errors
    /// Why not.
    fn campaign_in_force(&self, day: &str) -> Result<(), Refusal>;

    /// Whether the calibration of a strip may be used on a day.
    ///
    /// # Errors
    /// Why not.
    fn calibration_in_force(&self, strip: &Strip, day: &str) -> Result<(), Refusal>;

    /// Whether no run used the strip or holds it.
    fn strip_is_free(&self, strip: &Strip) -> bool;
}

/// What a scan shows.
pub trait Laboratory {
    /// Looks at a file before it counts: whether it can be read, holds what it should and is new.
    ///
    /// # Errors
    /// Why it is not taken.
    fn take_file(&self, expected_scans: usize) -> Result<(), Refusal>;

    /// What a measured strip shows, for its purpose. It is the only source of "alive", of "done" and of "once more".
    ///
    /// # Errors
    /// A study that cannot be read or written.
    fn look(
        &mut self,
        well: &Known<Well>,
        purpose: &Purpose,
        measured: &Measured,
    ) -> Result<StepSeen, FieldError>;
}

/// A step that is on record: nothing is asked again.
pub(crate) struct Recorded<'a>(pub(crate) &'a StepAnswer);

impl World for Recorded<'_> {
    fn campaign_in_force(&self, _: &str) -> Result<(), Refusal> {
        Ok(())
    }

    fn calibration_in_force(&self, _: &Strip, _: &str) -> Result<(), Refusal> {
        Ok(())
    }

    fn strip_is_free(&self, _: &Strip) -> bool {
        true
    }
}

impl Laboratory for Recorded<'_> {
    fn take_file(&self, _: usize) -> Result<(), Refusal> {
        Ok(())
    }

    fn look(&mut self, _: &Known<Well>, _: &Purpose, _: &Measured) -> Result<StepSeen, FieldError> {
        match self.0 {
            StepAnswer::Taken { seen: Some(seen) } => Ok(seen.clone()),
            _ => Err(FieldError::Ledger {
                found: "a file was taken without a word on what it shows".to_owned(),
            }),
        }
    }
}

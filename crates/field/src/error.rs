//! What can go wrong beside the operator's steps.

use stillwell_method::Problems;
use stillwell_study::StudyError;

/// Why nothing was done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FieldError {
    /// The study.
    #[error(transparent)]
    Study(#[from] StudyError),
    /// The campaign's file.
    #[error(transparent)]
    Campaign(#[from] Problems),
    /// The ledger holds what this room cannot have written.
    #[error(
        "the ledger's field runs do not hold together: {found}\n  cure: `stillwell study verify` names the first record that is damaged"
    )]
    Ledger {
        /// What was found.
        found: String,
    },
    /// A name that no device of ours gives.
    #[error("{what}: \"{found}\" is not taken\n  cure: 8 to 64 letters, digits and hyphens, drawn at random")]
    Name {
        /// Which name.
        what: &'static str,
        /// What was found.
        found: String,
    },
    /// The campaign and the study do not fit.
    #[error("{found}\n  cure: {cure}")]
    DoesNotFit {
        /// What does not.
        found: String,
        /// What to do.
        cure: String,
    },
    /// A text that is missing.
    #[error("the texts in {language} are not sound: {found}")]
    Text {
        /// The language.
        language: &'static str,
        /// What was found.
        found: String,
    },
}

//! Why nothing can be foreseen: what was found, and what would be accepted.

use stillwell_method::Problems;
use stillwell_quantity::QuantityError;
use stillwell_twin::TwinError;

use crate::vary::VaryError;

/// Why nothing can be foreseen.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ForeseeError {
    /// The twin refuses a cell, a circuit or the method's technique.
    #[error("{what} cannot be simulated: {source}")]
    Twin {
        /// Which scan.
        what: String,
        /// Why.
        source: TwinError,
    },
    /// A level of the method has no amount of substance.
    #[error("a level in {unit} cannot be turned into an amount of substance: {source}")]
    Level {
        /// The method's unit and species.
        unit: String,
        /// Why.
        source: Box<QuantityError>,
    },
    /// What was written down does not hold together; this is a fault of this room, not of the user.
    #[error("the simulated folder does not hold together:\n{0}")]
    Content(#[from] Problems),
    /// The method asks for a technique that the twin does not simulate.
    #[error("the method's technique is {kind}; accepted here: every technique that records a current")]
    NoCurrent {
        /// As the method has it.
        kind: &'static str,
    },
    /// A number lies out of its range.
    #[error("{what} is {found}; accepted: {accepted}")]
    OutOfRange {
        /// Which number.
        what: &'static str,
        /// As given.
        found: f64,
        /// The range.
        accepted: &'static str,
    },
    /// More scans than one run should make.
    #[error(
        "this would simulate {found} scans; at most {at_most} are made in one run: fewer levels, replicates or trials"
    )]
    TooMany {
        /// So many.
        found: usize,
        /// The limit.
        at_most: usize,
    },
    /// A circuit cannot be varied so.
    #[error(transparent)]
    Vary(#[from] VaryError),
    /// One key, two lists of values.
    #[error("`{key}` is varied twice; name each key once, with all its values")]
    VariedTwice {
        /// The key.
        key: &'static str,
    },
    /// More circuits than one study compares.
    #[error(
        "these values make {found} circuits; at most {at_most} are compared in one study: fewer values or keys"
    )]
    GridTooLarge {
        /// So many.
        found: usize,
        /// The limit.
        at_most: usize,
    },
}

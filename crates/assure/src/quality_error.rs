//! Every refusal about control charts, lots, validation, comparison and sensors, and its wording.

use stillwell_stats::StatsError;
use thiserror::Error;

/// Why something about quality over time was not computed.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum QualityError {
    /// Fewer values than the computation takes.
    #[error("{what}: {found} found, {needed} needed")]
    TooFew {
        /// What there are too few of.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many are needed.
        needed: usize,
    },
    /// A value that is none.
    #[error("{what}: value {place} is not a finite number")]
    NotFinite {
        /// Which list.
        what: &'static str,
        /// Its place, counted from 1.
        place: usize,
    },
    /// Values that do not differ at all.
    #[error(
        "{what} do not differ at all, so nothing can be said of their spread; look for a stuck reading or rounded numbers"
    )]
    NoSpread {
        /// Which values.
        what: &'static str,
    },
    /// More bounds than numbers.
    #[error(
        "{what}: {bounds} points are only known as a bound such as \"less than\" and {found} are numbers; at least as many numbers as bounds are needed, for a bound counts neither as zero nor as half: take the reading itself, before it is called \"less than\""
    )]
    MostlyBounds {
        /// Which values.
        what: &'static str,
        /// How many are numbers.
        found: usize,
        /// How many are bounds.
        bounds: usize,
    },
    /// A setting outside its range.
    #[error("{what} is {found}; accepted: {accepted}")]
    Unusable {
        /// Which setting.
        what: &'static str,
        /// As found.
        found: f64,
        /// What is accepted.
        accepted: &'static str,
    },
    /// Two lists that belong together are of different length.
    #[error("{what}: {found} values, but {expected} belong to them")]
    LengthMismatch {
        /// Which list.
        what: &'static str,
        /// Its length.
        found: usize,
        /// The length of the other.
        expected: usize,
    },
    /// Times that do not rise.
    #[error(
        "{what}: time {place} does not come after the one before it; sort the values and give each time once"
    )]
    TimesNotRising {
        /// Which list.
        what: &'static str,
        /// The place, counted from 1.
        place: usize,
    },
    /// A statistic refused its values.
    #[error(transparent)]
    Stats(#[from] StatsError),
}

/// Refuses a list that holds something else than finite numbers.
pub(crate) fn must_be_finite(what: &'static str, values: &[f64]) -> Result<(), QualityError> {
    match values.iter().position(|value| !value.is_finite()) {
        Some(at) => Err(QualityError::NotFinite { what, place: at + 1 }),
        None => Ok(()),
    }
}

/// Refuses a list that is too short.
pub(crate) fn must_have(what: &'static str, found: usize, needed: usize) -> Result<(), QualityError> {
    if found < needed { Err(QualityError::TooFew { what, found, needed }) } else { Ok(()) }
}

/// Refuses a setting that does not lie strictly between two numbers.
pub(crate) fn must_lie_between(
    what: &'static str,
    found: f64,
    (low, high): (f64, f64),
    accepted: &'static str,
) -> Result<(), QualityError> {
    if found > low && found < high { Ok(()) } else { Err(QualityError::Unusable { what, found, accepted }) }
}

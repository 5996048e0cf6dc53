//! Why a set of standards cannot be prepared, with what was found and what would be accepted.

/// Why no bench sheet was made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PreparationError {
    /// A number of the bench, the stock or the demands is not usable.
    #[error("{what} is {found}; {accepted} is accepted")]
    NotUsable {
        /// Which number.
        what: &'static str,
        /// What was found.
        found: f64,
        /// What would be accepted.
        accepted: &'static str,
    },
    /// Nothing at hand of one kind.
    #[error("there is no {what} at hand; name at least one")]
    NothingAtHand {
        /// Flask, pipette or level.
        what: &'static str,
    },
    /// A volume that the table of class A tolerances does not hold.
    #[error(
        "class A has no {what} of {volume_ml} mL in the table; state its tolerance, or use one of {known}"
    )]
    NotInTable {
        /// Flask, pipette or piston pipette.
        what: &'static str,
        /// The volume.
        volume_ml: f64,
        /// Volumes in the table.
        known: String,
    },
    /// No dilution meets the level.
    #[error(
        "level {level} mg/L cannot be met within {tolerance_percent} % with these flasks and pipettes and at most one intermediate solution; name an adjustable pipette or further glassware, or change the level"
    )]
    LevelNotMet {
        /// The level.
        level: f64,
        /// How far the level prepared may lie from the one wanted, in %.
        tolerance_percent: f64,
    },
    /// The level can be met, but not this accurately.
    #[error(
        "level {level} mg/L cannot be prepared with a relative standard uncertainty of {allowed_percent} %: the best of these flasks, pipettes and stock gives {best_percent:.2} %"
    )]
    NotAccurateEnough {
        /// The level.
        level: f64,
        /// Largest relative standard uncertainty allowed, in %.
        allowed_percent: f64,
        /// Smallest that was found, in %.
        best_percent: f64,
    },
    /// Each level can be prepared, but not all from one stock.
    #[error(
        "each level can be prepared by itself, but not all from one stock and at most one intermediate solution; prepare them in two sets, or name further glassware"
    )]
    NotTogether,
    /// The numbers leave the range of 64-bit floats.
    #[error("the numbers leave the range of 64-bit floats; check the units")]
    OutOfRange,
}

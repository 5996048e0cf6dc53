//! Why no design is proposed, with what was found and what would be accepted.

use super::Limiting;

/// Why no design was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// A number of the components or the demands is not usable.
    #[error("{what} is {found}; {accepted} is accepted")]
    NotUsable {
        /// Which number.
        what: &'static str,
        /// What was found.
        found: f64,
        /// What would be accepted.
        accepted: &'static str,
    },
    /// The calibration cannot tell how electrodes differ.
    #[error("no level of the calibration has two electrodes; nothing is known of how electrodes differ")]
    ElectrodesUnknown,
    /// What replicates cannot shrink is already too much.
    #[error(
        "no number of replicates reaches {target_percent} %: what replicates cannot shrink gives {floor_percent:.2} % by itself"
    )]
    NoReplicatesReach {
        /// Expanded relative uncertainty asked for, in %.
        target_percent: f64,
        /// Expanded relative uncertainty with replicates without end, in %.
        floor_percent: f64,
        /// The largest part of it.
        cause: Limiting,
        /// That part alone, expanded, in %.
        cause_percent: f64,
    },
    /// The largest design allowed is not enough.
    #[error(
        "{most_strips} strips are not enough for {target_percent} %: the best design within them gives {best_percent:.2} %; allow more, or accept more"
    )]
    NotWithinMost {
        /// Expanded relative uncertainty asked for, in %.
        target_percent: f64,
        /// The best that was found, in %.
        best_percent: f64,
        /// Most strips allowed.
        most_strips: u32,
        /// What limits the best one.
        cause: Limiting,
    },
}

//! Why a scan cannot be simulated: what was found, where, and what would be accepted.

use stillwell_scan::TechniqueIncomplete;

/// Why a scan cannot be simulated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TwinError {
    /// A number of the cell lies outside its range or is not finite.
    #[error("{what} is {found}; accepted: {accepted}")]
    OutOfRange {
        /// Which number of which part.
        what: String,
        /// As given.
        found: f64,
        /// The range.
        accepted: &'static str,
    },
    /// A couple or reaction points at a species that the cell does not have.
    #[error("{what} names species {index}, but the cell has {n_species} (numbered from 0)")]
    SpeciesMissing {
        /// Which couple or reaction.
        what: String,
        /// The index it names.
        index: usize,
        /// How many there are.
        n_species: usize,
    },
    /// A couple or reaction leads from a species to itself.
    #[error("{what} leads from species {index} to itself; two different species are needed")]
    SameSpecies {
        /// Which couple or reaction.
        what: String,
        /// The species.
        index: usize,
    },
    /// Too many couples.
    #[error("the cell has {found} couples; at most {at_most} are coupled at one surface")]
    TooManyCouples {
        /// As given.
        found: usize,
        /// The limit.
        at_most: usize,
    },
    /// A film and the solution cannot react in their bulk.
    #[error(
        "reaction {reaction} leads from a film to the solution or to another film; both species must share a medium"
    )]
    ReactionBetweenMedia {
        /// Index of the reaction.
        reaction: usize,
    },
    /// Reactions run in a circle.
    #[error(
        "the reactions of species {species} lead back to it; first-order reactions must not form a circle"
    )]
    ReactionCircle {
        /// Index of a species on the circle.
        species: usize,
    },
    /// The technique lacks a value.
    #[error(transparent)]
    Technique(#[from] TechniqueIncomplete),
    /// Start and end of a sweep are the same, or closer than half a step.
    #[error(
        "the window from {start_v} V to {end_v} V holds no step; its ends must lie at least one step apart"
    )]
    WindowEmpty {
        /// Start.
        start_v: f64,
        /// End.
        end_v: f64,
    },
    /// More points than one scan may have.
    #[error("the technique has {found} points or more; at most {at_most} are simulated in one scan")]
    TooManyPoints {
        /// At least so many.
        found: usize,
        /// The limit.
        at_most: usize,
    },
    /// A pulse does not fit its period.
    #[error("a pulse of {pulse_s} s does not fit its period of {period_s} s; it must be shorter")]
    PulseTooLong {
        /// The pulse.
        pulse_s: f64,
        /// The period.
        period_s: f64,
    },
    /// The points of a chronoamperogram do not fit its duration.
    #[error(
        "{duration_s} s in intervals of {interval_s} s is no scan; 1 to {at_most} intervals are accepted"
    )]
    IntervalImpossible {
        /// From point to point.
        interval_s: f64,
        /// The whole.
        duration_s: f64,
        /// The limit of points.
        at_most: usize,
    },
    /// The sampling window is negative or longer than nine tenths of the shortest pulse.
    #[error(
        "a sampling window of {window_s} s; accepted here: 0 to {at_most_s} s, nine tenths of the shortest pulse"
    )]
    SamplingWindowImpossible {
        /// As given.
        window_s: f64,
        /// The longest that would do.
        at_most_s: f64,
    },
    /// The division of space cannot follow a reaction.
    #[error(
        "reaction {reaction} at {rate_per_s} per second has a layer of {layer_m} m, finer than this grid can follow; \
         accepted with these steps: up to {at_most_per_s} per second"
    )]
    StepsTooCoarse {
        /// Index of the reaction.
        reaction: usize,
        /// Its rate at this temperature.
        rate_per_s: f64,
        /// √(D/k).
        layer_m: f64,
        /// The fastest rate accepted.
        at_most_per_s: f64,
    },
    /// The calculation would be larger than one scan should be.
    #[error(
        "{n_steps} time steps on {n_nodes} grid nodes; at most {at_most} in product: use fewer points or a coarser resolution"
    )]
    TooLarge {
        /// Time steps.
        n_steps: usize,
        /// Nodes of all species.
        n_nodes: usize,
        /// The limit.
        at_most: usize,
    },
    /// An edge gives currents beyond all cells.
    #[error(
        "at {time_s} s the solvent's edge gives {density_a_per_m2:e} A/m2 at {potential_v} V; up to {at_most_a_per_m2:e} \
         A/m2 is accepted: keep the technique away from the edge"
    )]
    BeyondEdge {
        /// When, from the start of the scan; negative in deposition and rest.
        time_s: f64,
        /// Potential across the double layer.
        potential_v: f64,
        /// What the edge gives there.
        density_a_per_m2: f64,
        /// The limit.
        at_most_a_per_m2: f64,
    },
    /// The search for the potential behind the resistance did not end.
    #[error(
        "at {time_s} s and {applied_v} V the circuit does not settle: {mismatch_v} V are left; nothing is returned"
    )]
    NotConverged {
        /// When.
        time_s: f64,
        /// Potential applied.
        applied_v: f64,
        /// The smallest mismatch seen.
        mismatch_v: f64,
    },
    /// Two couples share a species and are both so fast that double precision cannot tell their fluxes apart.
    #[error(
        "at {time_s} s and {applied_v} V two couples of one species are so fast that their shares cannot be told apart; \
         accepted: lower rate constants, or potentials nearer to the formal potentials (some 2 V)"
    )]
    FluxesUndetermined {
        /// When.
        time_s: f64,
        /// Potential applied.
        applied_v: f64,
    },
}

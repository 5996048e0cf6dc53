//! Why a standard addition gives no number, with what was found and what would be accepted.

use stillwell_stats::StatsError;

/// Why no standard addition, or no comparison with the external calibration, was made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AdditionError {
    /// A coverage that makes no interval.
    #[error("a coverage of {found} makes no interval; give one from 0.5 to 0.9999, usually 0.95")]
    CoverageNotUsable {
        /// What was asked for.
        found: f64,
    },
    /// A setting of the comparison is not usable.
    #[error("{setting} is {found}; {accepted} is accepted")]
    SettingNotUsable {
        /// The setting.
        setting: &'static str,
        /// Its value.
        found: f64,
        /// What would be accepted.
        accepted: &'static str,
    },
    /// A number of a scan is not usable.
    #[error("{label}: the {what} is {found}; {accepted} is needed")]
    NotUsable {
        /// Which scan.
        label: String,
        /// Which of its numbers.
        what: &'static str,
        /// What was found.
        found: f64,
        /// What would be accepted.
        accepted: &'static str,
    },
    /// A scan names no electrode, so scans cannot be told from electrodes.
    #[error("{label}: no electrode is named; name it, since several scans of one electrode count as one")]
    ElectrodeNotNamed {
        /// Which scan.
        label: String,
    },
    /// An exclusion without a reason.
    #[error("{label} is excluded without a reason; say why, or take it in again")]
    ExclusionWithoutReason {
        /// Which scan.
        label: String,
    },
    /// More scans are excluded than the settings allow.
    #[error(
        "{excluded} of {total} scans are excluded, more than the allowed fraction {allowed}; measure new ones instead of choosing among these"
    )]
    TooManyExcluded {
        /// Scans excluded.
        excluded: usize,
        /// All scans.
        total: usize,
        /// Largest fraction that may be excluded.
        allowed: f64,
    },
    /// Too few different additions.
    #[error(
        "{found} different additions, the sample without addition included, carry no line; at least {needed} are needed"
    )]
    TooFewAdditions {
        /// Different additions found.
        found: usize,
        /// Additions needed.
        needed: usize,
    },
    /// The sample without an addition was not measured.
    #[error(
        "the sample was not measured without an addition (the smallest addition is {smallest}); measure it, since the result hangs on that end of the line"
    )]
    SampleItselfMissing {
        /// Smallest addition found.
        smallest: f64,
    },
    /// Too few electrodes for the claim.
    #[error(
        "{found} electrode(s) followed through the additions cannot show how electrodes differ; at least {needed} are needed, 3 or more are better"
    )]
    TooFewElectrodes {
        /// Electrodes found.
        found: usize,
        /// Electrodes needed.
        needed: usize,
    },
    /// Some electrodes saw one addition, others several.
    #[error(
        "electrode {single} saw one addition, electrode {followed} several; either follow each electrode through the additions, or take a fresh one for each: the two designs have different spreads and do not mix"
    )]
    DesignsMixed {
        /// An electrode with one addition.
        single: String,
        /// An electrode with several.
        followed: String,
    },
    /// A followed electrode lacks additions.
    #[error(
        "electrode {electrode} was followed through {found} additions; each followed electrode needs at least {needed}, the sample without addition included"
    )]
    FollowedTooShort {
        /// The electrode.
        electrode: String,
        /// Different additions it saw.
        found: usize,
        /// Additions needed.
        needed: usize,
    },
    /// Weights by the signal are impossible where the line is not positive.
    #[error(
        "weights of constant relative spread need a positive signal; the line gives {fitted_signal_a} A at an addition of {added}"
    )]
    SignalNotPositive {
        /// The addition.
        added: f64,
        /// The fitted signal.
        fitted_signal_a: f64,
    },
    /// An addition has no standard deviation given, or one that is not positive.
    #[error("no positive standard deviation is given for the addition {added}; give one for each addition")]
    AdditionWithoutDeviation {
        /// The addition.
        added: f64,
    },
    /// The signal falls with the addition.
    #[error(
        "the signal falls with the addition (slope {slope_a_per_level} A per level unit): this is no answer to the analyte"
    )]
    SlopeNegative {
        /// The slope.
        slope_a_per_level: f64,
    },
    /// The slope cannot be told from zero, so the interval reaches to infinity.
    #[error(
        "the interval is unbounded: the slope {slope_a_per_level} A per level unit has t = {t} where {t_needed} is needed; add more, or measure more electrodes"
    )]
    Unbounded {
        /// The slope.
        slope_a_per_level: f64,
        /// Slope over its standard error.
        t: f64,
        /// What it must exceed.
        t_needed: f64,
    },
    /// The signals follow the line exactly, so no uncertainty can be derived from them.
    #[error(
        "the signals scatter by {scatter_a} A beside signals of {largest_signal_a} A: such signals were computed, not measured, and carry no uncertainty"
    )]
    NoScatter {
        /// What was found.
        scatter_a: f64,
        /// The largest signal, without sign.
        largest_signal_a: f64,
    },
    /// The external calibration is no straight line with intercept, so it has no one slope.
    #[error("the external calibration is a {model}; slopes are compared with a straight line with intercept")]
    ExternalNotALine {
        /// The model found.
        model: crate::Model,
    },
    /// The numbers leave the range of 64-bit floats.
    #[error("the fit leaves the range of 64-bit numbers; check the units of additions and signals")]
    OutOfRange,
    /// The fit itself was refused.
    #[error("the line cannot be fitted: {0}")]
    Fit(#[from] StatsError),
}

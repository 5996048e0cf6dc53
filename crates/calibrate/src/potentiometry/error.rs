//! Why potentials give no number, with what was found and what would be accepted.

use stillwell_evaluate::InverseFault;
use stillwell_stats::StatsError;

/// Why nothing is stated about an ion-selective electrode.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PotentiometryError {
    /// A coverage that makes no interval.
    #[error("a coverage of {found} makes no interval; give one from 0.5 to 0.9999, usually 0.95")]
    CoverageNotUsable {
        /// What was asked for.
        found: f64,
    },
    /// A setting is not usable.
    #[error("{setting} is {found}; {accepted} is accepted")]
    SettingNotUsable {
        /// The setting.
        setting: &'static str,
        /// Its value.
        found: f64,
        /// What would be accepted.
        accepted: &'static str,
    },
    /// A number of a reading is not usable.
    #[error("{label}: the {what} is {found}; {accepted} is needed")]
    NotUsable {
        /// Which reading.
        label: String,
        /// Which of its numbers.
        what: &'static str,
        /// What was found.
        found: f64,
        /// What would be accepted.
        accepted: &'static str,
    },
    /// A reading names more or fewer other ions than the fit.
    #[error(
        "{label}: activities of {found} other ions are given; {expected} are expected, 0 where there is none"
    )]
    InterferentsMissing {
        /// Which reading.
        label: String,
        /// Activities found.
        found: usize,
        /// Interferents of the fit.
        expected: usize,
    },
    /// Too few readings, or too few different activities.
    #[error("{found} {what} are too few; at least {needed} are needed")]
    TooFewReadings {
        /// What was counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many are needed.
        needed: usize,
    },
    /// The potential does not follow the activity by more than its scatter explains.
    #[error(
        "the slope {slope_v_per_decade} V a decade is not distinguishable from zero (t = {t}, needed {t_needed}): the electrode does not answer to this ion, or too few solutions were measured"
    )]
    SlopeNotSignificant {
        /// The slope.
        slope_v_per_decade: f64,
        /// Slope over its standard error, without sign.
        t: f64,
        /// What it must exceed.
        t_needed: f64,
    },
    /// The potentials follow the curve exactly, so no uncertainty can be derived from them.
    #[error(
        "the residual standard deviation {residual_sd_v} V is nothing: such potentials were computed, not measured, and carry no uncertainty"
    )]
    NoScatter {
        /// What was found.
        residual_sd_v: f64,
    },
    /// The activities that belong to the plateau reach into those that belong to the line.
    #[error(
        "the plateau ends at {plateau_to} mol/L and the line begins at {line_from}; leave the bend between them out of both"
    )]
    SegmentsOverlap {
        /// Upper end of the plateau.
        plateau_to: f64,
        /// Lower end of the line.
        line_from: f64,
    },
    /// The two lines meet within the straight part, so there is no bend to read a limit from.
    #[error(
        "plateau and line meet at {limit} mol/L, not below {line_from} where the line begins: these segments are no plateau and line"
    )]
    NoBend {
        /// Where they meet.
        limit: f64,
        /// Where the line begins.
        line_from: f64,
    },
    /// The data do not say what the parameter is.
    #[error("{what} cannot be told from these readings; measure where it shows in the potential")]
    NotDetermined {
        /// The parameter.
        what: String,
        /// What the fit found.
        #[source]
        reason: StatsError,
    },
    /// Times that do not rise.
    #[error("reading {index} was taken at {found_s} s, not after the one before it ({before_s} s)")]
    TimesNotRising {
        /// Counted from 1.
        index: usize,
        /// Its time.
        found_s: f64,
        /// The time before it.
        before_s: f64,
    },
    /// The readings depend on each other so much that they carry too little.
    #[error(
        "the {found} readings depend on each other so much (autocorrelation {autocorrelation:.2}) that they count as {effective:.1}; at least {needed} are needed: the potential still bends strongly, or it was read too often; wait longer"
    )]
    TooFewIndependent {
        /// Readings in the window.
        found: usize,
        /// From one reading to the next.
        autocorrelation: f64,
        /// What they count as.
        effective: f64,
        /// What is needed.
        needed: usize,
    },
    /// The line cannot bound the activity of this potential.
    #[error("the line gives no bounded interval for a potential of {potential_v} V ({fault:?})")]
    Unresolved {
        /// The potential.
        potential_v: f64,
        /// What was found.
        fault: InverseFault,
    },
    /// The fit itself was refused.
    #[error("the curve cannot be fitted: {0}")]
    Fit(#[from] StatsError),
}

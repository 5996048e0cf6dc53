//! What is checked on a calibration and on a sample, and the finding that a check leaves behind.

/// A check of this room. Its texts are the manual page from which command line and report are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Check {
    /// At least one acceptance criterion is stated.
    AcceptanceStated,
    /// Standards read back from the curve.
    BackCalculated,
    /// Lack of fit against the spread between electrodes.
    LackOfFit,
    /// Mandel's test of a line against a quadratic.
    Linearity,
    /// Spread at the two ends of the range.
    SpreadAtRangeEnds,
    /// Spread across all levels.
    SpreadAcrossLevels,
    /// Trend of the scans within their electrodes.
    ScanTrendWithin,
    /// Trend of the electrode means with scan number.
    ScanTrendBetween,
    /// Process standard deviation relative to the mean level.
    RelativeProcessSd,
    /// Recovery of a check standard.
    CheckStandardRecovery,
    /// Only one electrode carries the calibration.
    OneElectrode,
    /// An electrode carries several levels.
    ElectrodeServesSeveralLevels,
    /// The line was forced through the origin.
    ForcedOrigin,
    /// One level alone holds the curve.
    HighLeverage,
    /// Standards were left out.
    ExcludedStandards,
    /// Electrode means stand for different numbers of scans.
    UnequalScans,
    /// Stated standard deviations do not follow the function used for samples.
    StatedSpreadOffFunction,
    /// No level was measured with two electrodes.
    NoReplicateElectrodes,
    /// The electrodes of one sample differ more than those of the calibration.
    SampleElectrodesDisagree,
}

impl Check {
    /// Every check, in the order of the manual.
    pub const ALL: [Self; 19] = [
        Self::AcceptanceStated,
        Self::BackCalculated,
        Self::LackOfFit,
        Self::Linearity,
        Self::SpreadAtRangeEnds,
        Self::SpreadAcrossLevels,
        Self::ScanTrendWithin,
        Self::ScanTrendBetween,
        Self::RelativeProcessSd,
        Self::CheckStandardRecovery,
        Self::OneElectrode,
        Self::ElectrodeServesSeveralLevels,
        Self::ForcedOrigin,
        Self::HighLeverage,
        Self::ExcludedStandards,
        Self::UnequalScans,
        Self::StatedSpreadOffFunction,
        Self::NoReplicateElectrodes,
        Self::SampleElectrodesDisagree,
    ];

    /// Name of the check, as it stands in lists and overrides.
    pub fn id(self) -> &'static str {
        match self {
            Self::AcceptanceStated => "acceptance-stated",
            Self::BackCalculated => "back-calculated-standards",
            Self::LackOfFit => "lack-of-fit",
            Self::Linearity => "linearity",
            Self::SpreadAtRangeEnds => "spread-at-range-ends",
            Self::SpreadAcrossLevels => "spread-across-levels",
            Self::ScanTrendWithin => "scan-trend-within-electrodes",
            Self::ScanTrendBetween => "residual-trend-with-scan-number",
            Self::RelativeProcessSd => "relative-process-sd",
            Self::CheckStandardRecovery => "check-standard-recovery",
            Self::OneElectrode => "one-electrode",
            Self::ElectrodeServesSeveralLevels => "electrode-serves-several-levels",
            Self::ForcedOrigin => "forced-origin",
            Self::HighLeverage => "high-leverage",
            Self::ExcludedStandards => "excluded-standards",
            Self::UnequalScans => "unequal-scans",
            Self::StatedSpreadOffFunction => "stated-spread-off-function",
            Self::NoReplicateElectrodes => "no-replicate-electrodes",
            Self::SampleElectrodesDisagree => "sample-electrodes-disagree",
        }
    }

    /// What the numbers `found` and `limit` of its finding are.
    pub fn looks_at(self) -> &'static str {
        match self {
            Self::AcceptanceStated => {
                "number of acceptance criteria in the method, of which at least one is needed"
            }
            Self::BackCalculated => {
                "largest error in % of a level read back from the curve (mean of its electrodes)"
            }
            Self::LackOfFit => "p of the lack-of-fit test: level means against the spread between electrodes",
            Self::Linearity => "p of Mandel's test: does a quadratic fit better than the line",
            Self::SpreadAtRangeEnds => "p of the variance ratio of the lowest and the highest level",
            Self::SpreadAcrossLevels => "p of equal spread at all levels",
            Self::ScanTrendWithin => {
                "p of a rise or fall of the signal with scan number on the same electrode"
            }
            Self::ScanTrendBetween => "p of a rise or fall of the residuals with scan number",
            Self::RelativeProcessSd => "process standard deviation in % of the mean level",
            Self::CheckStandardRecovery => "distance of the check standard's recovery from 100 %, in %",
            Self::OneElectrode => "number of electrodes in the whole calibration",
            Self::ElectrodeServesSeveralLevels => "largest number of levels measured with one electrode",
            Self::ForcedOrigin => "t of the intercept that the model leaves out, beside its critical value",
            Self::HighLeverage => "leverage of the level that steers the curve most",
            Self::ExcludedStandards => "number of scans left out",
            Self::UnequalScans => "largest over smallest number of scans behind an electrode mean",
            Self::StatedSpreadOffFunction => {
                "largest ratio between a stated standard deviation and the function"
            }
            Self::NoReplicateElectrodes => "largest number of electrodes at one level",
            Self::SampleElectrodesDisagree => {
                "variance ratio of the sample's electrodes to the calibration's"
            }
        }
    }

    /// What to do when the finding is not passed.
    pub fn remedy(self) -> &'static str {
        match self {
            Self::AcceptanceStated => {
                "State in the method what makes a calibration acceptable; r² alone never does."
            }
            Self::BackCalculated => {
                "Look for a wrongly prepared standard, narrow the range, or fit with weights."
            }
            Self::LackOfFit => {
                "The curve does not follow the levels: narrow the range, take a quadratic, or check the standards' preparation."
            }
            Self::Linearity => "The response bends: narrow the range or take a quadratic.",
            Self::SpreadAtRangeEnds | Self::SpreadAcrossLevels => {
                "The spread changes with level: fit with weights by a variance function, or narrow the range."
            }
            Self::ScanTrendWithin => {
                "The electrode tires or warms up: use fewer scans an electrode, or discard the first."
            }
            Self::ScanTrendBetween => {
                "The electrode ages over the calibration: randomise the order of levels, or use fresh electrodes."
            }
            Self::RelativeProcessSd => {
                "The calibration scatters too much: look at electrodes, blanks and connections."
            }
            Self::CheckStandardRecovery => {
                "The calibration no longer holds: recalibrate, and repeat the samples since the last good check."
            }
            Self::OneElectrode => {
                "The spread between electrodes is unknown: the intervals hold for this very electrode only. Measure three or more."
            }
            Self::ElectrodeServesSeveralLevels => {
                "Points of one electrode are not independent, so the intervals are too narrow for another electrode: use a fresh electrode for each level, or more electrodes."
            }
            Self::ForcedOrigin => "A forced origin hides a blank signal: fit the line with its intercept.",
            Self::HighLeverage => "One level holds the curve: space the levels more evenly.",
            Self::ExcludedStandards => "Read the reasons; measure again where you can.",
            Self::UnequalScans => "Measure every electrode with the same number of scans.",
            Self::StatedSpreadOffFunction => {
                "State standard deviations that rise smoothly with level, or let the spread be fitted."
            }
            Self::NoReplicateElectrodes => {
                "Without two electrodes at a level neither lack of fit nor spread can be tested: measure replicates."
            }
            Self::SampleElectrodesDisagree => {
                "Repeat the sample with fresh electrodes; look for bubbles, contact and matrix. The interval was widened."
            }
        }
    }
}

/// Whether a finding decides on acceptance or only informs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// The method demands it: a calibration is accepted only when all of these pass.
    Acceptance,
    /// To be shown beside the result, whatever is decided.
    Caution,
}

/// How a check came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Within its limit.
    Passed,
    /// Beyond its limit.
    Failed,
    /// The data cannot show it; this is not a pass.
    NotTestable,
}

/// What one check found.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The check.
    pub check: Check,
    /// Whether it decides.
    pub role: Role,
    /// How it came out.
    pub outcome: Outcome,
    /// What it is about where that is one thing: a level, an electrode, a label.
    pub subject: Option<String>,
    /// The number found, see [`Check::looks_at`].
    pub found: Option<f64>,
    /// The number it was held against.
    pub limit: Option<f64>,
}

impl Finding {
    /// Name of the check.
    pub fn id(&self) -> &'static str {
        self.check.id()
    }

    /// Whether the check passed; what could not be tested did not.
    pub fn passed(&self) -> bool {
        self.outcome == Outcome::Passed
    }

    pub(crate) fn acceptance(check: Check, passed: bool, found: f64, limit: f64) -> Self {
        Self::judged(check, Role::Acceptance, passed, found, limit)
    }

    pub(crate) fn caution(check: Check, passed: bool, found: f64, limit: f64) -> Self {
        Self::judged(check, Role::Caution, passed, found, limit)
    }

    pub(crate) fn not_testable(check: Check, limit: f64) -> Self {
        let (role, outcome) = (Role::Acceptance, Outcome::NotTestable);
        Self { check, role, outcome, subject: None, found: None, limit: Some(limit) }
    }

    pub(crate) fn about(self, subject: impl Into<String>) -> Self {
        Self { subject: Some(subject.into()), ..self }
    }

    fn judged(check: Check, role: Role, passed: bool, found: f64, limit: f64) -> Self {
        let outcome = if passed { Outcome::Passed } else { Outcome::Failed };
        Self { check, role, outcome, subject: None, found: Some(found), limit: Some(limit) }
    }
}

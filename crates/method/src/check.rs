//! Every automatic check by its name: what it looks at, why it matters, and what to do when it does not pass.
//!
//! The command line, the page and the dossier take their words from here; nobody writes them twice.

/// An automatic check on the way from a raw scan to a verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Check {
    /// Marks such as NaN or overload instead of numbers.
    OverloadMarks,
    /// A plateau at the end of the range.
    ClippedScan,
    /// Too few points to carry a peak.
    TooFewPoints,
    /// Gaps or repeats in the potential.
    MissingPoints,
    /// Steps of unequal size.
    UnevenSteps,
    /// Start, end, step or direction are not the technique's.
    WrongWindow,
    /// Settings lines of the file contradict the technique.
    SettingsDiffer,
    /// The same numbers as another scan.
    RepeatedScan,
    /// Scatter that belongs to another unit or range.
    OtherScale,
    /// Background of a dry or half covered electrode.
    DropCoverage,
    /// Isolated points far from their neighbours.
    Spikes,
    /// No current to speak of.
    FlatLine,
    /// The first points have not settled.
    StartTransient,
    /// The foot of the scan is far from zero.
    Offset,
    /// More noise than the method allows.
    Noise,
    /// Forward and reverse disagree where they must not.
    ForwardReverseDrift,
    /// Pickup from the mains.
    MainsPickup,
    /// A clock that cannot be right.
    ClockImplausible,
    /// A blank that matches the scan.
    BlankMatch,
    /// The blank had to be shifted.
    BlankShifted,
    /// The blank itself cannot be trusted.
    BlankRefused,
    /// With and without the blank give signals that differ by much.
    BlankMatters,
    /// Points replaced by the despiking.
    DespikedPoints,
    /// The maximum stands on the edge of the window.
    EdgeMaximum,
    /// No peak above the noise.
    NoPeak,
    /// The background is far larger than the peak.
    BackgroundSwallowsPeak,
    /// Two peaks in the window.
    TwoPeaks,
    /// The peak is not where the calibration has it.
    PeakShift,
    /// The peak is wider or narrower than the calibration's.
    PeakWidth,
    /// A larger maximum outside the window.
    PeakOutside,
    /// The baseline did not converge.
    BaselineUnsettled,
    /// The temperature of the sample.
    Temperature,
    /// The pH of the sample.
    Ph,
    /// Chloride in the sample.
    Chloride,
    /// Conductivity of the sample.
    Conductivity,
    /// The uncertainty of the dilution.
    Dilution,
    /// Fewer electrodes than the method foresees.
    FewElectrodes,
    /// The electrodes of one sample disagree.
    ElectrodesDisagree,
    /// A single-use electrode that served another solution before.
    ElectrodeReused,
    /// Further below zero than chance allows.
    NegativeResult,
    /// The sample's lot has no calibration.
    LotNotCalibrated,
    /// The calibration did not pass its acceptance.
    CalibrationAcceptance,
    /// Its levels are not those that the method foresees.
    LevelsForeseen,
    /// The calibration could not be made.
    CalibrationRefused,
    /// A check standard of the batch is off.
    CheckStandard,
    /// The batch is not bracketed by check standards.
    Bracketing,
    /// The zero level of the batch is not near zero.
    BatchBlank,
    /// An electrode control of the batch is off or missing.
    ElectrodeControl,
    /// A control chart is out of control.
    ControlChart,
    /// Duplicates disagree.
    DuplicatesDisagree,
    /// A spike was not recovered.
    SpikeRecovery,
    /// Additions to the sample show another slope than the standards.
    MatrixEffect,
    /// What a line of additions cannot show by itself.
    AdditionLine,
    /// Scans of the sample were left out.
    ExcludedScans,
    /// Checks that refused were overridden.
    OverriddenChecks,
    /// Too uncertain to be reported.
    IntervalUnbounded,
    /// The study's record of the calibration forbids its use: withdrawn, refused by the approver, ended or past its day.
    CalibrationNotInForce,
    /// The study's record of the result forbids its use: withdrawn, or refused by the approver.
    ResultNotInForce,
    /// The lot was past its last day.
    LotExpired,
    /// The sample waited longer than its preservation allows.
    HeldTooLong,
}

/// What a check is about, in the words that a person sees.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CheckText {
    /// Short identity, as used in an override.
    pub id: &'static str,
    /// What it looks at.
    pub looks_at: &'static str,
    /// Why it matters.
    pub why: &'static str,
    /// What to do when it does not pass.
    pub remedy: &'static str,
}

impl Check {
    /// All checks in the order of the chain.
    pub const ALL: [Self; 60] = [
        Self::OverloadMarks,
        Self::ClippedScan,
        Self::TooFewPoints,
        Self::MissingPoints,
        Self::UnevenSteps,
        Self::WrongWindow,
        Self::SettingsDiffer,
        Self::RepeatedScan,
        Self::OtherScale,
        Self::DropCoverage,
        Self::Spikes,
        Self::FlatLine,
        Self::StartTransient,
        Self::Offset,
        Self::Noise,
        Self::ForwardReverseDrift,
        Self::MainsPickup,
        Self::ClockImplausible,
        Self::BlankMatch,
        Self::BlankShifted,
        Self::BlankRefused,
        Self::BlankMatters,
        Self::DespikedPoints,
        Self::EdgeMaximum,
        Self::NoPeak,
        Self::BackgroundSwallowsPeak,
        Self::TwoPeaks,
        Self::PeakShift,
        Self::PeakWidth,
        Self::PeakOutside,
        Self::BaselineUnsettled,
        Self::Temperature,
        Self::Ph,
        Self::Chloride,
        Self::Conductivity,
        Self::Dilution,
        Self::FewElectrodes,
        Self::ElectrodesDisagree,
        Self::ElectrodeReused,
        Self::NegativeResult,
        Self::LotNotCalibrated,
        Self::CalibrationAcceptance,
        Self::LevelsForeseen,
        Self::CalibrationRefused,
        Self::CheckStandard,
        Self::Bracketing,
        Self::BatchBlank,
        Self::ElectrodeControl,
        Self::ControlChart,
        Self::DuplicatesDisagree,
        Self::SpikeRecovery,
        Self::MatrixEffect,
        Self::AdditionLine,
        Self::ExcludedScans,
        Self::OverriddenChecks,
        Self::IntervalUnbounded,
        Self::CalibrationNotInForce,
        Self::ResultNotInForce,
        Self::LotExpired,
        Self::HeldTooLong,
    ];

    /// Identities of all checks.
    pub(crate) fn ids() -> Vec<&'static str> {
        Self::ALL.iter().map(|check| check.text().id).collect()
    }

    /// The check of this identity.
    ///
    /// # Example
    /// ```
    /// use stillwell_method::Check;
    /// assert_eq!(Check::of_id("clipped-scan"), Some(Check::ClippedScan));
    /// ```
    pub fn of_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|check| check.text().id == id)
    }

    /// Its identity.
    pub fn id(self) -> &'static str {
        self.text().id
    }

    /// Whether leaving such a scan out would make the rest of the sample read too low.
    ///
    /// A clipped scan was cut at the top; a peak at the window's edge may be a larger one that moved. What
    /// remains is then not a fair choice of scans, so the whole sample is refused.
    pub(crate) fn condemns_the_sample(self) -> bool {
        matches!(
            self,
            Self::ClippedScan
                | Self::OverloadMarks
                | Self::EdgeMaximum
                | Self::TwoPeaks
                | Self::PeakWidth
                | Self::PeakOutside
        )
    }

    /// Whether an analyst may use a scan although this check did not pass: a check of the scan itself that leaves a
    /// signal to use. What concerns the sample, the calibration or the batch is no matter of one scan.
    pub fn can_be_overridden(self) -> bool {
        let leaves_no_signal = matches!(
            self,
            Self::OverloadMarks
                | Self::BlankMatch
                | Self::BlankRefused
                | Self::EdgeMaximum
                | Self::NoPeak
                | Self::BaselineUnsettled
        );
        self < Self::Temperature && !leaves_no_signal
    }

    /// What it is about, in words.
    pub fn text(self) -> CheckText {
        crate::check_text::text(self)
    }
}

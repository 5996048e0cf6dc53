//! The codes of the checks and what each found.

/// One trust check; the text beside each is its manual page.
///
/// Limits are the method's; "sensible" values are common practice, no source, unless a source is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TrustCheck {
    /// *Looks at* points that the record marks as overloaded and currents or potentials that are not finite.
    /// *Why:* nothing is known there, and a gap filled silently is an invented current. *Found:* their number. *Limit:* 0.
    Overload,
    /// *Looks at* the number of points. *Why:* a cut-off record can still show a peak. *Limit:* about nine tenths of what the technique yields.
    TooFewPoints,
    /// *Looks at* the points in the peak's half width. *Why:* with few the height depends on where the points
    /// happen to fall; for a parabola through three points of a Gaussian, 5 a half width leave an error of up to about 0.3 % of the height. *Limit:* 8.
    TooFewPointsInPeak,
    /// *Looks at* the sign of last minus first potential. *Why:* a sweep the other way measures another reaction, and its peak
    /// looks as good. *Found and limit:* the two spans (V).
    WrongDirection,
    /// *Looks at* the first and the last potential. *Why:* another window means another method or a cut-off record.
    /// *Found:* the larger distance from what is expected (V). *Limit:* half a step.
    WrongWindow,
    /// *Looks at* the usual (median) step. *Why:* height and width depend on it. *Found:* its deviation from the expected step as a fraction.
    /// *Limit:* 0.1; more where the potentials are printed coarsely.
    WrongStep,
    /// *Looks at* steps of one and a half usual ones and more. *Why:* smoothing and areas take the points as evenly spaced.
    /// *Found:* how many points are missing. *Limit:* 0.
    MissingPoints,
    /// *Looks at* steps of less than half the usual one, forwards or backwards. *Why:* a repeated row counts twice. *Found:* how many. *Limit:* 0.
    RepeatedPoints,
    /// *Looks at* the other steps. *Why:* as for missing points. *Found:* the largest deviation from the usual step as a
    /// fraction. *Limit:* 0.1; above the ratio of the potentials' printed digit to the step.
    NonUniformSteps,
    /// *Looks at* runs of identical largest or smallest currents and at currents at the converter's ends. *Why:* a clipped peak is too low by
    /// an unknown amount and looks clean. A rounded peak recorded in coarse steps has such a run as well, but leaves it by single
    /// steps; a clipped one is left abruptly, and only that counts. Cuts of less than about ten steps of the record are not seen. *Found:* points in the plateau. *Limit:* 3
    /// in a row pass.
    Clipping,
    /// *Looks at* the range of the currents after single outliers are set aside. *Why:* an unconnected or dead electrode gives a
    /// quiet line, which would read as "none". *Limit:* what a blank on a good electrode shows, and 8 steps of the record.
    FlatLine,
    /// *Looks at* the median current of the first and of the last points. *Why:* a leak or a wet connector adds a current that the calibration
    /// never saw. *Found:* the larger of the two, without sign (A). *Limit:* from blanks of good electrodes.
    Offset,
    /// *Looks at* one or two points that stand out from two neighbours on either side. *Why:* a spike on the peak is read as height.
    /// *Found:* the highest in robust units, among those more than `spike_ratio` times as high as their neighbours' range.
    /// *Limit:* 6; robust units after Hampel (Davies & Gather 1993, from memory). The two points at each end are not judged.
    Spikes,
    /// *Looks at* third differences of the currents. *Why:* noise above the method's makes its interval too narrow. *Found:* standard
    /// deviation 1.4826 median |Δ³| / √20 (A), for noise that is independent from point to point. *Limit:* three times that of the
    /// calibration's scans.
    Noise,
    /// *Looks at* the first points against a parabola through those that follow. *Why:* switching on charges the electrode; the first
    /// points may pull the baseline. *Found:* how many first points to distrust. *Limit:* what the method drops anyway.
    StartUp,
    /// *Looks at* the gap between forward and reverse current at one end of the sweep and at the other. *Why:* away from the peak the
    /// gap is charging current and stays; one that changes shows a drift between the two. *Found:* its change (A). *Limit:* a tenth of the
    /// smallest peak that counts.
    ReverseDrift,
    /// *Looks at* the amplitude at the frequency to which the mains folds at this sampling. *Why:* pickup adds to or takes from the peak
    /// by chance. Sampled at a divisor of the mains frequency it is invisible, and slow folds hide under the peak: then not testable. *Found:* amplitude (A).
    /// *Limit:* three times the noise over the square root of half the number of points.
    MainsPickup,
}

impl TrustCheck {
    /// All checks in the order in which they are reported.
    pub const ALL: [Self; 17] = [
        Self::Overload,
        Self::TooFewPoints,
        Self::TooFewPointsInPeak,
        Self::WrongDirection,
        Self::WrongWindow,
        Self::WrongStep,
        Self::MissingPoints,
        Self::RepeatedPoints,
        Self::NonUniformSteps,
        Self::Clipping,
        Self::FlatLine,
        Self::Offset,
        Self::Spikes,
        Self::Noise,
        Self::StartUp,
        Self::ReverseDrift,
        Self::MainsPickup,
    ];

    /// Whether despiking repairs what this check finds, point by point, so that it warns instead of refusing.
    pub fn is_repaired_by_despiking(self) -> bool {
        self == Self::Spikes
    }
}

/// Outcome of a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TrustState {
    /// Tested, and inside its limit.
    Passed,
    /// Tested, and outside its limit.
    Failed,
    /// Could not be tested; not to be read as passed.
    NotTestable(WhyNotTestable),
}

/// Why a check could not be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WhyNotTestable {
    /// The scan, or the expectation, does not state what the check needs.
    NotStated,
    /// A number with which it would compute is not finite, or left the range of a f64.
    NotFinite,
    /// Slices that belong together differ in length.
    LengthsDiffer,
    /// Too few points for this check.
    TooShort,
    /// Most potentials repeat the one before (the repeats are reported), so that there is no usual step.
    NoUsualStep,
    /// The caller's workspace is too small.
    WorkspaceTooSmall,
    /// The limit or constant is not a usable number.
    LimitNotUsable,
    /// The region that gives the trend reaches into the peak window.
    PeakTooNearStart,
    /// Sampled at a divisor of the mains frequency, or so near one that the pickup looks like a peak or a slope.
    MainsFoldsTooSlow,
}

/// What one check found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrustFinding {
    /// Which check.
    pub check: TrustCheck,
    /// Its outcome.
    pub state: TrustState,
    /// The number found, in the unit that [`TrustCheck`] names; 0 where nothing was tested.
    pub found: f64,
    /// The limit it was held against; 0 where nothing was tested.
    pub limit: f64,
    /// Index of the point concerned, 0 where the scan as a whole is meant.
    pub at_index: u32,
}

impl TrustFinding {
    pub(super) fn not_run() -> Self {
        Judge { check: TrustCheck::Overload }.not_testable(WhyNotTestable::NotStated)
    }
}

/// What all checks found, in the order of [`TrustCheck::ALL`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrustReport {
    /// One finding a check.
    pub findings: [TrustFinding; TrustCheck::ALL.len()],
}

impl TrustReport {
    /// The findings that failed.
    pub fn failed(&self) -> impl Iterator<Item = &TrustFinding> {
        self.findings.iter().filter(|finding| finding.state == TrustState::Failed)
    }

    /// The finding of one check.
    pub fn of(&self, check: TrustCheck) -> TrustFinding {
        self.findings[check as usize]
    }
}

/// Turns a number found and a limit into a finding; the one place where they are compared.
#[derive(Clone, Copy)]
pub(super) struct Judge {
    pub(super) check: TrustCheck,
}

impl Judge {
    pub(super) fn not_testable(self, why: WhyNotTestable) -> TrustFinding {
        TrustFinding {
            check: self.check,
            state: TrustState::NotTestable(why),
            found: 0.0,
            limit: 0.0,
            at_index: 0,
        }
    }

    /// Passed when `found` is at most `limit`.
    pub(super) fn at_most(self, found: f64, limit: f64, at_index: usize) -> TrustFinding {
        self.decided(found <= limit, found, limit, at_index)
    }

    /// Passed when `found` is at least `limit`.
    pub(super) fn at_least(self, found: f64, limit: f64, at_index: usize) -> TrustFinding {
        self.decided(found >= limit, found, limit, at_index)
    }

    pub(super) fn decided(self, passed: bool, found: f64, limit: f64, at_index: usize) -> TrustFinding {
        if !limit.is_finite() {
            return self.not_testable(WhyNotTestable::LimitNotUsable);
        }
        if !found.is_finite() {
            return self.not_testable(WhyNotTestable::NotFinite);
        }
        TrustFinding {
            check: self.check,
            state: if passed { TrustState::Passed } else { TrustState::Failed },
            found,
            limit,
            at_index: u32::try_from(at_index).unwrap_or(u32::MAX),
        }
    }
}

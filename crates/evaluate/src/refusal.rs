//! Why no signal is issued: codes with their numbers, without wording.

/// The situation in which an evaluation stops, with the numbers behind it.
///
/// The kernel words nothing: the caller turns a code and its numbers into a sentence and a remedy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Refusal {
    /// Fewer points than the settings need.
    TooFewPoints {
        /// Points found.
        found: usize,
        /// Points needed.
        needed: usize,
    },
    /// A slice does not have the length that the grid asks for.
    LengthsDiffer {
        /// Length expected.
        expected: usize,
        /// Length found.
        found: usize,
    },
    /// The caller's buffer is too short.
    WorkspaceTooSmall {
        /// Values found.
        found: usize,
        /// Values needed.
        needed: usize,
    },
    /// A current, or its difference to the blank, is not a finite number.
    NotFinite {
        /// Index of the first such point.
        index: usize,
    },
    /// The potentials are not finite and strictly rising or strictly falling.
    PotentialNotMonotonic {
        /// Index of the first potential that breaks the order.
        index: usize,
    },
    /// A range of points is empty, reversed or outside the scan, or lies on the wrong side of another.
    RangeNotUsable {
        /// Which range.
        range: RangeName,
        /// First index of the range.
        first: usize,
        /// Last index of the range.
        last: usize,
    },
    /// A constant of the settings is outside what the kernel accepts.
    SettingNotUsable {
        /// Which constant.
        setting: SettingName,
        /// Its value.
        value: f64,
    },
    /// The asymmetric least squares weights still changed in the last permitted iteration.
    BaselineNotSettled {
        /// Iterations made.
        iterations: u32,
    },
    /// The maximum lies on the window's edge, or on a point that the baseline rests on: it measures the background, not a
    /// peak.
    MaximumOnWindowEdge {
        /// Index of the maximum.
        index: usize,
        /// Baseline-corrected height there, A along the direction.
        height_a: f64,
    },
    /// The height is not positive, or lower than the stated multiple of the noise.
    NoPeak {
        /// Index of the highest point.
        index: usize,
        /// Height of the vertex, A along the direction.
        height_a: f64,
        /// Noise, A; zero where no noise range is set.
        noise_a: f64,
    },
    /// Intermediate results left the range of f64 (currents near its largest number).
    OutOfNumberRange,
}

/// Which range of points a [`Refusal::RangeNotUsable`] speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum RangeName {
    /// The peak window.
    PeakWindow = 1,
    /// The baseline's range before the peak.
    BaselineBefore = 2,
    /// The baseline's range after the peak.
    BaselineAfter = 3,
    /// The tangent's search range.
    TangentSearch = 4,
    /// A range in which noise is measured.
    Noise = 5,
    /// The fixed potential's place.
    FixedPotential = 6,
    /// The range compared when two scans are aligned.
    Comparison = 7,
}

/// Which constant a [`Refusal::SettingNotUsable`] speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum SettingName {
    /// Smoothing window: odd, 1 to 101, no longer than the scan.
    SmoothingWindow = 1,
    /// Smoothing degree: at most 5, below the window.
    SmoothingDegree = 2,
    /// A frozen smoothing weight that is not finite.
    SmoothingWeight = 3,
    /// Despiking limit: positive.
    DespikeLimit = 4,
    /// Despiking ratio: at least 3.
    DespikeRatio = 5,
    /// Despiking floor: not negative.
    DespikeFloor = 6,
    /// Degree of the polynomial baseline: at most 4.
    BaselineDegree = 7,
    /// Stiffness lambda: positive and finite.
    Stiffness = 8,
    /// Asymmetry p: between 0 and 1.
    Asymmetry = 9,
    /// Largest number of iterations: at least 1.
    Iterations = 10,
    /// A limit of a flag: not negative.
    Limit = 11,
    /// Shift or bound of an alignment.
    Shift = 12,
}

impl Refusal {
    /// The code of the situation, the same in every language the kernel is written in.
    ///
    /// ```
    /// assert_eq!(stillwell_evaluate::Refusal::NotFinite { index: 7 }.code(), 4);
    /// ```
    pub fn code(&self) -> u8 {
        match self {
            Self::TooFewPoints { .. } => 1,
            Self::LengthsDiffer { .. } => 2,
            Self::WorkspaceTooSmall { .. } => 3,
            Self::NotFinite { .. } => 4,
            Self::PotentialNotMonotonic { .. } => 5,
            Self::RangeNotUsable { .. } => 6,
            Self::SettingNotUsable { .. } => 7,
            Self::BaselineNotSettled { .. } => 8,
            Self::MaximumOnWindowEdge { .. } => 9,
            Self::NoPeak { .. } => 10,
            Self::OutOfNumberRange => 11,
        }
    }
}

//! What an evaluation yields: the signal, where it was found, and its flags.

/// A remark that travels with a signal; the number is its bit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Flag {
    /// At least one point was replaced by despiking; [`Signal::despiked`] counts them.
    Despiked = 0,
    /// Blank and baseline at the peak exceed the permitted multiple of the height.
    BackgroundSwallowsPeak = 1,
    /// A second maximum rises beside the peak.
    TwoPeaks = 2,
    /// The peak lies too far from the reference potential.
    PotentialShifted = 3,
    /// The curve does not fall to half its height on both sides: no width.
    HalfWidthOpen = 4,
    /// An area between crossings was asked for, but the curve does not fall to the baseline on both sides inside the
    /// window, whose edge stands in.
    FootOpen = 5,
}

/// Every flag, in the order of its bits.
pub const ALL_FLAGS: [Flag; 6] = [
    Flag::Despiked,
    Flag::BackgroundSwallowsPeak,
    Flag::TwoPeaks,
    Flag::PotentialShifted,
    Flag::HalfWidthOpen,
    Flag::FootOpen,
];

/// A set of [`Flag`]s.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Flags(u8);

impl Flags {
    /// No flag.
    pub const NONE: Self = Self(0);

    /// Whether the flag is set.
    ///
    /// ```
    /// use stillwell_evaluate::{Flag, Flags};
    /// assert!(!Flags::NONE.contains(Flag::TwoPeaks));
    /// ```
    pub fn contains(self, flag: Flag) -> bool {
        self.0 & (1 << flag as u8) != 0
    }

    /// The flags that are set, in the order of their bits.
    pub fn iter(self) -> impl Iterator<Item = Flag> {
        ALL_FLAGS.into_iter().filter(move |flag| self.contains(*flag))
    }

    /// The bits, bit n standing for the flag with the number n.
    pub fn bits(self) -> u8 {
        self.0
    }

    pub(crate) fn set(&mut self, flag: Flag, condition: bool) {
        if condition {
            self.0 |= 1 << flag as u8;
        }
    }
}

/// The measured peak quantity of one scan, with the numbers that speak for or against it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Signal {
    /// The measure asked for: A along the direction, or A·V for an area. Never −0.0.
    pub signal_a: f64,
    /// Height of the vertex, or of the measure without a search (A along the direction).
    pub height_a: f64,
    /// Potential of the vertex (V); none without a search.
    pub peak_potential_v: Option<f64>,
    /// The highest point of the window; without a search the window's middle.
    pub peak_index: usize,
    /// Full width at half height (V); none without a search or where the curve stays above half.
    pub half_width_v: Option<f64>,
    /// Where the corrected curve falls to zero before and after the peak, at most the window's edges or the points that
    /// the baseline rests on (V).
    pub foot_potential_v: [f64; 2],
    /// The two points on which a line baseline rests, where it was searched (minima, tangent).
    pub baseline_points: Option<[usize; 2]>,
    /// The baseline's current at [`Signal::peak_index`] (A, sign as recorded).
    pub baseline_at_peak_a: f64,
    /// Standard deviation of the unsmoothed baseline residuals (A); none without noise ranges.
    pub noise_a: Option<f64>,
    /// `height_a / noise_a`; none without noise or where it is zero.
    pub signal_to_noise: Option<f64>,
    /// |blank + baseline| at the peak over the height; none where the height is not positive.
    pub background_ratio: Option<f64>,
    /// Points replaced by despiking.
    pub despiked: usize,
    /// Iterations of asymmetric least squares, 0 for other baselines.
    pub baseline_iterations: u32,
    /// Remarks.
    pub flags: Flags,
}

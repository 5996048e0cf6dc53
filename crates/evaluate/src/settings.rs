//! The frozen constants of one evaluation, on one grid of potentials.

use crate::baseline::Baseline;
use crate::despike::Despike;
use crate::smooth::Smoother;

/// Points `first..=last` of a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IndexRange {
    /// First index.
    pub first: usize,
    /// Last index, itself included.
    pub last: usize,
}

impl IndexRange {
    /// Number of points; zero where `last` lies before `first`.
    pub fn n_points(self) -> usize {
        (self.last + 1).saturating_sub(self.first)
    }

    pub(crate) fn fits(self, n_points: usize) -> bool {
        self.first <= self.last && self.last < n_points
    }

    pub(crate) fn of(self, values: &[f64]) -> &[f64] {
        values.get(self.first..self.last.saturating_add(1)).unwrap_or(&[])
    }
}

/// Which way the peak points; a height is positive along it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Direction {
    /// Towards positive currents (IUPAC: an oxidation).
    Oxidation = 1,
    /// Towards negative currents (IUPAC: a reduction).
    Reduction = 2,
}

impl Direction {
    /// +1 for an oxidation, −1 for a reduction.
    pub fn sign(self) -> f64 {
        match self {
            Self::Oxidation => 1.0,
            Self::Reduction => -1.0,
        }
    }
}

/// Whether a peak is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Placement {
    /// Standards, samples: the maximum in the window, refined to its vertex.
    Search = 1,
    /// Blanks and peakless scans: measured in the fixed window without a search. The sign is kept, so that
    /// blanks scatter around zero and a detection limit is not censored.
    FixedWindow = 2,
}

/// Where the area's limits lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum AreaLimits {
    /// Where the corrected curve crosses zero on either side of the peak, at most the window.
    Crossings = 1,
    /// The window's first and last point.
    Window = 2,
}

/// A place between two points of the grid: `fraction` of the way from `index` to the next point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixedPotential {
    /// The point before the place.
    pub index: usize,
    /// 0 at that point, 1 at the next.
    pub fraction: f64,
}

impl FixedPotential {
    /// The place of `at_v` on a rising or falling grid; none where the grid does not reach it.
    ///
    /// # Units
    /// V.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::FixedPotential;
    /// let place = FixedPotential::on(&[0.0, -0.5, -1.0], -0.625);
    /// assert_eq!(place, Some(FixedPotential { index: 1, fraction: 0.25 }));
    /// assert_eq!(FixedPotential::on(&[0.0, -0.5, -1.0], 0.1), None);
    /// ```
    pub fn on(potential_v: &[f64], at_v: f64) -> Option<Self> {
        potential_v.windows(2).enumerate().find_map(|(index, pair)| {
            let [from, to] = pair else { return None };
            let inside = (*from <= at_v && at_v <= *to) || (*to <= at_v && at_v <= *from);
            (inside && from != to).then(|| Self { index, fraction: (at_v - from) / (to - from) })
        })
    }
}

/// The measured peak quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measure {
    /// Height of the vertex (A); without a search the mean of the corrected curve over the window.
    Height,
    /// Area by the trapezium rule (A·V); without a search always over the window.
    Area(AreaLimits),
    /// Corrected current at a fixed potential (A), interpolated linearly.
    HeightAt(FixedPotential),
}

/// Where the peak is expected and what is measured on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeakSettings {
    /// The window in which the maximum must lie, or over which a fixed measure is taken.
    pub window: IndexRange,
    /// Which way the peak points.
    pub direction: Direction,
    /// Whether a peak is looked for.
    pub placement: Placement,
    /// What is measured.
    pub measure: Measure,
}

/// Limits at which a peak is refused or flagged; `None` switches a check off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeakLimits {
    /// Refused as no peak when the height is below this multiple of the noise.
    pub min_signal_to_noise: Option<f64>,
    /// Flagged when |blank + baseline| at the peak exceeds this multiple of the height.
    pub max_background_ratio: Option<f64>,
    /// Flagged when a second maximum rises out of the valley beside the peak by more than this fraction of the
    /// height (and, where both are set, more than `min_signal_to_noise` times the noise).
    pub second_peak_fraction: Option<f64>,
    /// Flagged when the peak lies further than `.1` (V) from the reference potential `.0` (V).
    pub reference_potential_v: Option<(f64, f64)>,
}

impl PeakLimits {
    /// Every check off: a peak is refused only on the window's edge or without height.
    pub const NONE: Self = Self {
        min_signal_to_noise: None,
        max_background_ratio: None,
        second_peak_fraction: None,
        reference_potential_v: None,
    };
}

/// Everything that is fixed before the first scan arrives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings<'a> {
    /// Repair of single outlying points of the raw scan, or none.
    pub despike: Option<Despike>,
    /// Smoothing weights, or none.
    pub smoother: Option<Smoother<'a>>,
    /// The baseline, drawn on the smoothed curve.
    pub baseline: Baseline,
    /// The peak.
    pub peak: PeakSettings,
    /// Ranges outside the peak window whose unsmoothed baseline residuals give the noise.
    pub noise: [Option<IndexRange>; 2],
    /// Limits of the checks.
    pub limits: PeakLimits,
}

//! Another scan's peak against the standards': as wide, in its window, and more than noise.

use crate::baseline::Baseline;
use crate::refusal::Refusal;
use crate::settings::{FixedPotential, IndexRange, Measure, PeakLimits, Placement, Settings};
use crate::signal::Signal;

/// A maximum beside the window matters from this fraction of the lowest standard's signal on (common practice, no source).
const OUTSIDE_FRACTION: f64 = 0.5;

/// What the standards' peak looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandardPeak {
    /// Potential of the vertex (V).
    pub potential_v: f64,
    /// Width at half height (V).
    pub half_width_v: Option<f64>,
    /// Signal of the lowest standard above zero (A or A·V).
    pub lowest_signal: Option<f64>,
}

/// A width unlike the standards'.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OtherWidth {
    /// The scan's (V).
    pub found_v: f64,
    /// The standards' (V).
    pub usual_v: f64,
    /// Their difference over the standards'.
    pub relative: f64,
    /// What it may be at most, its sign aside.
    pub limit: f64,
}

impl StandardPeak {
    /// Whether a maximum beside the window (A) is a peak, and larger than what stands inside (A).
    ///
    /// # Source
    /// Common practice, no source.
    pub fn is_larger_outside(&self, outside_a: f64, inside_a: f64) -> bool {
        outside_a > inside_a && self.lowest_signal.is_some_and(|lowest| outside_a > OUTSIDE_FRACTION * lowest)
    }

    /// The width of a signal where it differs from the standards' by more than the tolerance and what noise explains.
    ///
    /// # Source
    /// Half height is crossed where the slope is about one height a half width: noise moves each crossing by about N/S.
    pub fn other_width(&self, signal: &Signal, tolerance: f64) -> Option<OtherWidth> {
        let (found_v, usual_v) = (signal.half_width_v?, self.half_width_v?);
        let limit = tolerance + 2.0 / signal.signal_to_noise?;
        let relative = (found_v - usual_v) / usual_v;
        (relative.abs() > limit).then_some(OtherWidth { found_v, usual_v, relative, limit })
    }
}

impl Refusal {
    /// Whether the search looked at a corrected curve before it refused.
    pub fn has_corrected_curve(&self) -> bool {
        matches!(self, Self::NoPeak { .. } | Self::MaximumOnWindowEdge { .. })
    }

    /// A maximum on the edge that does not stand out of the noise is no peak, wherever chance has put it; other refusals stay.
    ///
    /// `noise_a` is asked for only where it matters; it is judged in the middle of the window, and none counts as zero.
    ///
    /// # Source
    /// Common practice, no source.
    #[must_use]
    pub fn edge_or_noise(self, least_signal_to_noise: f64, noise_a: impl FnOnce() -> Option<f64>) -> Self {
        let Self::MaximumOnWindowEdge { index, height_a } = self else { return self };
        let noise_a = noise_a().unwrap_or(0.0);
        if height_a < least_signal_to_noise * noise_a {
            Self::NoPeak { index, height_a, noise_a }
        } else {
            self
        }
    }
}

impl Settings<'_> {
    /// The same without a search: a height is taken at `place` (without one over the window), an area or a height at a potential
    /// of its own as it is. There is no peak to hold against its background, its noise or a second one.
    ///
    /// # Source
    /// Common practice, no source: a search would pick the highest noise and censor a detection limit.
    #[must_use]
    pub fn without_search(mut self, place: Option<FixedPotential>) -> Self {
        self.peak.placement = Placement::FixedWindow;
        self.limits = PeakLimits::NONE;
        if let (Measure::Height, Some(place)) = (self.peak.measure, place) {
            self.peak.measure = Measure::HeightAt(place);
        }
        self
    }

    /// Where a larger peak beside the window is looked for on `n_points` points, as inclusive ranges: between the baseline's ends,
    /// before the window and after it.
    ///
    /// # Source
    /// Common practice, no source.
    pub fn outside_ranges(&self, n_points: usize) -> [Option<IndexRange>; 2] {
        let span = match self.baseline {
            Baseline::Line { before, after }
            | Baseline::Minima { before, after }
            | Baseline::Polynomial { before, after, .. } => {
                IndexRange { first: before.first, last: after.last }
            }
            Baseline::Tangent { search } => search,
            Baseline::AsymmetricLeastSquares(_) => IndexRange { first: 0, last: n_points.saturating_sub(1) },
            // Without a baseline a height is no peak's.
            Baseline::None => return [None; 2],
        };
        let window = self.peak.window;
        let end = span.last.saturating_add(1).min(n_points);
        [(span.first, end.min(window.first)), (span.first.max(window.last.saturating_add(1)), end)]
            .map(|(first, end)| (first < end).then(|| IndexRange { first, last: end - 1 }))
    }

    /// Place and height (A) of the largest corrected current there, of equal ones the last; none where the evaluation stopped
    /// before it had a corrected curve.
    ///
    /// # Source
    /// Common practice, no source.
    pub fn largest_outside(
        &self,
        found: &Result<Signal, Refusal>,
        corrected_a: &[f64],
    ) -> Option<(usize, f64)> {
        if found.is_err_and(|refusal| !refusal.has_corrected_curve()) {
            return None;
        }
        let mut largest: Option<(usize, f64)> = None;
        for range in self.outside_ranges(corrected_a.len()).into_iter().flatten() {
            for (k, height_a) in range.of(corrected_a).iter().enumerate() {
                if largest.is_none_or(|(_, high)| height_a.total_cmp(&high).is_ge()) {
                    largest = Some((range.first + k, *height_a));
                }
            }
        }
        largest
    }
}

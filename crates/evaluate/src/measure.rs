//! The peak on the corrected curve: vertex, measures, width, noise and flags.

use crate::baseline::Drawn;
use crate::blocks::{first_that, index_of_largest, last_that, sum};
use crate::evaluator::{Evaluator, noise_a};
use crate::refusal::Refusal;
use crate::settings::{AreaLimits, IndexRange, Measure, Placement};
use crate::signal::{Flag, Flags, Signal};
use crate::workspace::Workspace;

/// What the steps before the peak report.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Corrected {
    pub(crate) despiked: usize,
    pub(crate) drawn: Drawn,
}

/// A place on the curve between two points: between `index` and the next, at `potential_v`.
#[derive(Debug, Clone, Copy)]
struct Crossing {
    index: usize,
    potential_v: f64,
    found: bool,
}

#[inline(always)]
pub(crate) fn measure(
    evaluator: &Evaluator<'_>,
    blank_a: Option<&[f64]>,
    workspace: &Workspace<'_>,
    found: Corrected,
) -> Result<Signal, Refusal> {
    let settings = &evaluator.settings;
    let curve = Curve { potential_v: evaluator.potential_v, corrected: workspace.corrected };
    let window = settings.peak.window;
    let noise_a = noise_a(settings, workspace);
    let mut flags = Flags::NONE;
    flags.set(Flag::Despiked, found.despiked > 0);
    let mut signal = Signal {
        signal_a: 0.0,
        height_a: 0.0,
        peak_potential_v: None,
        peak_index: window.first.midpoint(window.last),
        half_width_v: None,
        foot_potential_v: [curve.potential_v[window.first], curve.potential_v[window.last]],
        baseline_points: found.drawn.points,
        baseline_at_peak_a: 0.0,
        noise_a,
        signal_to_noise: None,
        background_ratio: None,
        despiked: found.despiked,
        baseline_iterations: found.drawn.iterations,
        flags,
    };
    let mean_a = || sum(window.of(curve.corrected)) / window.n_points() as f64;
    let area = || curve.area_over(window.first, window.last);
    match settings.peak.placement {
        Placement::FixedWindow => {
            // An area is no height: the mean over the window stands in for it in the ratios.
            (signal.signal_a, signal.height_a) = match settings.peak.measure {
                Measure::Height => (mean_a(), mean_a()),
                Measure::Area(_) => (area(), mean_a()),
                Measure::HeightAt(place) => {
                    let height_a = curve.between(place.index, place.fraction);
                    (height_a, height_a)
                }
            };
        }
        Placement::Search => {
            let feet = curve.search(evaluator, &mut signal)?;
            signal.signal_a = match settings.peak.measure {
                Measure::Height => signal.height_a,
                Measure::Area(AreaLimits::Crossings) => curve.area_between(feet),
                Measure::Area(AreaLimits::Window) => area(),
                Measure::HeightAt(place) => curve.between(place.index, place.fraction),
            };
        }
    }
    finish(evaluator, blank_a, workspace, signal)
}

/// Ratios and flags, once the height is known.
#[inline(always)]
fn finish(
    evaluator: &Evaluator<'_>,
    blank_a: Option<&[f64]>,
    workspace: &Workspace<'_>,
    mut signal: Signal,
) -> Result<Signal, Refusal> {
    let limits = &evaluator.settings.limits;
    let at = signal.peak_index;
    signal.baseline_at_peak_a = workspace.baseline[at];
    let background_a = blank_a.map_or(0.0, |blank| blank[at]) + signal.baseline_at_peak_a;
    signal.background_ratio = (signal.height_a > 0.0).then(|| absolute(background_a) / signal.height_a);
    signal.signal_to_noise = signal.noise_a.filter(|noise| *noise > 0.0).map(|noise| signal.height_a / noise);
    if let (Some(ratio), Some(limit)) = (signal.background_ratio, limits.max_background_ratio) {
        signal.flags.set(Flag::BackgroundSwallowsPeak, ratio > limit);
    }
    if let (Some(peak_v), Some((reference_v, limit_v))) =
        (signal.peak_potential_v, limits.reference_potential_v)
    {
        signal.flags.set(Flag::PotentialShifted, absolute(peak_v - reference_v) > limit_v);
    }
    // −0.0 + 0.0 is +0.0.
    signal.signal_a += 0.0;
    if signal.signal_a.is_finite() && signal.height_a.is_finite() && signal.baseline_at_peak_a.is_finite() {
        Ok(signal)
    } else {
        Err(Refusal::OutOfNumberRange)
    }
}

/// The corrected curve on its grid.
#[derive(Clone, Copy)]
struct Curve<'a> {
    potential_v: &'a [f64],
    corrected: &'a [f64],
}

impl Curve<'_> {
    /// Finds the peak in the window and fills in what belongs to it; returns its feet.
    #[inline(always)]
    fn search(self, evaluator: &Evaluator<'_>, signal: &mut Signal) -> Result<[Crossing; 2], Refusal> {
        let (window, limits) = (evaluator.settings.peak.window, &evaluator.settings.limits);
        let inside = between_points(window, signal.baseline_points);
        let index = inside.first + index_of_largest(inside.of(self.corrected));
        if index == inside.first || index == inside.last {
            return Err(Refusal::MaximumOnWindowEdge { index, height_a: self.corrected[index] });
        }
        let (peak_v, height_a) = self.vertex(index);
        let noise_a = signal.noise_a.unwrap_or(0.0);
        let least_a = limits.min_signal_to_noise.unwrap_or(0.0) * noise_a;
        if !height_a.is_finite() || !peak_v.is_finite() || !noise_a.is_finite() {
            return Err(Refusal::OutOfNumberRange);
        }
        if height_a <= 0.0 || height_a < least_a {
            return Err(Refusal::NoPeak { index, height_a, noise_a });
        }
        signal.peak_index = index;
        signal.height_a = height_a;
        signal.peak_potential_v = Some(peak_v);
        let (half_a, end) = (0.5 * height_a, self.corrected.len() - 1);
        let half = [self.fall_before(index, 0, half_a), self.fall_after(index, end, half_a)];
        let feet = [self.fall_before(index, inside.first, 0.0), self.fall_after(index, inside.last, 0.0)];
        signal.foot_potential_v = feet.map(|foot| foot.potential_v);
        // A foot not found at a point of the baseline lies there but for rounding.
        let open = (!feet[0].found && inside.first == window.first)
            || (!feet[1].found && inside.last == window.last);
        let feet_needed = evaluator.settings.peak.measure == Measure::Area(AreaLimits::Crossings);
        signal.flags.set(Flag::FootOpen, feet_needed && open);
        if half[0].found && half[1].found {
            signal.half_width_v = Some(absolute(half[1].potential_v - half[0].potential_v));
        } else {
            signal.flags.set(Flag::HalfWidthOpen, true);
        }
        if let Some(fraction) = limits.second_peak_fraction {
            let rise_a = self.second_rise(window.first, index, window.last);
            signal.flags.set(Flag::TwoPeaks, rise_a > fraction * height_a && rise_a > least_a);
        }
        Ok(feet)
    }

    /// Vertex of the parabola through a point and its neighbours, uniform grid or not: potential, height.
    #[inline(always)]
    fn vertex(self, index: usize) -> (f64, f64) {
        let (x, y) = (&self.potential_v[index - 1..=index + 1], &self.corrected[index - 1..=index + 1]);
        let (step_before, step_after) = (x[1] - x[0], x[2] - x[1]);
        let slope_before = (y[1] - y[0]) / step_before;
        let slope_after = (y[2] - y[1]) / step_after;
        let span = step_before + step_after;
        let curvature = (slope_after - slope_before) / span;
        let slope = (slope_before * step_after + slope_after * step_before) / span;
        if curvature == 0.0 {
            return (x[1], y[1]);
        }
        let shift = -slope / (2.0 * curvature);
        (x[1] + shift, y[1] + 0.5 * slope * shift)
    }

    /// Going back from the peak: where the curve first falls to `level`, at most at point `limit`.
    #[inline(always)]
    fn fall_before(self, peak: usize, limit: usize, level: f64) -> Crossing {
        match last_that(&self.corrected[limit..peak], |y| y <= level) {
            Some(i) => self.crossing(limit + i, level),
            None => Crossing { index: limit, potential_v: self.potential_v[limit], found: false },
        }
    }

    /// The same going on from the peak.
    #[inline(always)]
    fn fall_after(self, peak: usize, limit: usize, level: f64) -> Crossing {
        match first_that(&self.corrected[peak + 1..=limit], |y| y <= level) {
            Some(i) => self.crossing(peak + i, level),
            None => Crossing { index: limit, potential_v: self.potential_v[limit], found: false },
        }
    }

    /// Linear interpolation of `level` between a point and the next, which lie on either side of it.
    #[inline(always)]
    fn crossing(self, index: usize, level: f64) -> Crossing {
        let (x0, x1) = (self.potential_v[index], self.potential_v[index + 1]);
        let (y0, y1) = (self.corrected[index], self.corrected[index + 1]);
        let fraction = if y0 == y1 { 0.5 } else { (level - y0) / (y1 - y0) };
        Crossing { index, potential_v: x0 + fraction * (x1 - x0), found: true }
    }

    /// The highest rise out of a valley on the way from the peak to either end of the window.
    #[inline(always)]
    fn second_rise(self, first: usize, peak: usize, last: usize) -> f64 {
        let rise = |lowest_and_rise: (f64, f64), y: &f64| {
            let lowest = if *y < lowest_and_rise.0 { *y } else { lowest_and_rise.0 };
            let rise = *y - lowest;
            (lowest, if rise > lowest_and_rise.1 { rise } else { lowest_and_rise.1 })
        };
        let start = (self.corrected[peak], 0.0);
        let before = self.corrected[first..peak].iter().rev().fold(start, rise).1;
        let after = self.corrected[peak + 1..=last].iter().fold(start, rise).1;
        if before > after { before } else { after }
    }

    #[inline(always)]
    fn between(self, index: usize, fraction: f64) -> f64 {
        self.corrected[index] + fraction * (self.corrected[index + 1] - self.corrected[index])
    }

    /// Trapezium rule from point to point, from first to last; positive for a positive curve whichever way the scan runs.
    #[inline(always)]
    fn area_over(self, first: usize, last: usize) -> f64 {
        let mut area = 0.0;
        for i in first..last {
            let step = absolute(self.potential_v[i + 1] - self.potential_v[i]);
            area += (0.5 * self.corrected[i] + 0.5 * self.corrected[i + 1]) * step;
        }
        area
    }

    /// The same from foot to foot, the outermost pieces as triangles where the curve reaches zero.
    #[inline(always)]
    fn area_between(self, [left, right]: [Crossing; 2]) -> f64 {
        let first = if left.found { left.index + 1 } else { left.index };
        let mut area = self.area_over(first, right.index);
        for (foot, inner) in [(left, first), (right, right.index)] {
            if foot.found {
                let width = absolute(self.potential_v[inner] - foot.potential_v);
                area += 0.5 * self.corrected[inner] * width;
            }
        }
        area
    }
}

/// Where the peak and its feet may lie: the window, cut at the points on which the baseline rests.
///
/// Beyond them the extended line runs below the curve without meaning, and at them the curve meets it by construction, though
/// rounding may leave it a hair above: a foot sought further on would be found or not by chance.
fn between_points(window: IndexRange, points: Option<[usize; 2]>) -> IndexRange {
    let [before, after] = points.unwrap_or([window.first, window.last]);
    let cut = IndexRange { first: window.first.max(before), last: window.last.min(after) };
    if cut.first < cut.last { cut } else { window }
}

#[inline(always)]
fn absolute(x: f64) -> f64 {
    f64::from_bits(x.to_bits() & !(1 << 63))
}

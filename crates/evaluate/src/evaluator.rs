//! One prepared evaluation: grid and settings checked once, then scan after scan.

use crate::blocks::{self, first_not_finite, map_pairs, sum_pairs};
use crate::despike::despike_checked;
use crate::measure::{Corrected, measure};
use crate::refusal::{RangeName, Refusal, SettingName};
use crate::settings::{Measure, PeakLimits, Settings};
use crate::signal::Signal;
use crate::wide;
use crate::workspace::Workspace;

/// Settings that were found usable on one grid of potentials.
#[derive(Debug, Clone, Copy)]
pub struct Evaluator<'a> {
    pub(crate) potential_v: &'a [f64],
    pub(crate) settings: Settings<'a>,
}

impl<'a> Evaluator<'a> {
    /// Checks grid and settings.
    ///
    /// # Units
    /// `potential_v` in V, strictly rising or falling, uniform or not, at least 3 points.
    ///
    /// # Errors
    /// [`Refusal::PotentialNotMonotonic`], [`Refusal::RangeNotUsable`], [`Refusal::SettingNotUsable`],
    /// [`Refusal::TooFewPoints`].
    ///
    /// # Example
    /// See [`Evaluator::evaluate`].
    pub fn new(potential_v: &'a [f64], settings: Settings<'a>) -> Result<Self, Refusal> {
        let n = potential_v.len();
        if n < 3 {
            return Err(Refusal::TooFewPoints { found: n, needed: 3 });
        }
        if let Some(index) = first_out_of_order(potential_v) {
            return Err(Refusal::PotentialNotMonotonic { index });
        }
        if let Some(rule) = &settings.despike {
            rule.check()?;
        }
        if let Some(smoother) = &settings.smoother
            && smoother.window() > n
        {
            return Err(Refusal::TooFewPoints { found: n, needed: smoother.window() });
        }
        check_ranges(&settings, n)?;
        settings.baseline.check(&settings.peak, n)?;
        check_limits(&settings.limits)?;
        Ok(Self { potential_v, settings })
    }

    /// Points of the grid.
    pub fn n_points(&self) -> usize {
        self.potential_v.len()
    }

    /// The potentials, V.
    pub fn potential_v(&self) -> &'a [f64] {
        self.potential_v
    }

    /// The settings.
    pub fn settings(&self) -> &Settings<'a> {
        &self.settings
    }

    /// Evaluates one whole scan: despiking, blank, smoothing, baseline, peak.
    ///
    /// The curves in between stay in `workspace` for figures and the chain of evidence, also after
    /// [`Refusal::MaximumOnWindowEdge`] and [`Refusal::NoPeak`].
    ///
    /// # Units
    /// A; `current_a` and `blank_a` have the grid's length. A reduction's current is negative.
    ///
    /// # Errors
    /// Any [`Refusal`] that speaks of a scan.
    ///
    /// # Source
    /// Each step names its own.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::*;
    /// let potential_v: [f64; 9] = core::array::from_fn(|i| -0.1 * i as f64);
    /// let settings = Settings {
    ///     despike: None,
    ///     smoother: None,
    ///     baseline: Baseline::Line {
    ///         before: IndexRange { first: 0, last: 1 },
    ///         after: IndexRange { first: 7, last: 8 },
    ///     },
    ///     peak: PeakSettings {
    ///         window: IndexRange { first: 2, last: 6 },
    ///         direction: Direction::Reduction,
    ///         placement: Placement::Search,
    ///         measure: Measure::Height,
    ///     },
    ///     noise: [None, None],
    ///     limits: PeakLimits::NONE,
    /// };
    /// let evaluator = Evaluator::new(&potential_v, settings)?;
    /// let mut storage = [0.0; Workspace::storage_len(9)];
    /// let mut workspace = Workspace::new(&mut storage, 9)?;
    /// let scan = [-1.0, -1.0, -1.0, -2.0, -3.0, -2.0, -1.0, -1.0, -1.0].map(|x| 1e-6 * x);
    /// let signal = evaluator.evaluate(&scan, None, &mut workspace)?;
    /// assert!((signal.signal_a - 2e-6).abs() < 1e-18);
    /// assert_eq!(signal.peak_index, 4);
    /// # Ok::<(), Refusal>(())
    /// ```
    pub fn evaluate(
        &self,
        current_a: &[f64],
        blank_a: Option<&[f64]>,
        workspace: &mut Workspace<'_>,
    ) -> Result<Signal, Refusal> {
        let expected = self.n_points();
        for found in [current_a.len(), blank_a.map_or(expected, <[f64]>::len), workspace.n_points()] {
            if found != expected {
                return Err(Refusal::LengthsDiffer { expected, found });
            }
        }
        wide::evaluate(self, current_a, blank_a, workspace)
    }

    /// [`Evaluator::evaluate`] after its checks of lengths.
    #[inline(always)]
    pub(crate) fn evaluate_checked(
        &self,
        current_a: &[f64],
        blank_a: Option<&[f64]>,
        workspace: &mut Workspace<'_>,
    ) -> Result<Signal, Refusal> {
        let despiked = self.prepare(current_a, blank_a, workspace)?;
        let drawn = self.settings.baseline.draw(
            self.potential_v,
            workspace.smoothed,
            &self.settings.peak,
            workspace.baseline,
            workspace.scratch,
        )?;
        self.finish(blank_a, workspace, Corrected { despiked, drawn })
    }

    /// Despiking, subtraction and smoothing; returns the number of repaired points.
    #[inline(always)]
    pub(crate) fn prepare(
        &self,
        current_a: &[f64],
        blank_a: Option<&[f64]>,
        workspace: &mut Workspace<'_>,
    ) -> Result<usize, Refusal> {
        let Workspace { subtracted, smoothed, baseline, corrected, .. } = workspace;
        let mut despiked = 0;
        subtract(current_a, blank_a, subtracted)?;
        if let Some(rule) = &self.settings.despike {
            despiked = despike_checked(rule, current_a, corrected, baseline);
            subtract(corrected, blank_a, subtracted)?;
        }
        match &self.settings.smoother {
            Some(smoother) => smoother.smooth_checked(subtracted, smoothed),
            None => smoothed.copy_from_slice(subtracted),
        }
        Ok(despiked)
    }

    /// From the baseline to the signal.
    #[inline(always)]
    pub(crate) fn finish(
        &self,
        blank_a: Option<&[f64]>,
        workspace: &mut Workspace<'_>,
        found: Corrected,
    ) -> Result<Signal, Refusal> {
        let sign = self.settings.peak.direction.sign();
        let Workspace { smoothed, baseline, corrected, .. } = workspace;
        map_pairs(smoothed, baseline, corrected, |y, b| sign * (y - b));
        measure(self, blank_a, workspace, found)
    }
}

/// scan − blank, refusing what is not finite.
#[inline(always)]
fn subtract(current_a: &[f64], blank_a: Option<&[f64]>, subtracted: &mut [f64]) -> Result<(), Refusal> {
    let bad = if let Some(blank_a) = blank_a {
        blocks::subtract(current_a, blank_a, subtracted)
    } else {
        subtracted.copy_from_slice(current_a);
        first_not_finite(subtracted)
    };
    bad.map_or(Ok(()), |index| Err(Refusal::NotFinite { index }))
}

fn first_out_of_order(potential_v: &[f64]) -> Option<usize> {
    let rising = potential_v.first() < potential_v.last();
    let in_order = |from: f64, to: f64| if rising { from < to } else { from > to };
    let neighbours = potential_v.iter().zip(potential_v.iter().skip(1));
    potential_v
        .iter()
        .position(|v| !v.is_finite())
        .or_else(|| neighbours.enumerate().find(|(_, (a, b))| !in_order(**a, **b)).map(|(i, _)| i + 1))
}

fn check_ranges(settings: &Settings<'_>, n: usize) -> Result<(), Refusal> {
    let window = settings.peak.window;
    let refuse = |range, first, last| Err(Refusal::RangeNotUsable { range, first, last });
    if !window.fits(n) {
        return refuse(RangeName::PeakWindow, window.first, window.last);
    }
    for range in settings.noise.iter().flatten() {
        let apart = range.last < window.first || window.last < range.first;
        if !range.fits(n) || !apart || range.n_points() < 3 {
            return refuse(RangeName::Noise, range.first, range.last);
        }
    }
    if let Measure::HeightAt(place) = settings.peak.measure
        && !(place.index < n - 1 && (0.0..=1.0).contains(&place.fraction))
    {
        return refuse(RangeName::FixedPotential, place.index, place.index.saturating_add(1));
    }
    Ok(())
}

fn check_limits(limits: &PeakLimits) -> Result<(), Refusal> {
    let (reference_v, shift_v) = limits.reference_potential_v.unwrap_or((0.0, 0.0));
    let given = [limits.min_signal_to_noise, limits.max_background_ratio, limits.second_peak_fraction];
    match given.into_iter().flatten().chain([shift_v]).find(|limit| !(*limit >= 0.0 && limit.is_finite())) {
        Some(value) => Err(Refusal::SettingNotUsable { setting: SettingName::Limit, value }),
        None if !reference_v.is_finite() => {
            Err(Refusal::SettingNotUsable { setting: SettingName::Limit, value: reference_v })
        }
        None => Ok(()),
    }
}

/// Standard deviation of the unsmoothed baseline residuals about each noise range's own mean, pooled.
#[inline(always)]
pub(crate) fn noise_a(settings: &Settings<'_>, workspace: &Workspace<'_>) -> Option<f64> {
    let (mut squares, mut degrees_of_freedom) = (0.0, 0);
    for range in settings.noise.iter().flatten() {
        let (current, baseline) = (range.of(workspace.subtracted), range.of(workspace.baseline));
        let mean = sum_pairs(current, baseline, |y, b| y - b) / range.n_points() as f64;
        squares += sum_pairs(current, baseline, |y, b| {
            let residual = (y - b) - mean;
            residual * residual
        });
        degrees_of_freedom += range.n_points() - 1;
    }
    (degrees_of_freedom > 0).then(|| libm::sqrt(squares / degrees_of_freedom as f64))
}

//! From a recorded scan to its signal: blank, despiking, smoothing, baseline, peak; refusals in words.

use stillwell_evaluate::{Evaluator, Flag, OtherWidth, Refusal, Signal, Smoother, StandardPeak, Workspace};

use crate::check::Check;
use crate::file::Method;
use crate::finding::{Effect, Finding, si, three_digits};
use crate::grid::{Search, WindowOffGrid, settings};
use crate::link::{Found, SignalLink};
use crate::run_sheet::ScanLabel;
use crate::sweep::Sweep;

/// With and without the blank may differ by this fraction before it is mentioned (common practice, no source).
const BLANK_MATTERS_FRACTION: f64 = 0.5;

/// What one evaluation needs beside the scan.
pub(crate) struct SignalStep<'m, 'w> {
    pub(crate) method: &'m Method,
    smoother: Option<Smoother<'w>>,
    /// The kernel's buffers, used scan after scan.
    storage: Vec<f64>,
    /// The kernel's constants so far: most scans share a grid, and what is looked for.
    prepared: Vec<Prepared<'w>>,
}

/// The kernel's constants on a grid, or why it does not take them.
struct Prepared<'w> {
    grid: usize,
    search: Search,
    reference: Option<(f64, f64)>,
    evaluator: Result<Evaluator<'w>, Stop>,
}

/// So many constants are kept.
const MOST_PREPARED: usize = 16;

/// A sweep, and the number of its grid.
#[derive(Clone, Copy)]
pub(crate) struct OnGrid<'a> {
    pub(crate) sweep: Sweep<'a>,
    pub(crate) grid: usize,
}

impl<'m, 'w> SignalStep<'m, 'w> {
    pub(crate) fn new(method: &'m Method, smoother: Option<Smoother<'w>>) -> Self {
        Self { method, smoother, storage: Vec::new(), prepared: Vec::new() }
    }

    /// Evaluates one sweep. A scan without a peak gives no signal but a [`Check::NoPeak`] finding; whoever
    /// knows where the peak would be measures it there with [`Search::At`].
    pub(crate) fn measure(
        &mut self,
        on_grid: OnGrid<'w>,
        blank_a: Option<&[f64]>,
        search: Search,
        standard: Option<&StandardPeak>,
        subject: ScanLabel<'_>,
        findings: &mut Vec<Finding>,
    ) -> Option<SignalLink> {
        let sweep = on_grid.sweep;
        let reference = standard.map(|standard| (standard.potential_v, self.method.reference.shift_limit_v));
        let mut beside = Beside::default();
        let outcome = self.evaluated(on_grid, blank_a, search, reference, Some(&mut beside));
        let Beside { outside, without_blank } = beside;
        if let (Some((index, height_a)), Some(standard), Search::ForPeak) = (outside, standard, search) {
            let inside_a = outcome.as_ref().map_or(0.0, |signal| signal.height_a);
            if standard.is_larger_outside(height_a, inside_a) {
                let found = format!(
                    "{} at {}, {} inside the window",
                    si(height_a, "A"),
                    potential(sweep, index),
                    si(inside_a, "A")
                );
                findings.push(Finding::new(Check::PeakOutside, Effect::Refused, subject, found));
            }
        }
        let signal = match outcome {
            Ok(signal) => signal,
            Err(stop) => {
                findings.push(self.edge_or_noise(stop, on_grid, blank_a).finding(sweep, subject));
                return None;
            }
        };
        self.remark(sweep, &signal, standard, subject, findings);
        if let Some(without) = without_blank
            && (without - signal.signal_a).abs() > BLANK_MATTERS_FRACTION * signal.signal_a.abs()
            && search == Search::ForPeak
        {
            let found = format!(
                "{} with the blank subtracted, {} without",
                si(signal.signal_a, "A"),
                si(without, "A")
            );
            findings.push(Finding::new(Check::BlankMatters, Effect::Noted, subject, found));
        }
        Some(SignalLink {
            signal: signal.signal_a,
            without_blank,
            found: if search == Search::ForPeak { Found::ByPeak } else { Found::AtFixedPotential },
            peak_potential_v: signal.peak_potential_v,
            half_width_v: signal.half_width_v,
            noise_a: signal.noise_a,
            signal_to_noise: signal.signal_to_noise,
            despiked: signal.despiked,
            peak_index: signal.peak_index,
            baseline_at_peak_a: signal.baseline_at_peak_a,
        })
    }

    /// The signal; `beside` is told what else the same settings show.
    fn evaluated(
        &mut self,
        on_grid: OnGrid<'w>,
        blank_a: Option<&[f64]>,
        search: Search,
        reference: Option<(f64, f64)>,
        beside: Option<&mut Beside>,
    ) -> Result<Signal, Stop> {
        let evaluator = self.evaluator(on_grid, search, reference)?;
        let sweep = on_grid.sweep;
        let n_points = sweep.potential_v.len();
        let needed = Workspace::storage_len(n_points);
        if self.storage.len() < needed {
            self.storage.resize(needed, 0.0);
        }
        let mut workspace = Workspace::new(&mut self.storage, n_points)?;
        let signal = evaluator.evaluate(sweep.current_a, blank_a, &mut workspace);
        if let Some(beside) = beside {
            beside.outside = evaluator.settings().largest_outside(&signal, workspace.corrected_a());
            if signal.is_ok() && blank_a.is_some() {
                let without = evaluator.evaluate(sweep.current_a, None, &mut workspace);
                beside.without_blank = without.ok().map(|signal| signal.signal_a);
            }
        }
        Ok(signal?)
    }

    fn evaluator(
        &mut self,
        OnGrid { sweep, grid }: OnGrid<'w>,
        search: Search,
        reference: Option<(f64, f64)>,
    ) -> Result<Evaluator<'w>, Stop> {
        let is_wanted =
            |one: &&Prepared<'w>| one.grid == grid && one.search == search && one.reference == reference;
        if let Some(known) = self.prepared.iter().find(is_wanted) {
            return known.evaluator;
        }
        let plan = &self.method.evaluation;
        let evaluator = settings(plan, sweep.potential_v, self.smoother, search, reference)
            .map_err(Stop::from)
            .and_then(|settings| Ok(Evaluator::new(sweep.potential_v, settings)?));
        if self.prepared.len() >= MOST_PREPARED {
            self.prepared.clear();
        }
        self.prepared.push(Prepared { grid, search, reference, evaluator });
        evaluator
    }

    /// The noise beside an edge maximum is judged in the middle of the window.
    fn edge_or_noise(&mut self, stop: Stop, on_grid: OnGrid<'w>, blank_a: Option<&[f64]>) -> Stop {
        let Stop::Kernel(refusal) = stop else { return stop };
        let peak = &self.method.evaluation.peak;
        let [low_v, high_v] = peak.window_v;
        let middle = Search::At(f64::midpoint(low_v, high_v));
        let noise_a = || self.evaluated(on_grid, blank_a, middle, None, None).ok()?.noise_a;
        Stop::Kernel(refusal.edge_or_noise(peak.least_signal_to_noise, noise_a))
    }

    fn remark(
        &self,
        sweep: Sweep<'_>,
        signal: &Signal,
        standard: Option<&StandardPeak>,
        subject: ScanLabel<'_>,
        findings: &mut Vec<Finding>,
    ) {
        let tolerance = self.method.evaluation.peak.width_tolerance;
        if let Some(other) = standard.and_then(|standard| standard.other_width(signal, tolerance)) {
            let OtherWidth { found_v, usual_v, relative, limit } = other;
            let found = format!(
                "width {:.0} mV, calibration's {:.0} mV ({:+.0} %), limit ±{} %",
                1e3 * found_v,
                1e3 * usual_v,
                100.0 * relative,
                three_digits(100.0 * limit)
            );
            findings.push(Finding::new(Check::PeakWidth, Effect::Refused, subject, found));
        }
        for flag in signal.flags.iter() {
            let (check, effect, found) = match flag {
                Flag::Despiked => {
                    (Check::DespikedPoints, Effect::Warned, format!("{} point(s) replaced", signal.despiked))
                }
                Flag::BackgroundSwallowsPeak => (
                    Check::BackgroundSwallowsPeak,
                    Effect::Refused,
                    format!(
                        "the background is {:.0} times the height of {}",
                        signal.background_ratio.unwrap_or(f64::NAN),
                        si(signal.height_a, "A")
                    ),
                ),
                Flag::TwoPeaks => (
                    Check::TwoPeaks,
                    Effect::Refused,
                    format!("a second maximum beside the one at {}", potential(sweep, signal.peak_index)),
                ),
                Flag::PotentialShifted => (
                    Check::PeakShift,
                    Effect::Refused,
                    format!(
                        "peak at {:.3} V, calibration's at {:.3} V, limit ±{}",
                        signal.peak_potential_v.unwrap_or(f64::NAN),
                        standard.map_or(f64::NAN, |standard| standard.potential_v),
                        si(self.method.reference.shift_limit_v, "V")
                    ),
                ),
                Flag::HalfWidthOpen | Flag::FootOpen => continue,
            };
            findings.push(Finding::new(check, effect, subject, found));
        }
    }
}

/// What an evaluation shows beside its signal.
#[derive(Default)]
struct Beside {
    /// Place and height of the largest maximum beside the peak's window, with and without a signal.
    outside: Option<(usize, f64)>,
    /// The signal without the blank.
    without_blank: Option<f64>,
}

/// Why an evaluation stopped.
#[derive(Clone, Copy)]
enum Stop {
    OffGrid(WindowOffGrid),
    Kernel(Refusal),
}

impl From<WindowOffGrid> for Stop {
    fn from(window: WindowOffGrid) -> Self {
        Self::OffGrid(window)
    }
}

impl From<Refusal> for Stop {
    fn from(refusal: Refusal) -> Self {
        Self::Kernel(refusal)
    }
}

impl Stop {
    fn finding(self, sweep: Sweep<'_>, subject: ScanLabel<'_>) -> Finding {
        let refused = |check, found: String| Finding::new(check, Effect::Refused, subject, found);
        match self {
            Self::OffGrid(WindowOffGrid { window_v: [low, high] }) => {
                refused(Check::WrongWindow, format!("the scan does not reach {low:.3} V to {high:.3} V"))
            }
            Self::Kernel(Refusal::MaximumOnWindowEdge { index, height_a }) => refused(
                Check::EdgeMaximum,
                format!("maximum of {} on the edge, at {}", si(height_a, "A"), potential(sweep, index)),
            ),
            Self::Kernel(Refusal::NoPeak { height_a, noise_a, .. }) => refused(
                Check::NoPeak,
                format!("height {} at a noise of {}", si(height_a, "A"), si(noise_a, "A")),
            ),
            Self::Kernel(Refusal::BaselineNotSettled { iterations }) => {
                refused(Check::BaselineUnsettled, format!("not settled after {iterations} iterations"))
            }
            Self::Kernel(Refusal::TooFewPoints { found, needed }) => {
                refused(Check::TooFewPoints, format!("{found} points, {needed} needed"))
            }
            Self::Kernel(Refusal::NotFinite { index }) => {
                refused(Check::OverloadMarks, format!("no number at {}", potential(sweep, index)))
            }
            Self::Kernel(Refusal::PotentialNotMonotonic { index }) => refused(
                Check::MissingPoints,
                format!("the potential turns or stands still at {}", potential(sweep, index)),
            ),
            Self::Kernel(other) => refused(
                Check::BaselineUnsettled,
                format!("the windows of [evaluation] do not fit: {other:?}"),
            ),
        }
    }
}

fn potential(sweep: Sweep<'_>, index: usize) -> String {
    sweep.potential_v.get(index).map_or_else(|| format!("point {}", index + 1), |at_v| format!("{at_v:.3} V"))
}

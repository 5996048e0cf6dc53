//! One scan from its first point to its signal: begin, push, finish.

use super::{FrozenLot, FrozenMethod, FrozenPeak};
use crate::evaluator::Evaluator;
use crate::refusal::Refusal;
use crate::settings::FixedPotential;
use crate::signal::{Flag, Signal};
use crate::trust::{RawScan, TrustCheck, TrustReport, check_scan};
use crate::workspace::Workspace;

/// One point as the converter delivers it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The current that is evaluated (A).
    pub current_a: f64,
    /// Forward current (A); read only where the method has it.
    pub forward_a: f64,
    /// Reverse current (A).
    pub reverse_a: f64,
    /// The converter marked this point as overloaded.
    pub overload: bool,
}

/// Buffers of a run, of the grid's length each.
#[derive(Debug)]
pub struct FrozenStorage<'s> {
    /// Currents as recorded.
    pub current_a: &'s mut [f64],
    /// Forward currents.
    pub forward_a: &'s mut [f64],
    /// Reverse currents.
    pub reverse_a: &'s mut [f64],
    /// Room for the medians of the trust checks.
    pub order: &'s mut [f64],
    /// Indices of overloaded points.
    pub overload: &'s mut [usize],
}

/// Why a scan was refused; the number is its bit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u32)]
pub enum FrozenReason {
    /// A trust check failed.
    Trust = 0x01,
    /// The evaluation stopped: see the refusal.
    Evaluation = 0x02,
    /// A larger peak stands beside the window.
    PeakOutside = 0x04,
    /// The peak is wider or narrower than the standards'.
    PeakWidth = 0x08,
    /// Blank and baseline are far larger than the peak.
    Background = 0x10,
    /// Two peaks in the window.
    TwoPeaks = 0x20,
    /// The peak is not where the standards have theirs.
    PeakShift = 0x40,
    /// Leaving this scan out would make the rest of the sample read too low.
    CondemnsSample = 0x100,
}

/// A set of [`FrozenReason`]s.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct FrozenReasons(u32);

impl FrozenReasons {
    /// The bits.
    pub fn bits(self) -> u32 {
        self.0
    }

    /// Whether a reason is among them.
    ///
    /// ```
    /// use stillwell_evaluate::{FrozenReason, FrozenReasons};
    /// assert!(!FrozenReasons::default().contains(FrozenReason::Trust));
    /// ```
    pub fn contains(self, reason: FrozenReason) -> bool {
        self.0 & reason as u32 != 0
    }

    fn add_if(&mut self, condition: bool, reasons: &[FrozenReason]) {
        if condition {
            self.0 = reasons.iter().fold(self.0, |bits, reason| bits | *reason as u32);
        }
    }
}

/// What came of a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum ScanOutcome {
    /// A peak was found.
    SignalByPeak = 1,
    /// No peak: measured where the standards have theirs.
    SignalAtPlace = 2,
    /// No signal.
    Refused = 3,
}

/// A finished scan with the numbers that speak for or against it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanResult {
    /// The trust checks.
    pub trust: TrustReport,
    /// What came of it.
    pub outcome: ScanOutcome,
    /// Why it was refused; empty otherwise.
    pub reasons: FrozenReasons,
    /// Why the search stopped; stays where a signal was measured at the place.
    pub refusal: Option<Refusal>,
    /// Place and height (A) of the largest maximum beside the window, where one was looked for.
    pub outside: Option<(usize, f64)>,
    /// The signal, unless refused.
    pub signal: Option<Signal>,
    /// The spike check failed, and the method repairs spikes.
    pub spikes_warned: bool,
    /// The workspace holds this scan's curves.
    pub has_curves: bool,
}

/// A scan in the making.
#[derive(Debug)]
pub struct ScanRun<'m, 's> {
    method: &'m FrozenMethod<'m>,
    lot: &'m FrozenLot<'m>,
    blank_a: Option<&'m [f64]>,
    storage: FrozenStorage<'s>,
    n_pushed: usize,
    n_overload: usize,
}

impl<'m> FrozenMethod<'m> {
    /// Begins a scan.
    ///
    /// # Units
    /// A; the blank and every buffer have the grid's length.
    ///
    /// # Errors
    /// [`Refusal::LengthsDiffer`].
    ///
    /// # Source
    /// Each step names its own.
    pub fn begin<'s>(
        &'m self,
        lot: &'m FrozenLot<'m>,
        blank_a: Option<&'m [f64]>,
        storage: FrozenStorage<'s>,
    ) -> Result<ScanRun<'m, 's>, Refusal> {
        let expected = self.potential_v.len();
        let blank_a = blank_a.filter(|_| self.uses_blank);
        let blank_len = if self.uses_blank { blank_a.map_or(0, <[f64]>::len) } else { expected };
        let FrozenStorage { current_a, forward_a, reverse_a, order, overload } = &storage;
        let lengths =
            [blank_len, current_a.len(), forward_a.len(), reverse_a.len(), order.len(), overload.len()];
        match lengths.into_iter().find(|found| *found != expected) {
            Some(found) => Err(Refusal::LengthsDiffer { expected, found }),
            None => Ok(ScanRun { method: self, lot, blank_a, storage, n_pushed: 0, n_overload: 0 }),
        }
    }
}

impl ScanRun<'_, '_> {
    /// Takes the next point, whatever it holds: what is no number is counted by the trust checks.
    ///
    /// # Errors
    /// [`Refusal::LengthsDiffer`] for a point too many.
    pub fn push(&mut self, point: Point) -> Result<(), Refusal> {
        let index = self.n_pushed;
        let expected = self.method.potential_v.len();
        let storage = &mut self.storage;
        let places = (
            storage.current_a.get_mut(index),
            storage.forward_a.get_mut(index),
            storage.reverse_a.get_mut(index),
        );
        let (Some(current_a), Some(forward_a), Some(reverse_a)) = places else {
            return Err(Refusal::LengthsDiffer { expected, found: index + 1 });
        };
        (*current_a, *forward_a, *reverse_a) = (point.current_a, point.forward_a, point.reverse_a);
        if point.overload
            && let Some(mark) = storage.overload.get_mut(self.n_overload)
        {
            *mark = index;
            self.n_overload += 1;
        }
        self.n_pushed += 1;
        Ok(())
    }

    /// The trust checks, then the signal; the curves stay in `workspace`.
    ///
    /// # Errors
    /// [`Refusal::LengthsDiffer`] when points are missing or the workspace has another length; a refused scan is a result.
    pub fn finish(self, workspace: &mut Workspace<'_>) -> Result<ScanResult, Refusal> {
        let expected = self.method.potential_v.len();
        for found in [self.n_pushed, workspace.n_points()] {
            if found != expected {
                return Err(Refusal::LengthsDiffer { expected, found });
            }
        }
        let (method, current_a) = (self.method, &*self.storage.current_a);
        let raw = RawScan {
            potential_v: method.potential_v,
            current_a,
            forward_a: method.has_reverse.then_some(&*self.storage.forward_a),
            reverse_a: method.has_reverse.then_some(&*self.storage.reverse_a),
            overload_points: self.storage.overload.get(..self.n_overload).unwrap_or(&[]),
            interval_s: method.interval_s,
            resolution_a: None,
            range_end_a: method.range_end_a,
        };
        let trust = check_scan(&raw, &method.expected, &method.trust, self.storage.order);
        let mut result = ScanResult {
            trust,
            outcome: ScanOutcome::Refused,
            reasons: reasons_of(method, &trust),
            refusal: None,
            outside: None,
            signal: None,
            spikes_warned: method.settings.despike.is_some()
                && trust.failed().any(|finding| finding.check.is_repaired_by_despiking()),
            has_curves: false,
        };
        if result.reasons.bits() == 0 {
            let step = Step { method, peak: self.lot.peak, current_a, blank_a: self.blank_a };
            step.evaluate(workspace, &mut result);
        }
        Ok(result)
    }
}

/// Failed checks refuse; spikes only warn where the method repairs them point by point.
fn reasons_of(method: &FrozenMethod<'_>, trust: &TrustReport) -> FrozenReasons {
    let mut reasons = FrozenReasons::default();
    for finding in trust.failed() {
        let is_repaired = finding.check.is_repaired_by_despiking() && method.settings.despike.is_some();
        reasons.add_if(!is_repaired, &[FrozenReason::Trust]);
        let condemns = matches!(finding.check, TrustCheck::Clipping | TrustCheck::Overload);
        reasons.add_if(condemns, &[FrozenReason::CondemnsSample]);
    }
    reasons
}

/// One trusted scan on its way to a signal.
struct Step<'a> {
    method: &'a FrozenMethod<'a>,
    peak: Option<FrozenPeak>,
    current_a: &'a [f64],
    blank_a: Option<&'a [f64]>,
}

impl Step<'_> {
    fn evaluate(&self, workspace: &mut Workspace<'_>, result: &mut ScanResult) {
        let mut found = self.search(workspace);
        result.has_curves = !matches!(found, Err(Refusal::NotFinite { .. }));
        result.outside = self.method.settings.largest_outside(&found, workspace.corrected_a());
        if let (Some((_, outside_a)), Some(peak)) = (result.outside, self.peak) {
            let inside_a = found.map_or(0.0, |signal| signal.height_a);
            let is_larger = peak.standard.is_larger_outside(outside_a, inside_a);
            result.reasons.add_if(is_larger, &[FrozenReason::PeakOutside, FrozenReason::CondemnsSample]);
        }
        if let Err(refusal) = found {
            let least = self.method.settings.limits.min_signal_to_noise.unwrap_or(0.0);
            let in_the_middle = || self.measure_at(self.method.middle?, workspace).ok()?.noise_a;
            found = Err(refusal.edge_or_noise(least, in_the_middle));
        }
        match found {
            Ok(signal) => self.judge(signal, result),
            Err(refusal) => self.without_signal(refusal, workspace, result),
        }
    }

    fn search(&self, workspace: &mut Workspace<'_>) -> Result<Signal, Refusal> {
        let mut settings = self.method.settings;
        settings.limits.reference_potential_v =
            self.peak.map(|peak| (peak.standard.potential_v, self.method.shift_limit_v));
        Evaluator::new(self.method.potential_v, settings)?.evaluate(self.current_a, self.blank_a, workspace)
    }

    fn measure_at(&self, place: FixedPotential, workspace: &mut Workspace<'_>) -> Result<Signal, Refusal> {
        let settings = self.method.settings.without_search(Some(place));
        Evaluator::new(self.method.potential_v, settings)?.evaluate(self.current_a, self.blank_a, workspace)
    }

    fn judge(&self, signal: Signal, result: &mut ScanResult) {
        let (reasons, flags) = (&mut result.reasons, signal.flags);
        let other_width =
            self.peak.and_then(|peak| peak.standard.other_width(&signal, self.method.width_tolerance));
        reasons.add_if(other_width.is_some(), &[FrozenReason::PeakWidth, FrozenReason::CondemnsSample]);
        reasons.add_if(flags.contains(Flag::BackgroundSwallowsPeak), &[FrozenReason::Background]);
        reasons
            .add_if(flags.contains(Flag::TwoPeaks), &[FrozenReason::TwoPeaks, FrozenReason::CondemnsSample]);
        reasons.add_if(flags.contains(Flag::PotentialShifted), &[FrozenReason::PeakShift]);
        if reasons.bits() == 0 {
            (result.outcome, result.signal) = (ScanOutcome::SignalByPeak, Some(signal));
        }
    }

    /// No peak is no refusal yet: the scan is measured where the standards have theirs, and the sample decides.
    fn without_signal(&self, refusal: Refusal, workspace: &mut Workspace<'_>, result: &mut ScanResult) {
        result.refusal = Some(refusal);
        let place = self.peak.map(|peak| peak.place);
        if let (Refusal::NoPeak { .. }, Some(place), 0) = (refusal, place, result.reasons.bits()) {
            match self.measure_at(place, workspace) {
                Ok(signal) => {
                    (result.outcome, result.signal) = (ScanOutcome::SignalAtPlace, Some(signal));
                    return;
                }
                Err(stop) => result.refusal = Some(stop),
            }
        }
        let on_edge = matches!(result.refusal, Some(Refusal::MaximumOnWindowEdge { .. }));
        result.reasons.add_if(true, &[FrozenReason::Evaluation]);
        result.reasons.add_if(on_edge, &[FrozenReason::CondemnsSample]);
    }
}

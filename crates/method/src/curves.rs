//! The curves between a scan and its signal, for whoever wants to look at them.
//!
//! They come from the same blank, the same settings and the same kernel as the signal in the [`Report`], so that a picture
//! cannot disagree with the number.

use stillwell_evaluate::{Evaluator, FixedPotential, Workspace};

use crate::blank::Blanks;
use crate::check::Check;
use crate::determination::Report;
use crate::file::{EvaluationPlan, MeasurePlan, PeakDirection};
use crate::finding::Effect;
use crate::grid::{Search, Weights, settings};
use crate::grids::Grids;
use crate::group::group_of;
use crate::input::{Input, Record};
use crate::link::{Found, ScanLink};
use crate::placement::rising;
use crate::run_sheet::Role;
use crate::sweep::Sweep;

/// One scan with every curve on its way to a signal.
#[derive(Debug, Clone)]
pub struct ScanCurves<'a> {
    /// The scan's link: role, blanks, findings, signal.
    pub link: &'a ScanLink,
    /// Potentials of the passage that was evaluated, V.
    pub potential_v: &'a [f64],
    /// Current as recorded, A.
    pub current_a: &'a [f64],
    /// What was subtracted, A; none where the method uses no blank or none matches.
    pub blank_a: Option<Vec<f64>>,
    /// The curves of the evaluation; none where the scan was refused before it, excluded, or is a blank.
    pub evaluated: Option<EvaluatedCurves>,
    /// The windows of the evaluation, in the order of potential as the method states them.
    pub windows: Vec<EvaluationWindow>,
    /// Which way the peak points.
    pub direction: PeakDirection,
    /// What is measured on the peak.
    pub measure: MeasurePlan,
    /// Where and how the signal was measured; none without a signal.
    pub mark: Option<SignalMark>,
}

/// The curves that the kernel left behind.
#[derive(Debug, Clone, PartialEq)]
pub struct EvaluatedCurves {
    /// The despiked scan less the blank, A.
    pub subtracted_a: Vec<f64>,
    /// That curve smoothed, A.
    pub smoothed_a: Vec<f64>,
    /// The baseline, A.
    pub baseline_a: Vec<f64>,
    /// The two points on which a searched line baseline rests.
    pub baseline_points: Option<[usize; 2]>,
    /// The signal as the kernel gave it here, A or A·V; none where it refused.
    pub signal: Option<f64>,
}

/// A window of the evaluation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EvaluationWindow {
    /// What it is for.
    pub purpose: WindowPurpose,
    /// Its ends, V, the lower first.
    pub window_v: [f64; 2],
}

/// What a window of the evaluation is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WindowPurpose {
    /// The peak is looked for here.
    Peak,
    /// The baseline rests here.
    Baseline,
}

/// Where the signal was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SignalMark {
    /// The potential: the vertex, or the fixed potential, V.
    pub potential_v: f64,
    /// The baseline there, A.
    pub baseline_a: f64,
    /// The signal: A along the direction, or A·V for an area.
    pub signal: f64,
    /// As a peak, or without a search.
    pub found: Found,
}

/// The curves of one scan, by its place in the run sheet (from 0).
///
/// The evaluation is repeated with the report's own findings; `evaluated.signal` therefore has the bits of the scan's
/// signal link. None where `place` is not in the report, or the report belongs to another input.
///
/// # Units
/// V and A; reduction currents are negative.
pub fn curves<'a>(input: &'a Input, report: &'a Report, place: usize) -> Option<ScanCurves<'a>> {
    let method = &input.method;
    let records = input.records();
    let (record, link) = (records.get(place)?, report.scans.get(place)?);
    if records.len() != report.scans.len() || *record.row != link.row {
        return None;
    }
    let plan = &method.evaluation;
    let whole = Sweep { potential_v: &record.scan.potential_v, current_a: &record.scan.current_a };
    let sweep = Sweep::of(record.scan, &plan.peak).unwrap_or(whole);
    let is_measured = link.counts() && link.row.role != Role::Blank;
    let grids = Grids::of(method, &records);
    let blank_a = Some(Blanks::among(method, &records, &grids, &report.scans))
        .filter(|_| is_measured)
        .and_then(|mut blanks| blanks.background(record, &sweep, &mut Vec::new()))
        .and_then(|background| background.current_a);
    let search = search_of(input, report, record, link).filter(|_| is_measured && !stopped_before(link));
    let evaluated = search.and_then(|search| evaluated(plan, sweep, blank_a.as_deref(), search));
    let mark =
        evaluated.as_ref().zip(search).and_then(|(curves, search)| mark_of(link, sweep, curves, search));
    Some(ScanCurves {
        link,
        potential_v: sweep.potential_v,
        current_a: sweep.current_a,
        blank_a: blank_a.map(|blank_a| blank_a.to_vec()),
        evaluated,
        windows: windows(plan),
        direction: plan.peak.direction,
        measure: plan.peak.measure,
        mark,
    })
}

/// How the signal of the link was looked for; none for a zero standard whose place is not known.
fn search_of(input: &Input, report: &Report, record: &Record<'_>, link: &ScanLink) -> Option<Search> {
    let key = group_of(&input.method, record.row);
    let calibration = report.calibrations.iter().find(|calibration| calibration.key == key);
    let place = calibration.and_then(|calibration| calibration.peak_potential_v).map(Search::At);
    let is_zero = record.row.role == Role::Standard && record.row.has_zero_level();
    match &link.signal {
        Some(signal) if signal.found == Found::AtFixedPotential => place,
        None if is_zero => place,
        _ => Some(Search::ForPeak),
    }
}

/// Whether a check stopped the scan before its evaluation, so that there are no curves.
fn stopped_before(link: &ScanLink) -> bool {
    link.findings.iter().any(|finding| {
        finding.is_in_force(Effect::Refused)
            && !matches!(
                finding.check,
                Check::EdgeMaximum
                    | Check::NoPeak
                    | Check::BackgroundSwallowsPeak
                    | Check::TwoPeaks
                    | Check::PeakShift
            )
    })
}

fn evaluated(
    plan: &EvaluationPlan,
    sweep: Sweep<'_>,
    blank_a: Option<&[f64]>,
    search: Search,
) -> Option<EvaluatedCurves> {
    let mut weights = Weights::new(plan.smooth);
    let smoother = weights.smoother().ok().flatten();
    let settings = settings(plan, sweep.potential_v, smoother, search, None).ok()?;
    let evaluator = Evaluator::new(sweep.potential_v, settings).ok()?;
    let n_points = sweep.potential_v.len();
    let mut storage = vec![0.0; Workspace::storage_len(n_points)];
    let mut workspace = Workspace::new(&mut storage, n_points).ok()?;
    let signal = match evaluator.evaluate(sweep.current_a, blank_a, &mut workspace) {
        Ok(signal) => Some(signal),
        Err(refusal) if refusal.has_corrected_curve() => None,
        Err(_) => return None,
    };
    Some(EvaluatedCurves {
        subtracted_a: workspace.subtracted_a().to_vec(),
        smoothed_a: workspace.smoothed_a().to_vec(),
        baseline_a: workspace.baseline_a().to_vec(),
        baseline_points: signal.and_then(|signal| signal.baseline_points),
        signal: signal.map(|signal| signal.signal_a),
    })
}

/// None unless the repeated evaluation has the very signal of the link.
fn mark_of(
    link: &ScanLink,
    sweep: Sweep<'_>,
    curves: &EvaluatedCurves,
    search: Search,
) -> Option<SignalMark> {
    let signal = link.signal.as_ref()?;
    if curves.signal.map(f64::to_bits) != Some(signal.signal.to_bits()) {
        return None;
    }
    let potential_v = match search {
        Search::ForPeak => signal.peak_potential_v?,
        Search::At(at_v) => at_v,
    };
    let place = FixedPotential::on(sweep.potential_v, potential_v)?;
    let [before, after] = [place.index, place.index + 1].map(|index| curves.baseline_a.get(index).copied());
    let baseline_a = before? + place.fraction * (after? - before?);
    Some(SignalMark { potential_v, baseline_a, signal: signal.signal, found: signal.found })
}

fn windows(plan: &EvaluationPlan) -> Vec<EvaluationWindow> {
    let of = |purpose| move |window_v| EvaluationWindow { purpose, window_v: rising(window_v) };
    let peak = std::iter::once(plan.peak.window_v).map(of(WindowPurpose::Peak));
    peak.chain(plan.baseline.windows_v().into_iter().map(of(WindowPurpose::Baseline))).collect()
}

//! Whether a raw scan can be trusted: the kernel's checks in words, the settings lines, the clock.

use stillwell_evaluate::{
    ExpectedScan, MainsConstants, RawScan, TrustCheck, TrustFinding, TrustLimits, TrustState, WhyNotTestable,
    check_scan_on, mains_cycles_per_point,
};
use stillwell_scan::{ReadFile, ReadNote, Scan, Technique, TechniqueKind, settings_line_differences};

use crate::check::Check;
use crate::file::{Method, TrustPlan};
use crate::finding::{Effect, Finding, si, three_digits};
use crate::grids::Grid;
use crate::sweep::Sweep;

/// What the checks of one raw scan gave.
#[derive(Debug, Clone, PartialEq)]
pub struct RawChecked {
    /// How many passed.
    pub passed: usize,
    /// Names of those that could not be tested, and why.
    pub not_testable: Vec<(Check, &'static str)>,
    /// Those that did not pass.
    pub findings: Vec<Finding>,
}

/// Points after the start-up region that give its trend, and their least deviation over the scan's range.
const START_UP_TREND_POINTS: u32 = 15;
const START_UP_FRACTION: f64 = 0.02;
/// Beyond this an instrument wrote a mark, or the unit is wrong (common practice, no source): electrodes of sensors carry nA to mA,
/// potentiostats end at about an ampere.
const LARGEST_CURRENT_A: f64 = 1.0;
/// Steps of the record's resolution that a live scan spans.
const LEAST_RANGE_STEPS: f64 = 8.0;

/// Runs every check on one raw scan.
pub(crate) fn check_raw<'a>(
    method: &Method,
    (scan, file): (&'a Scan, &ReadFile),
    grid: &Grid<'a>,
    subject: impl Into<String> + Copy,
    workspace: &mut Vec<f64>,
) -> RawChecked {
    let mut checked = RawChecked { passed: 0, not_testable: Vec::new(), findings: Vec::new() };
    for difference in settings_line_differences(scan, &method.technique) {
        let found = difference.to_string();
        checked.findings.push(Finding::new(Check::SettingsDiffer, Effect::Refused, subject, found));
    }
    for note in &file.notes {
        if let ReadNote::ClockImplausible { .. } = note {
            let found = note.to_string();
            checked.findings.push(Finding::new(Check::ClockImplausible, Effect::Noted, subject, found));
        }
    }
    if let Some((index, current_a)) = impossible_current(scan) {
        let at_v = scan.potential_v.get(index).copied().unwrap_or(f64::NAN);
        let found = format!(
            "{current_a:e} A at {at_v:.3} V; no sensor carries more than {LARGEST_CURRENT_A} A: a mark for overload, or a wrong unit"
        );
        checked.findings.push(Finding::new(Check::OverloadMarks, Effect::Refused, subject, found));
    }
    run_kernel_checks(method, (scan, grid), subject, workspace, &mut checked);
    checked
}

/// The first point whose current no sensor carries. It is looked for before despiking, which would smooth it away.
fn impossible_current(scan: &Scan) -> Option<(usize, f64)> {
    let recorded = [Some(&scan.current_a), scan.forward_a.as_ref(), scan.reverse_a.as_ref()];
    // A mark that stands as not-a-number is counted by the kernel.
    let is_impossible = |(_, current_a): &(usize, f64)| current_a.abs() > LARGEST_CURRENT_A;
    recorded
        .into_iter()
        .flatten()
        .find_map(|currents_a| currents_a.iter().copied().enumerate().find(is_impossible))
}

fn run_kernel_checks<'a>(
    method: &Method,
    (scan, grid): (&'a Scan, &Grid<'a>),
    subject: impl Into<String> + Copy,
    workspace: &mut Vec<f64>,
    checked: &mut RawChecked,
) {
    let Some(sweep) = grid.sweep(scan) else {
        let found = "no passage through the potentials in the direction of the peak";
        checked.findings.push(Finding::new(Check::WrongWindow, Effect::Refused, subject, found));
        return;
    };
    let raw = raw_scan(method, scan, sweep);
    let limits = limits(method, sweep, grid.n_unused_first);
    if workspace.len() < sweep.potential_v.len() {
        workspace.resize(sweep.potential_v.len(), 0.0);
    }
    let report = check_scan_on(&grid.steps, &raw, &expected(method, &raw), &limits, workspace);
    for found in &report.findings {
        match found.state {
            TrustState::Passed => checked.passed += 1,
            TrustState::NotTestable(why) => {
                checked.not_testable.push((check_of(found.check), why_words(why)));
            }
            TrustState::Failed => {
                let is_repaired =
                    found.check.is_repaired_by_despiking() && method.evaluation.despike.is_some();
                let effect = if is_repaired { Effect::Warned } else { Effect::Refused };
                let words = found_words(found, sweep);
                checked.findings.push(Finding::new(check_of(found.check), effect, subject, words));
            }
        }
    }
}

/// What the kernel's checks look at.
pub(crate) fn raw_scan<'a>(method: &Method, scan: &'a Scan, sweep: Sweep<'a>) -> RawScan<'a> {
    let is_whole = sweep.potential_v.len() == scan.n_points();
    RawScan {
        potential_v: sweep.potential_v,
        current_a: sweep.current_a,
        forward_a: scan.forward_a.as_deref().filter(|_| is_whole),
        reverse_a: scan.reverse_a.as_deref().filter(|_| is_whole),
        overload_points: &scan.overload_points,
        interval_s: interval_s(&method.technique, scan),
        resolution_a: None,
        range_end_a: method.trust.range_a.map(|end_a| [-end_a, end_a]),
    }
}

pub(crate) fn expected(method: &Method, raw: &RawScan<'_>) -> ExpectedScan {
    let technique = &method.technique;
    let usual_step_v = match raw.potential_v {
        [first, second, ..] => (second - first).abs(),
        _ => 0.0,
    };
    // Of a cyclic sweep one passage is judged: it runs between its own ends, which the settings lines vouch for.
    let (start_v, end_v) = match (technique.kind, raw.potential_v) {
        (TechniqueKind::Cyclic, [first, .., last]) => (*first, *last),
        _ => (technique.start_v, technique.end_v),
    };
    ExpectedScan {
        start_v,
        end_v,
        step_v: technique.step_v.unwrap_or(usual_step_v),
        peak_window_v: Some(method.evaluation.peak.window_v),
        half_width_v: method.trust.half_width_v,
        mains: raw.interval_s.and_then(|interval_s| mains(interval_s, method.trust.mains_hz)),
    }
}

fn mains(interval_s: f64, mains_hz: f64) -> Option<MainsConstants> {
    let turn = 2.0 * core::f64::consts::PI * mains_cycles_per_point(interval_s, mains_hz)?;
    Some(MainsConstants { mains_hz, cos_per_point: libm::cos(turn), sin_per_point: libm::sin(turn) })
}

/// Time from point to point: from the time column, else from the technique.
fn interval_s(technique: &Technique, scan: &Scan) -> Option<f64> {
    if let Some([first, .., last]) = scan.time_s.as_deref() {
        let n_steps = scan.n_points().checked_sub(1)?;
        return Some((last - first) / n_steps as f64).filter(|interval| *interval > 0.0);
    }
    match technique.kind {
        TechniqueKind::SquareWave | TechniqueKind::StrippingSquareWave => {
            technique.frequency_hz.map(|frequency| 1.0 / frequency)
        }
        TechniqueKind::DifferentialPulse
        | TechniqueKind::StrippingDifferentialPulse
        | TechniqueKind::NormalPulse => technique.pulse_period_s,
        _ => Some(technique.step_v? / technique.scan_rate_v_per_s?),
    }
}

pub(crate) fn limits(method: &Method, sweep: Sweep<'_>, distrusted_points: u32) -> TrustLimits {
    let plan: &TrustPlan = &method.trust;
    let unstated = f64::INFINITY;
    let step_v = method.technique.step_v.or(sweep.step_v()).unwrap_or(0.0);
    TrustLimits {
        overload_points: 0,
        clipping_run: plan.clipping_run,
        missing_points: plan.missing_points,
        repeated_points: plan.repeated_points,
        step_deviation: plan.step_deviation,
        spike_units: plan.spike_units,
        spike_ratio: plan.spike_ratio,
        least_range_a: plan.least_range_a,
        least_range_steps: LEAST_RANGE_STEPS,
        start_up_points: plan.start_up_points,
        start_up_trend_points: START_UP_TREND_POINTS,
        start_up_units: plan.start_up_units,
        start_up_fraction: START_UP_FRACTION,
        distrusted_points,
        end_points: plan.end_points,
        largest_offset_a: plan.offset_a.unwrap_or(unstated),
        largest_noise_a: plan.noise_a.unwrap_or(unstated),
        largest_drift_a: plan.drift_a.unwrap_or(unstated),
        window_tolerance_v: step_v / 2.0,
        least_points: plan.least_points.unwrap_or_else(|| usual_least_points(&method.technique)),
        least_points_per_half_width: plan.least_points_per_half_width,
        largest_mains_a: plan.mains_a.unwrap_or(unstated),
    }
}

fn usual_least_points(technique: &Technique) -> u32 {
    let nine_tenths = technique.n_points().map_or(0, |n_points| n_points * 9 / 10);
    u32::try_from(nine_tenths).unwrap_or(u32::MAX).max(20)
}

fn check_of(check: TrustCheck) -> Check {
    match check {
        TrustCheck::Overload => Check::OverloadMarks,
        TrustCheck::TooFewPoints | TrustCheck::TooFewPointsInPeak => Check::TooFewPoints,
        TrustCheck::WrongDirection | TrustCheck::WrongWindow | TrustCheck::WrongStep => Check::WrongWindow,
        TrustCheck::MissingPoints | TrustCheck::RepeatedPoints => Check::MissingPoints,
        TrustCheck::NonUniformSteps => Check::UnevenSteps,
        TrustCheck::Clipping => Check::ClippedScan,
        TrustCheck::FlatLine => Check::FlatLine,
        TrustCheck::Offset => Check::Offset,
        TrustCheck::Spikes => Check::Spikes,
        TrustCheck::Noise => Check::Noise,
        TrustCheck::StartUp => Check::StartTransient,
        TrustCheck::ReverseDrift => Check::ForwardReverseDrift,
        TrustCheck::MainsPickup => Check::MainsPickup,
    }
}

fn found_words(finding: &TrustFinding, sweep: Sweep<'_>) -> String {
    let (found, limit) = (finding.found, finding.limit);
    let at_v = sweep.potential_v.get(finding.at_index as usize).copied().unwrap_or(f64::NAN);
    let at_a = sweep.current_a.get(finding.at_index as usize).copied().unwrap_or(f64::NAN);
    match finding.check {
        TrustCheck::Overload => {
            format!("{found} point(s) without a number, the first at {at_v:.3} V; limit {limit}")
        }
        TrustCheck::TooFewPoints => format!("{found} points, at least {limit} needed"),
        TrustCheck::TooFewPointsInPeak => {
            format!("{} points in the half width, at least {limit} needed", three_digits(found))
        }
        TrustCheck::WrongDirection => {
            format!("the potential runs over {}, the technique over {}", si(found, "V"), si(limit, "V"))
        }
        TrustCheck::WrongWindow => {
            format!("start or end is {} off the technique's, limit {}", si(found, "V"), si(limit, "V"))
        }
        TrustCheck::WrongStep | TrustCheck::NonUniformSteps => format!(
            "a step deviates by {} %, limit {} %, near {at_v:.3} V",
            three_digits(100.0 * found),
            three_digits(100.0 * limit)
        ),
        TrustCheck::MissingPoints => format!("{found} point(s) missing near {at_v:.3} V; limit {limit}"),
        TrustCheck::RepeatedPoints => format!("{found} point(s) repeated near {at_v:.3} V; limit {limit}"),
        TrustCheck::Clipping => {
            format!("{found} readings in a row at {} from {at_v:.3} V on; limit {limit}", si(at_a, "A"))
        }
        TrustCheck::FlatLine => {
            format!("the current spans {} only, at least {} needed", si(found, "A"), si(limit, "A"))
        }
        TrustCheck::Spikes => format!(
            "a point at {at_v:.3} V stands out by {} robust standard deviations, limit {limit}",
            three_digits(found)
        ),
        TrustCheck::StartUp => {
            format!("the first {found} point(s) are off the trend; {limit} are unused anyway")
        }
        TrustCheck::Offset | TrustCheck::Noise | TrustCheck::ReverseDrift | TrustCheck::MainsPickup => {
            format!("{}, limit {}", si(found, "A"), si(limit, "A"))
        }
    }
}

fn why_words(why: WhyNotTestable) -> &'static str {
    match why {
        WhyNotTestable::NotStated => "what it needs is not stated",
        WhyNotTestable::NotFinite => "a current is no number",
        WhyNotTestable::LengthsDiffer => "columns of different length",
        WhyNotTestable::TooShort => "too few points",
        WhyNotTestable::WorkspaceTooSmall => "too many points",
        WhyNotTestable::LimitNotUsable => "the method states no limit",
        WhyNotTestable::NoUsualStep => "the potential has no usual step",
        WhyNotTestable::PeakTooNearStart => "the peak lies too near the start",
        WhyNotTestable::MainsFoldsTooSlow => "sampled too near a divisor of the mains frequency",
    }
}

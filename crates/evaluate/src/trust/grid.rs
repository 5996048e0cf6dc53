//! The grid of potentials: direction, window, step, gaps and repeats.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::order::{median_of, whole_part};
use super::quantities::Quantities;
use super::settings::{ExpectedScan, RawScan, TrustLimits};

/// Median step with its sign (V).
pub(super) fn usual_step_v(potential_v: &[f64], workspace: &mut [f64]) -> Result<f64, WhyNotTestable> {
    let usual = median_of(potential_v.windows(2).map(|two| two[1] - two[0]), workspace)?;
    if usual.is_finite() { Ok(usual) } else { Err(WhyNotTestable::NotFinite) }
}

pub(super) fn direction(
    judge: Judge,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
) -> Result<TrustFinding, WhyNotTestable> {
    let [first, .., last] = scan.potential_v else { return Err(WhyNotTestable::TooShort) };
    let (found, wanted) = (last - first, expected.end_v - expected.start_v);
    if wanted == 0.0 {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let same = (found > 0.0 && wanted > 0.0) || (found < 0.0 && wanted < 0.0);
    Ok(judge.decided(same, found, wanted, 0))
}

pub(super) fn window(
    judge: Judge,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
) -> Result<TrustFinding, WhyNotTestable> {
    let [first, .., last] = scan.potential_v else { return Err(WhyNotTestable::TooShort) };
    let (at_start, at_end) = ((first - expected.start_v).abs(), (last - expected.end_v).abs());
    if !(at_start.is_finite() && at_end.is_finite()) {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    Ok(if at_start >= at_end {
        judge.at_most(at_start, limits.window_tolerance_v, 0)
    } else {
        judge.at_most(at_end, limits.window_tolerance_v, scan.potential_v.len() - 1)
    })
}

pub(super) fn step(
    judge: Judge,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    quantities: &Quantities,
) -> Result<TrustFinding, WhyNotTestable> {
    if !expected.step_v.is_finite() || expected.step_v == 0.0 {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let found = quantities.usual_step_v?.abs() / expected.step_v.abs() - 1.0;
    Ok(judge.at_most(found.abs(), limits.step_deviation, 0))
}

/// Gaps, repeats and uneven steps, each with the index of a step's second point.
#[derive(Clone, Copy)]
pub(super) struct Steps {
    has_usual: bool,
    n_missing: f64,
    first_gap: Option<usize>,
    n_repeated: u32,
    first_repeat: Option<usize>,
    worst: f64,
    worst_at: usize,
}

impl Steps {
    /// One walk along the potentials, with each step over the usual one.
    pub(super) fn of(potential_v: &[f64], usual_v: f64) -> Self {
        let mut found = Self {
            has_usual: usual_v != 0.0,
            n_missing: 0.0,
            first_gap: None,
            n_repeated: 0,
            first_repeat: None,
            worst: 0.0,
            worst_at: 0,
        };
        let half_v = 0.5 * usual_v.abs();
        for (i, two) in potential_v.windows(2).enumerate() {
            let step_v = two[1] - two[0];
            let step = step_v / usual_v;
            if step >= 1.5 {
                // The number of whole steps, rounded, less the one that belongs there; absurd gaps saturate.
                found.n_missing += whole_part(step + 0.5) - 1.0;
                found.first_gap = found.first_gap.or(Some(i + 1));
            }
            if step_v.abs() < half_v || step_v == 0.0 {
                found.n_repeated = found.n_repeated.saturating_add(1);
                found.first_repeat = found.first_repeat.or(Some(i + 1));
            }
            let counted_elsewhere = step >= 1.5 || step.abs() < 0.5;
            let deviation = (step - 1.0).abs();
            if deviation > found.worst && !counted_elsewhere {
                (found.worst, found.worst_at) = (deviation, i + 1);
            }
        }
        found
    }

    fn of_usual(quantities: &Quantities) -> Result<&Self, WhyNotTestable> {
        let steps = quantities.steps.as_ref().map_err(|why| *why)?;
        if steps.has_usual { Ok(steps) } else { Err(WhyNotTestable::NoUsualStep) }
    }
}

pub(super) fn missing(
    judge: Judge,
    limits: &TrustLimits,
    quantities: &Quantities,
) -> Result<TrustFinding, WhyNotTestable> {
    let steps = Steps::of_usual(quantities)?;
    Ok(judge.at_most(steps.n_missing, f64::from(limits.missing_points), steps.first_gap.unwrap_or(0)))
}

pub(super) fn repeated(
    judge: Judge,
    limits: &TrustLimits,
    quantities: &Quantities,
) -> Result<TrustFinding, WhyNotTestable> {
    let steps = quantities.steps.as_ref().map_err(|why| *why)?;
    let (found, limit) = (f64::from(steps.n_repeated), f64::from(limits.repeated_points));
    Ok(judge.at_most(found, limit, steps.first_repeat.unwrap_or(0)))
}

pub(super) fn non_uniform(
    judge: Judge,
    limits: &TrustLimits,
    quantities: &Quantities,
) -> Result<TrustFinding, WhyNotTestable> {
    let steps = Steps::of_usual(quantities)?;
    Ok(judge.at_most(steps.worst, limits.step_deviation, steps.worst_at))
}

//! Plateaus at the largest or smallest current that no rounded peak explains.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::order::{LANES, apparent_resolution_a, lanes_from, smallest_change_a};
use super::settings::{RawScan, TrustLimits};

/// Points over which a plateau's edge is judged.
const EDGE_POINTS: usize = 3;
/// Steps of the record by which a clipped peak has left its plateau after `EDGE_POINTS`; a rounded one has not.
const ABRUPT_STEPS: f64 = 10.0;
/// Steps of the record by which a peak must have been cut; rounding alone explains one, noise a few more.
const CUT_STEPS: f64 = 8.0;
/// Pairs of like neighbours outside the plateau that chance does not make in a record of many digits.
const ALIKE_ELSEWHERE: usize = 3;
/// Steps after one point. A flat background that a quiet converter records as one number is left step by step; a cut is not.
const FIRST_STEPS: f64 = 3.0;

#[inline(always)]
pub(super) fn clipping(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
) -> Result<TrustFinding, WhyNotTestable> {
    let current_a = scan.current_a;
    if current_a.len() < 2 * EDGE_POINTS {
        return Err(WhyNotTestable::TooShort);
    }
    if limits.clipping_run < 2 {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let longest_pass = limits.clipping_run - 1;
    if let Some([low, high]) = scan.range_end_a {
        if low.is_nan() || high.is_nan() || low >= high {
            return Err(WhyNotTestable::LimitNotUsable);
        }
        let (run, start) = longest_run(current_a, |x| x <= low || x >= high);
        if run > 0 {
            // A single reading at the converter's end is already unknown.
            return Ok(judge.at_most(run as f64, 0.0, start));
        }
    }
    let (mut found, mut at) = (0, 0);
    for extreme in ends_of(current_a) {
        // One reading alone is no plateau, and most scans have no two in a row.
        if !has_two_in_a_row(current_a, extreme) {
            continue;
        }
        let (run, start) = longest_run(current_a, |x| x == extreme);
        if run > found && run > longest_pass as usize && is_abrupt(current_a, start, run, scan.resolution_a) {
            (found, at) = (run, start);
        }
    }
    Ok(judge.at_most(found as f64, f64::from(longest_pass), at))
}

/// Lowest and highest of the values.
#[inline(always)]
fn ends_of(values: &[f64]) -> [f64; 2] {
    let (mut lowest, mut highest) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES]);
    let (chunks, rest) = values.as_chunks::<LANES>();
    let mut take = |lane: usize, x: f64| {
        lowest[lane] = if x < lowest[lane] { x } else { lowest[lane] };
        highest[lane] = if x > highest[lane] { x } else { highest[lane] };
    };
    for chunk in chunks {
        for (lane, &x) in chunk.iter().enumerate() {
            take(lane, x);
        }
    }
    for &x in rest {
        take(0, x);
    }
    let low = lowest.iter().fold(f64::INFINITY, |low, &x| if x < low { x } else { low });
    let high = highest.iter().fold(f64::NEG_INFINITY, |high, &x| if x > high { x } else { high });
    [low, high]
}

#[inline(always)]
fn has_two_in_a_row(values: &[f64], level: f64) -> bool {
    let mut any = 0;
    let mut start = 0;
    while let (Some(a), Some(b)) = (lanes_from(values, start), lanes_from(values, start + 1)) {
        for lane in 0..LANES {
            any |= u8::from(a[lane] == level) & u8::from(b[lane] == level);
        }
        start += LANES;
    }
    any != 0 || values[start.min(values.len())..].windows(2).any(|two| two[0] == level && two[1] == level)
}

fn longest_run(values: &[f64], belongs: impl Fn(f64) -> bool) -> (usize, usize) {
    let (mut longest, mut longest_start) = (0, 0);
    let mut run = 0;
    for (i, &x) in values.iter().enumerate() {
        run = if belongs(x) { run + 1 } else { 0 };
        if run > longest {
            (longest, longest_start) = (run, i + 1 - run);
        }
    }
    (longest, longest_start)
}

/// Whether the plateau is left abruptly on both sides (or on its one side, at an end of the scan).
///
/// A parabola cut E below its tip over a run of 2 r points falls by E ((r + d)² − r²) / r² within the next d points. Rounding to steps
/// of the record, helped by noise of about a step, makes runs of a few steps' E; a cut of more than that is a cut. The fall
/// itself must be more than ten steps too, because the foot of a peak on a flat background leaves its run slowly.
fn is_abrupt(current_a: &[f64], start: usize, run: usize, resolution_a: Option<f64>) -> bool {
    let plateau = current_a[start];
    let apparent = apparent_resolution_a(current_a, plateau);
    let step = match resolution_a {
        Some(stated) if stated > apparent => stated,
        _ => apparent,
    };
    let end = start + run;
    let left_by = |edge: usize, direction_up: bool, points: usize| {
        let index = if direction_up { edge + points - 1 } else { edge - points };
        (current_a[index] - plateau).abs()
    };
    let before = start >= EDGE_POINTS;
    let after = end + EDGE_POINTS <= current_a.len();
    let (half_run, reach) = (0.5 * run as f64, 0.5 * run as f64 + EDGE_POINTS as f64);
    let cut_share = half_run * half_run / (reach * reach - half_run * half_run);
    // Neighbours that are alike elsewhere too show a converter whose steps the record resolves: then the smallest change is
    // one step, while second differences may show the rounding of printed numbers.
    let n_alike = current_a.windows(2).filter(|two| two[0] == two[1]).count() + 1 - run;
    let change = if n_alike >= ALIKE_ELSEWHERE { smallest_change_a(current_a) } else { step };
    let first_step = if change > step { change } else { step };
    let leaves = |edge: usize, up: bool| {
        let fall = left_by(edge, up, EDGE_POINTS);
        let jumps = left_by(edge, up, 1) > FIRST_STEPS * first_step;
        jumps && fall > ABRUPT_STEPS * step && fall * cut_share > CUT_STEPS * step
    };
    match (before, after) {
        (true, true) => leaves(start, false) && leaves(end, true),
        (true, false) => leaves(start, false),
        (false, true) => leaves(end, true),
        (false, false) => false,
    }
}

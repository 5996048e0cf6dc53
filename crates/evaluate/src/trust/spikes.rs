//! One or two points that stand out from their neighbours.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::noise::SD_PER_MEDIAN_DEVIATION;
use super::order::{apparent_resolution_a, median_of_sizes_in_place, middle_and_range_of_four};
use super::settings::{RawScan, TrustLimits};

#[inline(always)]
pub(super) fn spikes(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> Result<TrustFinding, WhyNotTestable> {
    let current_a = scan.current_a;
    if limits.spike_ratio.is_nan() || limits.spike_ratio <= 0.0 {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let alone = Alone::of(current_a, limits.spike_ratio, workspace)?;
    let robust = SD_PER_MEDIAN_DEVIATION * alone.median_a;
    // A staircase has a robust unit of zero: then the unit is its step.
    let step = scan.resolution_a.unwrap_or_else(|| apparent_resolution_a(current_a, 0.0));
    let unit = if robust > step { robust } else { step };
    if unit.is_nan() {
        return Err(WhyNotTestable::NotFinite);
    }
    if unit <= 0.0 {
        // Not even one current differs from the next.
        return Ok(judge.at_most(0.0, limits.spike_units, 0));
    }
    let mut search = Search { ratio: limits.spike_ratio, unit, worst: 0.0, at: 0 };
    if alone.any_stands_out || !alone.are_finite {
        search.over::<1>(current_a)?;
    }
    search.over::<2>(current_a)?;
    Ok(judge.at_most(search.worst, limits.spike_units, search.at))
}

/// Points whose deviations are computed side by side.
const BLOCK: usize = 16;

/// How far single points stand out from their neighbours.
struct Alone {
    median_a: f64,
    /// Whether any does so by more than the ratio times the range of its neighbours.
    any_stands_out: bool,
    are_finite: bool,
}

impl Alone {
    #[inline(always)]
    fn of(current_a: &[f64], ratio: f64, workspace: &mut [f64]) -> Result<Self, WhyNotTestable> {
        let n = current_a.len().saturating_sub(4);
        let deviations = workspace.get_mut(..n).ok_or(WhyNotTestable::WorkspaceTooSmall)?;
        let mut found = Self { median_a: 0.0, any_stands_out: false, are_finite: true };
        let (blocks, rest) = deviations.as_chunks_mut::<BLOCK>();
        for (block, points) in blocks.iter_mut().zip(current_a.windows(BLOCK + 4).step_by(BLOCK)) {
            found.take(points, block, ratio);
        }
        let first_left = n - rest.len();
        for (deviation, points) in rest.iter_mut().zip(current_a[first_left..].windows(5)) {
            found.take(points, core::array::from_mut(deviation), ratio);
        }
        found.median_a = median_of_sizes_in_place(deviations)?;
        Ok(found)
    }

    #[inline(always)]
    fn take<const N: usize>(&mut self, points: &[f64], deviation: &mut [f64; N], ratio: f64) {
        let mut range = [0.0; N];
        stand_out::<1, N>(points, deviation, &mut range);
        for j in 0..N {
            self.any_stands_out |= deviation[j] > ratio * range[j];
            self.are_finite &= deviation[j].is_finite() & range[j].is_finite();
        }
    }
}

/// The highest point, or pair of points, that stands out by more than `ratio` times the range of its neighbours.
struct Search {
    ratio: f64,
    unit: f64,
    worst: f64,
    at: usize,
}

impl Search {
    #[inline(always)]
    fn over<const WIDTH: usize>(&mut self, current_a: &[f64]) -> Result<(), WhyNotTestable> {
        let n = (current_a.len() + 1).saturating_sub(4 + WIDTH);
        let mut start = 0;
        while start + BLOCK <= n {
            self.block::<WIDTH, BLOCK>(current_a, start)?;
            start += BLOCK;
        }
        while start < n {
            self.block::<WIDTH, 1>(current_a, start)?;
            start += 1;
        }
        Ok(())
    }

    #[inline(always)]
    fn block<const WIDTH: usize, const N: usize>(
        &mut self,
        current_a: &[f64],
        start: usize,
    ) -> Result<(), WhyNotTestable> {
        let (mut deviation, mut range) = ([0.0; N], [0.0; N]);
        stand_out::<WIDTH, N>(&current_a[start..], &mut deviation, &mut range);
        let (mut finite, mut any) = (true, false);
        for j in 0..N {
            finite &= deviation[j].is_finite() & range[j].is_finite();
            any |= deviation[j] > self.ratio * range[j];
        }
        if !finite {
            return Err(WhyNotTestable::NotFinite);
        }
        for j in 0..if any { N } else { 0 } {
            let units = deviation[j] / self.unit;
            if deviation[j] > self.ratio * range[j] && units > self.worst {
                (self.worst, self.at) = (units, start + j + 2);
            }
        }
        Ok(())
    }
}

/// How far the inner one or two points stand above, or below, the median of two neighbours on either side; and the range
/// of these neighbours. Two inner points on different sides do not stand out together: zero. For the windows that begin at
/// the first N points.
#[inline(always)]
fn stand_out<const WIDTH: usize, const N: usize>(
    points: &[f64],
    deviation: &mut [f64; N],
    range: &mut [f64; N],
) {
    let from = |offset: usize| points.get(offset..).and_then(<[f64]>::first_chunk::<N>);
    let (Some(p0), Some(p1), Some(p2), Some(before_last), Some(last_but_one), Some(last)) =
        (from(0), from(1), from(2), from(1 + WIDTH), from(2 + WIDTH), from(3 + WIDTH))
    else {
        return;
    };
    for j in 0..N {
        let (middle, span) = middle_and_range_of_four([p0[j], p1[j], last_but_one[j], last[j]]);
        let (one, other) = (p2[j] - middle, before_last[j] - middle);
        let (a, b) = (one.abs(), other.abs());
        let smaller = if a < b { a } else { b };
        deviation[j] = if (one > 0.0) == (other > 0.0) { smaller } else { 0.0 };
        range[j] = span;
    }
}

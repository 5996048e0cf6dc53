//! The common tangent under a peak.

use crate::settings::IndexRange;

/// Passes after which the search ends even if the two points still moved; each pass that moves a point lowers
/// the line under the peak, and real scans settle in three to six.
const MAX_PASSES: usize = 64;

/// The two points of `search` that the tangent under the peak rests on.
///
/// The peak's place starts at the window's middle and is then, when `searched`, the point of the window highest above
/// the tangent just found, until it stays. Only slopes between points are compared: a straight line added to the
/// scan adds the same to each and changes no choice, but for rounding between near-equal slopes.
pub(crate) fn points(
    potential_v: &[f64],
    current_a: &[f64],
    search: IndexRange,
    window: IndexRange,
    sign: f64,
    searched: bool,
) -> [usize; 2] {
    let curve = Curve { potential_v, current_a, sign };
    let mut peak = window.first.midpoint(window.last);
    let mut ends = curve.bridge(search, peak);
    if !searched {
        return ends;
    }
    for _ in 0..MAX_PASSES {
        let highest = curve.highest_above(ends, window);
        if highest == peak {
            break;
        }
        peak = highest;
        ends = curve.bridge(search, peak);
    }
    ends
}

struct Curve<'a> {
    potential_v: &'a [f64],
    current_a: &'a [f64],
    sign: f64,
}

impl Curve<'_> {
    /// Rise along the direction per volt of progress along the scan; the scan may run either way.
    fn slope(&self, from: usize, to: usize) -> f64 {
        let progress = self.potential_v[to] - self.potential_v[from];
        let along = if progress < 0.0 { -progress } else { progress };
        self.sign * (self.current_a[to] - self.current_a[from]) / along
    }

    /// The line beneath all points of `search` on either side of `peak`, by turning each end in turn.
    fn bridge(&self, search: IndexRange, peak: usize) -> [usize; 2] {
        let (mut left, mut right) = (search.first, search.last);
        for _ in 0..MAX_PASSES {
            let (old_left, old_right) = (left, right);
            let mut flattest = self.slope(left, right);
            for r in peak + 1..=search.last {
                let slope = self.slope(left, r);
                if slope < flattest {
                    (flattest, right) = (slope, r);
                }
            }
            let mut steepest = self.slope(left, right);
            for l in search.first..peak {
                let slope = self.slope(l, right);
                if slope > steepest {
                    (steepest, left) = (slope, l);
                }
            }
            if (left, right) == (old_left, old_right) {
                break;
            }
        }
        [left, right]
    }

    fn highest_above(&self, [left, right]: [usize; 2], window: IndexRange) -> usize {
        let slope = (self.current_a[right] - self.current_a[left])
            / (self.potential_v[right] - self.potential_v[left]);
        let height = |i: usize| {
            let line = slope * (self.potential_v[i] - self.potential_v[left]);
            self.sign * ((self.current_a[i] - self.current_a[left]) - line)
        };
        let (mut at, mut high) = (window.first, height(window.first));
        for i in window.first..=window.last {
            let here = height(i);
            if here > high {
                (at, high) = (i, here);
            }
        }
        at
    }
}

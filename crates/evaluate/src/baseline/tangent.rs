//! The common tangent under a peak: an edge of the curve's lower hull.

use crate::settings::IndexRange;

/// The two points of `search` that the tangent under the peak rests on.
///
/// The lower hull (along the direction) is walked edge by edge: from each of its points to the one that the least slope
/// leads to. When `searched`, the edge is taken above which a point of the window stands highest; else the edge
/// under the window's middle. Only slopes and heights above edges are compared: a straight line added to the scan changes
/// none of the choices, but for rounding between near-equal ones.
pub(crate) fn points(
    potential_v: &[f64],
    current_a: &[f64],
    search: IndexRange,
    window: IndexRange,
    sign: f64,
    searched: bool,
) -> [usize; 2] {
    let curve = Curve { potential_v, current_a, sign };
    let middle = window.first.midpoint(window.last);
    let (mut best, mut high) = ([search.first, search.last], f64::NEG_INFINITY);
    let mut left = search.first;
    while left < search.last {
        let right = curve.next_on_hull(left, search.last);
        if searched {
            let here = curve.highest_above([left, right], window);
            if here > high {
                (best, high) = ([left, right], here);
            }
        } else if left <= middle && middle <= right {
            return [left, right];
        }
        left = right;
    }
    best
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

    /// The last point among those that the least slope from `left` leads to.
    fn next_on_hull(&self, left: usize, last: usize) -> usize {
        let (mut right, mut least) = (left + 1, self.slope(left, left + 1));
        for r in left + 2..=last {
            let slope = self.slope(left, r);
            if slope <= least {
                (right, least) = (r, slope);
            }
        }
        right
    }

    /// How high the highest point of the window stands above an edge, among the points between its ends.
    fn highest_above(&self, [left, right]: [usize; 2], window: IndexRange) -> f64 {
        let slope = (self.current_a[right] - self.current_a[left])
            / (self.potential_v[right] - self.potential_v[left]);
        let mut high = f64::NEG_INFINITY;
        for i in window.first.max(left)..=window.last.min(right) {
            let line = slope * (self.potential_v[i] - self.potential_v[left]);
            let height = self.sign * ((self.current_a[i] - self.current_a[left]) - line);
            if height > high {
                high = height;
            }
        }
        high
    }
}

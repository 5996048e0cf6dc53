//! Straight baselines: through the means of two ranges, or through two points.

use crate::blocks::{map_pairs, sum};
use crate::settings::IndexRange;

/// current = `at_a` + `slope` (potential − `at_v`).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line {
    at_v: f64,
    at_a: f64,
    slope: f64,
}

impl Line {
    fn through(from: (f64, f64), to: (f64, f64)) -> Self {
        Self { at_v: from.0, at_a: from.1, slope: (to.1 - from.1) / (to.0 - from.0) }
    }

    /// The line's current at every potential.
    #[inline(always)]
    pub(crate) fn fill(self, potential_v: &[f64], baseline: &mut [f64]) {
        map_pairs(potential_v, potential_v, baseline, |v, _| self.at_a + self.slope * (v - self.at_v));
    }
}

/// Through the mean point of each range.
#[inline(always)]
pub(crate) fn through_means(
    potential_v: &[f64],
    current_a: &[f64],
    before: IndexRange,
    after: IndexRange,
) -> Line {
    let mean = |values: &[f64], range: IndexRange| sum(range.of(values)) / range.n_points() as f64;
    let point = |range| (mean(potential_v, range), mean(current_a, range));
    Line::through(point(before), point(after))
}

/// Through two points of the curve.
pub(crate) fn through_points(potential_v: &[f64], current_a: &[f64], points: [usize; 2]) -> Line {
    let [from, to] = points.map(|i| (potential_v[i], current_a[i]));
    Line::through(from, to)
}

/// Index of the first lowest point of a range along the direction.
pub(crate) fn lowest(current_a: &[f64], range: IndexRange, sign: f64) -> usize {
    let mut at = range.first;
    for i in range.first..=range.last {
        if sign * current_a[i] < sign * current_a[at] {
            at = i;
        }
    }
    at
}

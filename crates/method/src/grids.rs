//! The grids of potentials of an input: scans mostly share one, and what depends on the grid alone is found once.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::ops::Range;

use stillwell_evaluate::GridSteps;
use stillwell_scan::Scan;

use crate::file::{BaselinePlan, Method};
use crate::grid::index_range;
use crate::input::Record;
use crate::sweep::{Sweep, passage};

/// A grid of potentials, and the passage through it that holds the peak.
pub(crate) struct Grid<'a> {
    potential_v: &'a [f64],
    /// The points of the passage; none where there is no passage in the direction of the peak.
    points: Option<Range<usize>>,
    /// What the kernel's checks need to know of its potentials.
    pub(crate) steps: GridSteps,
    /// First points of the passage that no window of the evaluation touches: they may still be settling.
    pub(crate) n_unused_first: u32,
}

impl<'a> Grid<'a> {
    pub(crate) fn of(method: &Method, scan: &'a Scan) -> Self {
        let points = passage(scan, &method.evaluation.peak);
        let potential_v = scan.potential_v.as_slice();
        let passed_v = points.clone().and_then(|points| potential_v.get(points)).unwrap_or_default();
        let steps = GridSteps::of(passed_v, &mut vec![0.0; passed_v.len()]);
        Self { potential_v, points, steps, n_unused_first: unused_first_points(method, passed_v) }
    }

    /// The passage of a scan on this grid.
    pub(crate) fn sweep(&self, scan: &'a Scan) -> Option<Sweep<'a>> {
        let points = self.points.clone()?;
        // The grid's own potentials stand for the scan's, which are the same.
        let potential_v = self.potential_v.get(points.clone())?;
        Some(Sweep { potential_v, current_a: scan.current_a.get(points)? })
    }
}

/// The grids of all records.
pub(crate) struct Grids<'a> {
    grids: Vec<Grid<'a>>,
    of_record: Vec<usize>,
}

impl<'a> Grids<'a> {
    pub(crate) fn of(method: &Method, records: &[Record<'a>]) -> Self {
        let mut found = Self { grids: Vec::new(), of_record: Vec::with_capacity(records.len()) };
        let mut known: BTreeMap<Bits<'a>, usize> = BTreeMap::new();
        let mut last: Option<(Bits<'a>, usize)> = None;
        for record in records {
            let bits = Bits(&record.scan.potential_v);
            let place = match last {
                Some((same, place)) if same == bits => place,
                _ => *known.entry(bits).or_insert_with(|| {
                    found.grids.push(Grid::of(method, record.scan));
                    found.grids.len() - 1
                }),
            };
            last = Some((bits, place));
            found.of_record.push(place);
        }
        found
    }

    /// The grid of the record at a place, and its number among the grids.
    pub(crate) fn at(&self, record: usize) -> Option<(usize, &Grid<'a>)> {
        let number = *self.of_record.get(record)?;
        Some((number, self.grids.get(number)?))
    }
}

/// Numbers in an order in which only those that agree in every bit are equal. Two recordings differ within a few points, so
/// that comparing costs less than hashing.
#[derive(Clone, Copy)]
pub(crate) struct Bits<'a>(pub(crate) &'a [f64]);

impl Ord for Bits<'_> {
    fn cmp(&self, other: &Self) -> Ordering {
        let bits = self.0.iter().map(|value| value.to_bits());
        bits.cmp(other.0.iter().map(|value| value.to_bits()))
    }
}

impl PartialOrd for Bits<'_> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Bits<'_> {
    /// Without a branch a point: most that are compared are equal.
    fn eq(&self, other: &Self) -> bool {
        let differs = |(a, b): (&f64, &f64)| a.to_bits() ^ b.to_bits();
        self.0.len() == other.0.len()
            && self.0.iter().zip(other.0).map(differs).fold(0, |any, bits| any | bits) == 0
    }
}

impl Eq for Bits<'_> {}

fn unused_first_points(method: &Method, potential_v: &[f64]) -> u32 {
    let mut windows = vec![method.evaluation.peak.window_v];
    match method.evaluation.baseline {
        BaselinePlan::Line { left_v, right_v }
        | BaselinePlan::Minima { left_v, right_v }
        | BaselinePlan::Polynomial { left_v, right_v, .. } => windows.extend([left_v, right_v]),
        BaselinePlan::Tangent { window_v } => windows.push(window_v),
        BaselinePlan::AsymmetricLeastSquares { .. } => return 0,
        BaselinePlan::None => {}
    }
    let first = windows
        .into_iter()
        .filter_map(|window_v| index_range(potential_v, window_v))
        .map(|range| range.first)
        .min();
    first.and_then(|first| u32::try_from(first).ok()).unwrap_or(0)
}

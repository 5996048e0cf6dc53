//! The part of a scan that holds the peak: one passage through the potentials.

use std::ops::Range;

use stillwell_scan::{Scan, SweepDirection};

use crate::file::{PeakDirection, PeakPlan};

/// Potentials and currents of one passage, in the order of recording.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sweep<'a> {
    pub(crate) potential_v: &'a [f64],
    pub(crate) current_a: &'a [f64],
}

/// The points of [`Sweep::of`], at least three.
pub(crate) fn passage(scan: &Scan, peak: &PeakPlan) -> Option<Range<usize>> {
    let segments = scan.segments();
    let wanted = match peak.direction {
        PeakDirection::Reduction => SweepDirection::Falling,
        PeakDirection::Oxidation => SweepDirection::Rising,
    };
    let points = match segments.as_slice() {
        [only] => only.points.clone(),
        several => several.iter().find(|segment| segment.direction == wanted)?.points.clone(),
    };
    (points.len() >= 3).then_some(points)
}

impl<'a> Sweep<'a> {
    /// The first passage in the direction of the peak: downwards for a reduction. A scan that passes each
    /// potential once is taken whole, whichever way it runs.
    pub(crate) fn of(scan: &'a Scan, peak: &PeakPlan) -> Option<Self> {
        let points = passage(scan, peak)?;
        Some(Self {
            potential_v: scan.potential_v.get(points.clone())?,
            current_a: scan.current_a.get(points)?,
        })
    }

    /// Size of the first step, V.
    pub(crate) fn step_v(&self) -> Option<f64> {
        match self.potential_v {
            [first, second, ..] => Some((second - first).abs()).filter(|step| *step > 0.0),
            _ => None,
        }
    }
}

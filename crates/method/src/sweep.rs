//! The part of a scan that holds the peak: one passage through the potentials.

use stillwell_scan::{Scan, SweepDirection};

use crate::file::{PeakDirection, PeakPlan};

/// Potentials and currents of one passage, in the order of recording.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sweep<'a> {
    pub(crate) potential_v: &'a [f64],
    pub(crate) current_a: &'a [f64],
}

impl<'a> Sweep<'a> {
    /// The first passage in the direction of the peak: downwards for a reduction. A scan that passes each
    /// potential once is taken whole, whichever way it runs.
    pub(crate) fn of(scan: &'a Scan, peak: &PeakPlan) -> Option<Self> {
        let segments = scan.segments();
        let wanted = match peak.direction {
            PeakDirection::Reduction => SweepDirection::Falling,
            PeakDirection::Oxidation => SweepDirection::Rising,
        };
        let range = match segments.as_slice() {
            [only] => only.points.clone(),
            several => several.iter().find(|segment| segment.direction == wanted)?.points.clone(),
        };
        let potential_v = scan.potential_v.get(range.clone())?;
        let current_a = scan.current_a.get(range)?;
        (potential_v.len() >= 3).then_some(Self { potential_v, current_a })
    }

    /// Size of the first step, V.
    pub(crate) fn step_v(&self) -> Option<f64> {
        match self.potential_v {
            [first, second, ..] => Some((second - first).abs()).filter(|step| *step > 0.0),
            _ => None,
        }
    }
}

//! What the trust checks are given: the scan, what was expected of it, and the limits.

use super::finding::{TrustCheck, WhyNotTestable};
use super::mains::MainsConstants;
use super::quantities::Finite;

/// One sweep as recorded, before anything was done to it.
#[derive(Debug, Clone, Copy)]
pub struct RawScan<'a> {
    /// Potentials in the order recorded (V).
    pub potential_v: &'a [f64],
    /// Currents (A), one a potential.
    pub current_a: &'a [f64],
    /// Forward currents of a pulse technique, or of the first sweep of a cyclic scan (A).
    pub forward_a: Option<&'a [f64]>,
    /// Reverse currents at the same potentials as `forward_a`, point by point (A).
    pub reverse_a: Option<&'a [f64]>,
    /// Indices of points that the record itself marks as overloaded, each named once.
    pub overload_points: &'a [usize],
    /// Time from one point to the next (s), if stated.
    pub interval_s: Option<f64>,
    /// Smallest step of current that the record can show at its largest current (A), if known.
    pub resolution_a: Option<f64>,
    /// Lowest and highest current that the converter can show (A), if known.
    pub range_end_a: Option<[f64; 2]>,
}

impl RawScan<'_> {
    /// Whether the numbers are there with which `check` would compute.
    pub(super) fn whole(&self, check: TrustCheck, finite: &Finite) -> Result<(), WhyNotTestable> {
        if check == TrustCheck::Overload || check == TrustCheck::TooFewPoints {
            return Ok(());
        }
        if self.potential_v.len() != self.current_a.len() {
            return Err(WhyNotTestable::LengthsDiffer);
        }
        let is_finite = match check {
            TrustCheck::TooFewPointsInPeak
            | TrustCheck::WrongDirection
            | TrustCheck::WrongWindow
            | TrustCheck::WrongStep
            | TrustCheck::MissingPoints
            | TrustCheck::RepeatedPoints
            | TrustCheck::NonUniformSteps => finite.potential,
            TrustCheck::ReverseDrift if self.forward_a.is_none() || self.reverse_a.is_none() => {
                return Err(WhyNotTestable::NotStated);
            }
            TrustCheck::ReverseDrift => finite.forward_and_reverse,
            _ => finite.current,
        };
        if is_finite { Ok(()) } else { Err(WhyNotTestable::NotFinite) }
    }
}

/// What the technique and the method promise about a sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpectedScan {
    /// First potential (V).
    pub start_v: f64,
    /// Last potential (V).
    pub end_v: f64,
    /// Distance from one point to the next (V); its sign does not matter.
    pub step_v: f64,
    /// Where the peak is looked for (V), in either order.
    pub peak_window_v: Option<[f64; 2]>,
    /// Width of the peak at half its height (V), as the calibration saw it.
    pub half_width_v: Option<f64>,
    /// Constants for the mains frequency, if it is to be looked for.
    pub mains: Option<MainsConstants>,
}

/// The limit of every check. There are no defaults: each limit is a decision of the method.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrustLimits {
    /// Most points that may be overloaded or not a number; 0 is sensible.
    pub overload_points: u32,
    /// Identical extreme values in a row that make a plateau; 4 is sensible, at least 2 are needed.
    pub clipping_run: u32,
    /// Most points that may be missing; 0 is sensible.
    pub missing_points: u32,
    /// Most points that may be repeated; 0 is sensible.
    pub repeated_points: u32,
    /// Largest deviation of a step from the usual one, and of the usual from the expected one (fraction).
    pub step_deviation: f64,
    /// Height of a spike in robust units; 6 is sensible.
    pub spike_units: f64,
    /// Height of a spike over the range of its four neighbours; 3 is sensible.
    pub spike_ratio: f64,
    /// Smallest range of currents of a live scan (A).
    pub least_range_a: f64,
    /// The same in steps of the record's resolution; 8 is sensible.
    pub least_range_steps: f64,
    /// First points that are judged as possible start-up transient; 5 is sensible.
    pub start_up_points: u32,
    /// Points after these that give the trend, at least 6; 15 is sensible.
    pub start_up_trend_points: u32,
    /// Deviation from the trend in robust units; 6 is sensible.
    pub start_up_units: f64,
    /// Deviation from the trend over the range of the scan, which must be exceeded as well; 0.02 is sensible.
    pub start_up_fraction: f64,
    /// Most first points that may be found unfit; 0 if the method drops none.
    pub distrusted_points: u32,
    /// Points of each end region for offset and drift; 10 is sensible.
    pub end_points: u32,
    /// Largest median current of an end region (A).
    pub largest_offset_a: f64,
    /// Largest noise standard deviation (A).
    pub largest_noise_a: f64,
    /// Largest change of the gap between forward and reverse current from one end to the other (A).
    pub largest_drift_a: f64,
    /// Largest distance of the first and last potential from the expected ones (V); half a step is sensible.
    pub window_tolerance_v: f64,
    /// Least number of points of a scan.
    pub least_points: u32,
    /// Least number of points in the peak's half width; 8 is sensible.
    pub least_points_per_half_width: f64,
    /// Largest amplitude at the mains frequency (A).
    pub largest_mains_a: f64,
}

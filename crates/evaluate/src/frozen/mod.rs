//! The frozen chain: from the points of a scan to a verdict, as a device walks it.
//!
//! A [`FrozenMethod`] and a [`FrozenLot`] hold every constant; a [`ScanRun`] takes a scan point by point, a [`SampleRun`] the
//! scans of a sample. Nothing else decides what comes of them, so that a device with the same constants gives the same 64 bits.
//! The rules are those of the desktop's chain; its own tests hold the two against each other.

mod mean;
mod sample;
mod scan;

pub use mean::exact_mean;
pub use sample::{
    Conditions, Conversion, FrozenLimit, MOST_ELECTRODES, MOST_SCANS, SampleOutcome, SampleRefusal,
    SampleResult, SampleRun, TemperatureFreeze,
};
pub use scan::{FrozenReason, FrozenReasons, FrozenStorage, Point, ScanOutcome, ScanResult, ScanRun};

use crate::curve::Curve;
use crate::settings::{FixedPotential, Settings};
use crate::trust::{ExpectedScan, TrustLimits};

/// Every constant of one method revision, on its grid.
#[derive(Debug, Clone, Copy)]
pub struct FrozenMethod<'a> {
    /// The grid (V).
    pub potential_v: &'a [f64],
    /// The evaluation with its search; the reference potential belongs to the lot and is set from it.
    pub settings: Settings<'a>,
    /// Whether a blank is subtracted.
    pub uses_blank: bool,
    /// Whether each point comes with forward and reverse current.
    pub has_reverse: bool,
    /// The middle of the window, where the noise beside an edge maximum is judged; none off the grid.
    pub middle: Option<FixedPotential>,
    /// Largest distance of a peak from the standards' (V).
    pub shift_limit_v: f64,
    /// Largest relative difference of its width from the standards', beyond what noise explains.
    pub width_tolerance: f64,
    /// What the technique promises.
    pub expected: ExpectedScan,
    /// Limits of the trust checks.
    pub trust: TrustLimits,
    /// Time from one point to the next (s), if stated.
    pub interval_s: Option<f64>,
    /// The converter's ends (A), if known.
    pub range_end_a: Option<[f64; 2]>,
    /// Electrodes of one sample.
    pub electrodes: u32,
    /// Relative standard uncertainty of the standards' levels.
    pub level_relative_u: f64,
    /// How temperature is treated; none: not asked for.
    pub temperature: Option<TemperatureFreeze>,
    /// The limits that verdicts are drawn against.
    pub limits: &'a [FrozenLimit],
}

/// What the standards' peak looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrozenPeak {
    /// Potential of the vertex (V).
    pub potential_v: f64,
    /// Its place on the grid.
    pub place: FixedPotential,
    /// Width at half height (V).
    pub half_width_v: Option<f64>,
    /// Signal of the lowest standard above zero (A or A·V).
    pub lowest_signal: Option<f64>,
}

/// What electrodes in one number can see, in the unit of the levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrozenClaim {
    /// From here on a level is detected.
    pub decision_limit: f64,
    /// What is reliably detected.
    pub detection_limit: f64,
    /// From here on a level is a number.
    pub quantification_limit: f64,
    /// Variance ratio beyond which that many electrodes disagree; 0 for one.
    pub disagreement_limit: f64,
}

/// Every constant of one electrode lot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrozenLot<'a> {
    /// The calibration.
    pub curve: Curve,
    /// Harmonic mean of the scans that a standard's electrode mean stands for.
    pub scans_per_electrode: f64,
    /// Variance between scans of one electrode at unit weight (A²).
    pub scan_variance_a2: f64,
    /// Variance of electrode means at unit weight (A²).
    pub electrode_variance_a2: f64,
    /// The standards' peak; none where they show none.
    pub peak: Option<FrozenPeak>,
    /// Mean temperature of the standards (°C).
    pub temperature_c: Option<f64>,
    /// Claims for 1, 2, 3 … electrodes.
    pub claims: &'a [FrozenClaim],
    /// First day of use, days since 1970-01-01.
    pub first_day: u32,
    /// Last day of use.
    pub last_day: u32,
}

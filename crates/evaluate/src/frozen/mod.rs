//! The frozen chain: from the points of a scan to a verdict, as a device walks it.
//!
//! A [`FrozenMethod`] and a [`FrozenLot`] hold every constant; a [`ScanRun`] takes a scan point by point, a [`SampleRun`] the
//! scans of a sample. Nothing else decides what comes of them, so that a device with the same constants gives the same 64 bits.
//! What the desktop's chain asks of a scan or a sample, it asks with the same functions: of the standards' peak, the spread of
//! electrodes, temperature, widening and claims. Its own tests hold the two walks against each other.

mod sample;
mod scan;

pub use sample::{
    Conditions, Conversion, FrozenLimit, MOST_ELECTRODES, MOST_SCANS, SampleOutcome, SampleRefusal,
    SampleResult, SampleRun,
};
pub use scan::{FrozenReason, FrozenReasons, FrozenStorage, Point, ScanOutcome, ScanResult, ScanRun};

use crate::claim::ClaimLimits;
use crate::curve::Curve;
use crate::settings::{FixedPotential, Settings};
use crate::spread::StandardSpread;
use crate::standard_peak::StandardPeak;
use crate::temperature::TemperatureRule;
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
    pub temperature: Option<TemperatureRule>,
    /// The limits that verdicts are drawn against.
    pub limits: &'a [FrozenLimit],
}

/// The standards' peak on the grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrozenPeak {
    /// What it looks like.
    pub standard: StandardPeak,
    /// Its place on the grid.
    pub place: FixedPotential,
}

/// What electrodes in one number can see, in the unit of the levels.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FrozenClaim {
    /// From what level on.
    pub limits: ClaimLimits,
    /// Variance ratio beyond which that many electrodes disagree; 0 for one.
    pub disagreement_limit: f64,
}

/// Every constant of one electrode lot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrozenLot<'a> {
    /// The calibration.
    pub curve: Curve,
    /// How its electrodes scatter.
    pub spread: StandardSpread,
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

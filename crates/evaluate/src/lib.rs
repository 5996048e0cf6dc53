//! The kernel: all arithmetic that a device must repeat.
//!
//! In go constants, fixed beforehand on one grid of potentials ([`Settings`]), and the points of scans in SI units;
//! out come a [`Signal`] with its [`Flags`] or a [`Refusal`], numbers and codes without wording. Start at
//! [`Evaluator::evaluate`] (one scan), [`Evaluator::begin`] (point by point) or [`Evaluator::batch`] (many scans on one grid):
//! the three give the same 64 bits, on any processor, in any number of threads.
//!
//! The order of the links: despiking, blank, smoothing, baseline, peak.
//!
//! # What this room never does
//! No I/O, no allocation, no threads, no panic, no wording; no arithmetic but + − × ÷ √, each rounded once (no fused
//! multiply-add), every sum in an order that the source states. So the speed comes from computing several outputs, or several
//! scans, side by side.
//!
//! # Numbers at the edge
//! - NaN and infinities in a scan, a blank or their difference are refused with the index of the first
//!   ([`Refusal::NotFinite`]); they are never skipped or replaced. Currents so large that later results overflow are refused
//!   as [`Refusal::OutOfNumberRange`].
//! - −0.0 equals 0.0 everywhere; a signal of zero is issued as +0.0.
//! - Subnormal numbers are computed as IEEE 754 says (no flushing to zero); scaling by powers of two is exact only above them.
//! - Of equal maxima or minima the one recorded first counts.
#![no_std]
#![expect(clippy::float_cmp, reason = "ties, settled weights and level stretches are exact in the kernel")]
#![expect(
    clippy::inline_always,
    reason = "code inlined into the AVX2 copy is compiled for AVX2; calls would not be"
)]

#[cfg(feature = "std")]
extern crate std;

mod align;
mod baseline;
mod batch;
mod blocks;
mod despike;
mod evaluator;
mod measure;
mod refusal;
mod settings;
mod signal;
mod smooth;
mod stream;
mod wide;
mod workspace;

mod claim;
mod curve;
mod frozen;
mod inverse;
mod mean;
mod spread;
mod standard_peak;
mod temperature;
mod trust;
mod verdict;
mod widening;

pub use align::{Shift, estimate_shift, resample_shifted};
pub use baseline::{
    AsymmetricLeastSquares, Baseline, LANES, asymmetric_least_squares, asymmetric_least_squares_side_by_side,
    lane_scratch_len, single_scratch_len,
};
pub use batch::Blanks;
pub use claim::{ClaimLimits, Standing};
pub use curve::{Curve, prediction_half_width_a, signal_at};
pub use despike::{Despike, despike};
pub use evaluator::Evaluator;
pub use frozen::{
    Conditions, Conversion, FrozenClaim, FrozenLimit, FrozenLot, FrozenMethod, FrozenPeak, FrozenReason,
    FrozenReasons, FrozenStorage, MOST_ELECTRODES, MOST_SCANS, Point, SampleOutcome, SampleRefusal,
    SampleResult, SampleRun, ScanOutcome, ScanResult, ScanRun,
};
pub use inverse::{Inverse, InverseFault, inverse};
pub use mean::{electrode_mean, exact_mean};
pub use refusal::{RangeName, Refusal, SettingName};
pub use settings::{
    AreaLimits, Direction, FixedPotential, IndexRange, Measure, PeakLimits, PeakSettings, Placement, Settings,
};
pub use signal::{ALL_FLAGS, Flag, Flags, Signal};
pub use smooth::{MAX_SMOOTHING_DEGREE, MAX_SMOOTHING_WINDOW, Smoother};
pub use spread::{ElectrodeMean, LevelUncertainty, MeanSpread, StandardSpread};
pub use standard_peak::{OtherWidth, StandardPeak};
pub use stream::Stream;
pub use temperature::{TemperatureCorrection, TemperatureRefusal, TemperatureRule};
pub use trust::{
    ExpectedScan, GridSteps, MainsConstants, RawScan, TrustCheck, TrustFinding, TrustLimits, TrustReport,
    TrustState, WhyNotTestable, check_scan, check_scan_on, mains_cycles_per_point,
};
pub use verdict::{VerdictCode, verdict};
pub use widening::{RelativeUncertainty, Widened};
pub use workspace::Workspace;

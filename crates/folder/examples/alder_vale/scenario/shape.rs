//! A shape model of a square-wave voltammogram, not the physics twin that replaces it later.
//!
//! Difference current = background (offset, slope, hydrogen edge growing towards the end) + one bell-shaped
//! peak near −0.61 V whose height is proportional to nitrate. Every strip has its own sensitivity and
//! background, every scan its own error, peak potential and white noise; the converter counts whole
//! nanoamperes and stops at the end of its range. Depletion at high levels is not modelled.

use super::PlannedScan;
use super::noise::Noise;
use super::plan::Range;

/// Points of a scan: from −0.300 V to −0.900 V in steps of 4 mV.
pub(crate) const N_POINTS: i32 = 151;

const START_MV: i32 = -300;
const STEP_MV: i32 = -4;

/// Height per level; reduction currents are negative.
const SENSITIVITY_A_PER_MG_PER_L: f64 = -0.30e-6;
const SENSITIVITY_PER_K: f64 = 0.018;
const CALIBRATED_AT_C: f64 = 21.0;
const PEAK_POTENTIAL_V: f64 = -0.61;
/// The bell sech²((E − Ep)/w) is 1.763 w wide at half its height: 0.11 V.
const PEAK_SCALE_V: f64 = 0.11 / 1.763;

const STRIP_RELATIVE_SD: f64 = 0.025;
const SCAN_RELATIVE_SD: f64 = 0.008;
const PEAK_POTENTIAL_SD_V: f64 = 0.002;
const NOISE_SD_A: f64 = 0.03e-6;
const REVERSE_NOISE_SD_A: f64 = 0.02e-6;

/// One point as the instrument writes it, in whole nanoamperes: difference = forward − reverse.
pub(crate) struct Reading {
    pub(crate) potential_mv: i32,
    pub(crate) difference_na: i64,
    pub(crate) reverse_na: i64,
}

/// What one strip brings along, whatever it is dipped into.
struct Strip {
    relative_sensitivity: f64,
    offset_a: f64,
    slope_a_per_v: f64,
    edge_a: f64,
    edge_scale_v: f64,
    leak_a: f64,
}

/// The readings of one scan, the same whatever else is recorded before or after it.
pub(crate) fn record(scan: &PlannedScan) -> Vec<Reading> {
    let strip = Strip::of(scan);
    let mut noise = Noise::of_scan(scan);
    let warmth = 1.0 + SENSITIVITY_PER_K * (scan.measurement.temperature_c - CALIBRATED_AT_C);
    let height_a = SENSITIVITY_A_PER_MG_PER_L
        * scan.measurement.at_strip_mg_per_l
        * strip.relative_sensitivity
        * (1.0 + SCAN_RELATIVE_SD * noise.normal())
        * warmth;
    let peak_potential_v = PEAK_POTENTIAL_V + PEAK_POTENTIAL_SD_V * noise.normal();
    (0..N_POINTS)
        .map(|point| {
            let potential_mv = START_MV + STEP_MV * point;
            let potential_v = f64::from(potential_mv) / 1000.0;
            let background_a = strip.background_a(potential_v);
            let peak_a = height_a * bell((potential_v - peak_potential_v) / PEAK_SCALE_V);
            let difference_a = background_a + peak_a + NOISE_SD_A * noise.normal();
            let reverse_a = 0.4 * background_a - 0.2 * peak_a + REVERSE_NOISE_SD_A * noise.normal();
            let end_a = scan.measurement.range.end_a();
            Reading {
                potential_mv,
                difference_na: whole_na(difference_a.clamp(-end_a, end_a)),
                reverse_na: whole_na(reverse_a),
            }
        })
        .collect()
}

impl Strip {
    fn of(scan: &PlannedScan) -> Self {
        let mut noise = Noise::of_strip(scan);
        let overfilled = matches!(scan.measurement.range, Range::NarrowAndOverfilled);
        Self {
            relative_sensitivity: scan.batch.lot_factor * (1.0 + STRIP_RELATIVE_SD * noise.normal()),
            offset_a: -1.2e-6 + 0.08e-6 * noise.normal(),
            slope_a_per_v: 1.5e-6 * (1.0 + 0.05 * noise.normal()),
            edge_a: -5.0e-6 * (1.0 + 0.06 * noise.normal()),
            edge_scale_v: 0.05,
            leak_a: if overfilled { -27e-6 * (1.0 + 0.04 * noise.normal()) } else { 0.0 },
        }
    }

    /// Offset, slope and hydrogen edge. A wetted track shunts the strip: the pulses drive the same current through
    /// it at every potential.
    fn background_a(&self, potential_v: f64) -> f64 {
        let from_start_v = potential_v + 0.300;
        let to_end_v = potential_v + 0.900;
        self.offset_a
            + self.leak_a
            + self.slope_a_per_v * from_start_v
            + self.edge_a * libm::exp(-to_end_v / self.edge_scale_v)
    }
}

impl Range {
    fn end_a(self) -> f64 {
        match self {
            Self::Wide => 100e-6,
            Self::Narrow | Self::NarrowAndOverfilled => 40e-6,
        }
    }
}

/// sech², the bell of a reversible couple at small amplitude; here only a convenient shape.
fn bell(x: f64) -> f64 {
    let cosh = libm::cosh(x);
    1.0 / (cosh * cosh)
}

#[expect(clippy::cast_possible_truncation, reason = "the range ends at 100 µA: at most 100000 nA")]
fn whole_na(current_a: f64) -> i64 {
    libm::rint(current_a * 1e9) as i64
}

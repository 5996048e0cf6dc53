//! The constants of a method and the record of a lot, field by field as `kernel.h` and `lot.h` lay them out.

use stillwell_evaluate::{
    AreaLimits, Baseline, Conversion, Despike, Direction, ExpectedScan, FixedPotential, FrozenClaim,
    IndexRange, Measure, PeakLimits, PeakSettings, Placement, Settings, StandardSpread, TrustCheck,
    TrustFinding, TrustLimits, TrustState, WhyNotTestable,
};

use crate::crc::crc32;
use crate::error::TransferError;
use crate::frozen::{DEVICE_BASELINES, Frozen, looks_at_grid, why_never_testable};
use crate::grid::{Grid, grid_of};
use crate::layout::Fields;
use crate::limits::MOST_LIMITS;

/// Raised whenever a field of the C structs changes its meaning or place.
pub const LAYOUT: u32 = 1;

/// Bytes of a lot's record.
pub const LOT_BYTES: usize = 616;
/// Where its checksum stands; the bytes before it, and the blank's, are what is signed.
pub const LOT_CHECKSUM_AT: usize = 544;
/// Where its signature stands.
pub const LOT_SIGNATURE_AT: usize = 552;

const HAS_BLANK: u32 = 0x01;
const HAS_DESPIKE: u32 = 0x02;
const HAS_REVERSE: u32 = 0x04;
const HAS_RANGE_END: u32 = 0x08;
const HAS_TEMPERATURE: u32 = 0x10;
const HAS_COEFFICIENT: u32 = 0x20;
const IS_OXIDATION: u32 = 0x40;

/// A method's constants with its tables and their checksum.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct MethodConstants {
    pub(crate) fields: Fields,
    pub(crate) potential_v: Vec<f64>,
    pub(crate) weights: Vec<f64>,
}

impl MethodConstants {
    /// CRC-32 over constants, potentials and weights as they lie in memory.
    pub(crate) fn checksum(&self) -> u32 {
        let tables =
            self.potential_v.iter().chain(&self.weights).flat_map(|value| value.to_bits().to_le_bytes());
        let bytes: Vec<u8> = self.fields.bytes().into_iter().chain(tables).collect();
        crc32(0, &bytes)
    }
}

/// What the kernel must hold; taking the settings apart field by field makes a new one fail here.
pub(crate) fn method_constants(frozen: &Frozen) -> Result<MethodConstants, TransferError> {
    let Settings { despike, smoother, baseline, peak, noise, limits } = frozen.settings()?;
    let PeakSettings { window, direction, placement, measure } = peak;
    let PeakLimits {
        min_signal_to_noise,
        max_background_ratio,
        second_peak_fraction,
        reference_potential_v: _,
    } = limits;
    let ExpectedScan { start_v: _, end_v: _, step_v: _, peak_window_v: _, half_width_v: _, mains } =
        frozen.freeze.expected;
    debug_assert_eq!(placement, Placement::Search);
    let grid = grid_of(&frozen.freeze.potential_v);
    let mut fields = Fields::default();
    let even = if let Grid::Even { units_per_volt, .. } = grid { units_per_volt } else { 0.0 };
    fields.f64("units_per_volt", even);
    let Despike { limit, min_ratio, floor_a } =
        despike.unwrap_or(Despike { limit: 0.0, min_ratio: 0.0, floor_a: 0.0 });
    fields.f64("despike_limit", limit);
    fields.f64("despike_min_ratio", min_ratio);
    fields.f64("despike_floor_a", floor_a);
    let at = if let Measure::HeightAt(place) = measure {
        place
    } else {
        FixedPotential { index: 0, fraction: 0.0 }
    };
    fields.f64("at_fraction", at.fraction);
    fields.f64("middle_fraction", frozen.freeze.middle.map_or(0.0, |place| place.fraction));
    // The search of a method has every limit; a missing one switches its check off.
    fields.f64("min_signal_to_noise", min_signal_to_noise.unwrap_or(0.0));
    fields.f64("max_background_ratio", max_background_ratio.unwrap_or(f64::MAX));
    fields.f64("second_peak_fraction", second_peak_fraction.unwrap_or(f64::MAX));
    fields.f64("shift_limit_v", frozen.shift_limit_v);
    fields.f64("width_tolerance", frozen.width_tolerance);
    trust_numbers(
        &mut fields,
        frozen,
        mains.map_or([0.0; 2], |mains| [mains.cos_per_point, mains.sin_per_point]),
    );
    sample_numbers(&mut fields, frozen);
    limit_fields(&mut fields, frozen);
    grid_findings(&mut fields, frozen);
    fields.u32("layout", LAYOUT);
    fields.u32("switches", switches(frozen, despike.is_some(), direction));
    fields.u32("n_points", small(frozen.n_points()));
    let (start, step) = if let Grid::Even { start, step, .. } = grid { (start, step) } else { (0, 0) };
    fields.i32("start_units", start);
    fields.i32("step_units", step);
    fields.u32("smoothing_window", smoother.map_or(0, |smoother| small(smoother.window())));
    baseline_fields(&mut fields, &baseline)?;
    for (side, range) in noise.into_iter().enumerate() {
        range_fields(&mut fields, &format!("noise_range[{side}]"), range);
    }
    range_fields(&mut fields, "window", Some(window));
    for (side, range) in frozen.settings()?.outside_ranges(frozen.n_points()).into_iter().enumerate() {
        range_fields(&mut fields, &format!("outside[{side}]"), range);
    }
    fields.u32("measure", measure_code(measure)?);
    fields.u32("at_index", small(at.index));
    fields.u32("middle_index", frozen.freeze.middle.map_or(u32::MAX, |place| small(place.index)));
    trust_counts(&mut fields, frozen);
    fields.u32("electrodes", frozen.electrodes);
    fields.u32("n_limits", small(frozen.limits.len()));
    fields.bytes32("hash", *frozen.method_hash.as_bytes());
    let potential_v = if let Grid::Table = grid { frozen.freeze.potential_v.clone() } else { Vec::new() };
    let weights = frozen.freeze.smoothing.as_ref().map(|(_, weights)| weights.clone()).unwrap_or_default();
    Ok(MethodConstants { fields, potential_v, weights })
}

/// The limits that the device holds; those of the grid's own checks went into their findings.
fn trust_numbers(fields: &mut Fields, frozen: &Frozen, [mains_cos, mains_sin]: [f64; 2]) {
    let TrustLimits {
        overload_points: _,
        clipping_run: _,
        missing_points: _,
        repeated_points: _,
        step_deviation: _,
        spike_units,
        spike_ratio,
        least_range_a,
        least_range_steps: _,
        start_up_points: _,
        start_up_trend_points: _,
        start_up_units,
        start_up_fraction,
        distrusted_points: _,
        end_points: _,
        largest_offset_a,
        largest_noise_a,
        largest_drift_a,
        window_tolerance_v: _,
        least_points: _,
        least_points_per_half_width: _,
        largest_mains_a,
    } = frozen.freeze.trust;
    let [low, high] = frozen.range_end_a.unwrap_or([0.0; 2]);
    fields.f64("range_low_a", low);
    fields.f64("range_high_a", high);
    fields.f64("spike_units", spike_units);
    fields.f64("spike_ratio", spike_ratio);
    fields.f64("least_range_a", least_range_a);
    fields.f64("start_up_units", start_up_units);
    fields.f64("start_up_fraction", start_up_fraction);
    let stated = |limit: f64| if limit.is_finite() { limit } else { -1.0 };
    fields.f64("largest_offset_a", stated(largest_offset_a));
    fields.f64("largest_noise_a", stated(largest_noise_a));
    fields.f64("largest_drift_a", stated(largest_drift_a));
    fields.f64("largest_mains_a", stated(largest_mains_a));
    fields.f64("mains_cos", mains_cos);
    fields.f64("mains_sin", mains_sin);
}

fn sample_numbers(fields: &mut Fields, frozen: &Frozen) {
    let [low, high] = frozen.temperature.map_or([0.0; 2], |rule| rule.span_c);
    let (per_k, u_per_k) = frozen.temperature.and_then(|rule| rule.coefficient_per_k).unwrap_or((0.0, 0.0));
    fields.f64("level_relative_u", frozen.level_relative_u);
    fields.f64("temperature_low_c", low);
    fields.f64("temperature_high_c", high);
    fields.f64("temperature_tolerance_k", frozen.temperature.map_or(0.0, |rule| rule.tolerance_k));
    fields.f64("temperature_per_k", per_k);
    fields.f64("temperature_u_per_k", u_per_k);
}

fn limit_fields(fields: &mut Fields, frozen: &Frozen) {
    for place in 0..MOST_LIMITS {
        let limit = frozen.limits.get(place);
        let steps = limit.map_or([None; 3], |limit| limit.steps);
        fields.f64(format!("limits[{place}].limit"), limit.map_or(0.0, |limit| limit.limit));
        for (k, step) in steps.iter().enumerate() {
            let factor = match step {
                Some(Conversion::Times(factor) | Conversion::Over(factor)) => *factor,
                None => 1.0,
            };
            fields.f64(format!("limits[{place}].factor[{k}]"), factor);
        }
        for (k, step) in steps.iter().enumerate() {
            let code = match step {
                None => 0,
                Some(Conversion::Times(_)) => 1,
                Some(Conversion::Over(_)) => 2,
            };
            fields.u32(format!("limits[{place}].step[{k}]"), code);
        }
        let [below, above, too_close] = limit.map_or([false; 3], |limit| limit.can_show);
        let allowed = u32::from(below) | u32::from(above) << 1 | u32::from(too_close) << 2;
        fields.u32(format!("limits[{place}].allowed"), allowed);
    }
}

fn grid_findings(fields: &mut Fields, frozen: &Frozen) {
    let report = frozen.trust_of(&vec![0.0; frozen.n_points()]);
    for check in TrustCheck::ALL {
        let TrustFinding { check: _, state, found, limit, at_index } = report.of(check);
        let is_constant = looks_at_grid(check);
        let place = format!("grid_findings[{}]", check as usize);
        let number = |value: f64| if is_constant { value } else { 0.0 };
        fields.u32(format!("{place}.state"), if is_constant { state_code(state) } else { 0 });
        fields.u32(format!("{place}.at_index"), if is_constant { at_index } else { 0 });
        fields.f64(format!("{place}.found"), number(found));
        fields.f64(format!("{place}.limit"), number(limit));
    }
}

fn switches(frozen: &Frozen, has_despike: bool, direction: Direction) -> u32 {
    let has_coefficient = frozen.temperature.is_some_and(|rule| rule.coefficient_per_k.is_some());
    [
        (frozen.uses_blank, HAS_BLANK),
        (has_despike, HAS_DESPIKE),
        (frozen.freeze.has_reverse, HAS_REVERSE),
        (frozen.range_end_a.is_some(), HAS_RANGE_END),
        (frozen.temperature.is_some(), HAS_TEMPERATURE),
        (has_coefficient, HAS_COEFFICIENT),
        (direction == Direction::Oxidation, IS_OXIDATION),
    ]
    .into_iter()
    .fold(0, |bits, (is_set, bit)| if is_set { bits | bit } else { bits })
}

/// Code, degree and ranges; a baseline that the C does not draw is an error here, whoever asks.
fn baseline_fields(fields: &mut Fields, baseline: &Baseline) -> Result<(), TransferError> {
    let (code, degree, ranges) = match *baseline {
        Baseline::None => (0, 0, [None; 2]),
        Baseline::Line { before, after } => (1, 0, [Some(before), Some(after)]),
        Baseline::Minima { before, after } => (2, 0, [Some(before), Some(after)]),
        Baseline::Tangent { search } => (3, 0, [Some(search), None]),
        Baseline::Polynomial { degree, before, after } => (4, degree, [Some(before), Some(after)]),
        Baseline::AsymmetricLeastSquares(_) => {
            return Err(TransferError::BaselineNotOnDevice {
                needed_bytes: 0,
                alternatives: DEVICE_BASELINES,
            });
        }
    };
    fields.u32("baseline", code);
    fields.u32("baseline_degree", small(degree));
    for (side, range) in ranges.into_iter().enumerate() {
        range_fields(fields, &format!("baseline_range[{side}]"), range);
    }
    Ok(())
}

fn measure_code(measure: Measure) -> Result<u32, TransferError> {
    match measure {
        Measure::Height => Ok(0),
        Measure::Area(AreaLimits::Window) => Ok(1),
        Measure::Area(AreaLimits::Crossings) => Err(TransferError::AreaBetweenCrossings),
        Measure::HeightAt(_) => Ok(2),
    }
}

fn trust_counts(fields: &mut Fields, frozen: &Frozen) {
    let trust = &frozen.freeze.trust;
    fields.u32("clipping_run", trust.clipping_run);
    fields.u32("start_up_points", trust.start_up_points);
    fields.u32("start_up_trend_points", trust.start_up_trend_points);
    fields.u32("distrusted_points", trust.distrusted_points);
    fields.u32("end_points", trust.end_points);
    let why = |check: TrustCheck| why_never_testable(frozen, check).map_or(0, why_code);
    fields.u32("start_up_why", why(TrustCheck::StartUp));
    fields.u32("mains_why", why(TrustCheck::MainsPickup));
}

fn range_fields(fields: &mut Fields, name: &str, range: Option<IndexRange>) {
    fields.u32(format!("{name}.first"), range.map_or(1, |range| small(range.first)));
    fields.u32(format!("{name}.last"), range.map_or(0, |range| small(range.last)));
}

/// `STW_PASSED`, `STW_FAILED`, or `STW_NOT_TESTABLE` plus why.
pub(crate) fn state_code(state: TrustState) -> u32 {
    match state {
        TrustState::Passed => 0,
        TrustState::Failed => 1,
        TrustState::NotTestable(why) => 16 + why_code(why),
    }
}

pub(crate) fn why_code(why: WhyNotTestable) -> u32 {
    match why {
        WhyNotTestable::NotStated => 1,
        WhyNotTestable::NotFinite => 2,
        WhyNotTestable::LengthsDiffer => 3,
        WhyNotTestable::TooShort => 4,
        WhyNotTestable::NoUsualStep => 5,
        WhyNotTestable::WorkspaceTooSmall => 6,
        WhyNotTestable::LimitNotUsable => 7,
        WhyNotTestable::PeakTooNearStart => 8,
        WhyNotTestable::MainsFoldsTooSlow => 9,
    }
}

/// The record up to its checksum: what is signed, before the blank's bytes.
pub(crate) fn lot_fields(frozen: &Frozen, has_own_blank: bool) -> Result<Fields, TransferError> {
    let lot = frozen.lot();
    let curve = &lot.curve;
    let mut fields = Fields::default();
    let numbers = |fields: &mut Fields, name: &str, values: &[f64]| {
        for (k, value) in values.iter().enumerate() {
            fields.f64(format!("{name}[{k}]"), *value);
        }
    };
    numbers(&mut fields, "coefficients", &curve.coefficients);
    for (k, row) in curve.unscaled_covariance.iter().enumerate() {
        numbers(&mut fields, &format!("unscaled_covariance[{k}]"), row);
    }
    fields.f64("residual_sd", curve.residual_sd);
    fields.f64("t_quantile", curve.t_quantile);
    numbers(&mut fields, "relative_variance", &curve.relative_variance);
    fields.f64("level_min", curve.level_min);
    fields.f64("level_max", curve.level_max);
    let StandardSpread { scans_per_electrode, scan_variance_a2, electrode_variance_a2 } = lot.spread;
    fields.f64("scans_per_electrode", scans_per_electrode);
    fields.f64("scan_variance_a2", scan_variance_a2);
    fields.f64("electrode_variance_a2", electrode_variance_a2);
    let standard = lot.peak.map(|peak| peak.standard);
    let number = |value: Option<f64>| value.unwrap_or(0.0);
    fields.f64("peak_potential_v", number(standard.map(|peak| peak.potential_v)));
    fields.f64("place_fraction", number(lot.peak.map(|peak| peak.place.fraction)));
    fields.f64("half_width_v", number(standard.and_then(|peak| peak.half_width_v)));
    fields.f64("lowest_signal_a", number(standard.and_then(|peak| peak.lowest_signal)));
    fields.f64("temperature_c", number(lot.temperature_c));
    for place in 0..stillwell_evaluate::MOST_ELECTRODES {
        let FrozenClaim { limits, disagreement_limit } = lot.claims.get(place).copied().unwrap_or_default();
        fields.f64(format!("claims[{place}].decision_limit"), limits.decision_limit);
        fields.f64(format!("claims[{place}].detection_limit"), limits.detection_limit);
        fields.f64(format!("claims[{place}].quantification_limit"), limits.quantification_limit);
        fields.f64(format!("claims[{place}].disagreement_limit"), disagreement_limit);
    }
    fields.u32("layout", LAYOUT);
    let has = u32::from(standard.is_some())
        | u32::from(standard.is_some_and(|peak| peak.half_width_v.is_some())) << 1
        | u32::from(standard.is_some_and(|peak| peak.lowest_signal.is_some())) << 2
        | u32::from(lot.temperature_c.is_some()) << 3;
    fields.u32("has", has);
    fields.u32("n_coefficients", u32::from(curve.n_coefficients));
    fields.u32("degrees_of_freedom", curve.degrees_of_freedom);
    fields.u32("place_index", lot.peak.map_or(0, |peak| small(peak.place.index)));
    fields.u32("n_claims", small(lot.claims.len()));
    let n_blank = if has_own_blank { frozen.blank_a().map_or(0, <[f64]>::len) } else { 0 };
    fields.u32("n_blank", small(n_blank));
    fields.u32("first_day", lot.first_day);
    fields.u32("last_day", lot.last_day);
    fields.u32("reserved", 0);
    fields.bytes32("lot", identity(&frozen.terms.lot)?);
    fields.bytes32("method_hash", *frozen.method_hash.as_bytes());
    fields.bytes32("calibration_hash", *frozen.calibration_hash.as_bytes());
    Ok(fields)
}

fn identity(lot: &str) -> Result<[u8; 32], TransferError> {
    let mut bytes = [0; 32];
    match bytes.get_mut(..lot.len()) {
        Some(place) => place.copy_from_slice(lot.as_bytes()),
        None => {
            return Err(TransferError::LotIdentityTooLong {
                lot: lot.to_owned(),
                found: lot.len(),
                accepted: 32,
            });
        }
    }
    Ok(bytes)
}

/// Counts and indices here are far below 2³²: a scan has at most 65 535 points.
pub(crate) fn small(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

//! From the signals of a sample's electrodes to its concentration: interval, temperature, dilution, what can be said.

use std::collections::BTreeMap;

use stillwell_calibrate::{
    Calibration, ConcentrationEstimate, ElectrodeSignals, EstimatedLevel, concentration,
};
use stillwell_quantity::{Concentration, QuantityKind};

use crate::determination::Part;
use crate::link::ScanLink;

/// Relative standard uncertainties that the calibration's interval does not hold.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Relative {
    pub(crate) levels: f64,
    pub(crate) temperature: f64,
    pub(crate) dilution: f64,
}

/// A level in the original sample with its interval.
#[derive(Debug, Clone)]
pub(crate) struct Interval {
    pub(crate) value: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) parts: Vec<Part>,
}

/// The level of the measured solution from the scans of its electrodes.
pub(crate) fn measured(
    calibration: &Calibration,
    scans: &[(&ScanLink, f64)],
) -> Result<ConcentrationEstimate, String> {
    read_off(calibration, scans, |link| &link.row.electrode)
}

/// The same where one calibration serves all lots: its spread holds that between lots, and all electrodes of a lot are
/// off together. So each lot counts once, however many electrodes it has; the electrodes still must agree.
pub(crate) fn measured_across_lots(
    calibration: &Calibration,
    scans: &[(&ScanLink, f64)],
) -> Result<ConcentrationEstimate, String> {
    let electrodes = measured(calibration, scans)?;
    let lots = read_off(calibration, scans, |link| &link.row.lot)?;
    Ok(ConcentrationEstimate { electrodes: electrodes.electrodes, findings: electrodes.findings, ..lots })
}

fn read_off<'l>(
    calibration: &Calibration,
    scans: &[(&'l ScanLink, f64)],
    unit_of: impl Fn(&'l ScanLink) -> &'l str,
) -> Result<ConcentrationEstimate, String> {
    let mut units: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for (link, factor) in scans {
        let signal = link.signal.as_ref().map(|signal| signal.signal * factor);
        units.entry(unit_of(link)).or_default().extend(signal);
    }
    let signals: Vec<ElectrodeSignals> = units
        .into_iter()
        .map(|(electrode, signals_a)| ElectrodeSignals { electrode: electrode.to_owned(), signals_a })
        .collect();
    concentration(calibration, &signals).map_err(|error| error.to_string())
}

/// Widens the calibration's interval by the relative parts and scales it by the dilution.
///
/// Half widths are added in quadrature: low' = x − √((x − low)² + (t x u)²), likewise above. The calibration's own
/// interval is exact under its assumptions; with further parts the coverage is approximate (JCGM 100:2008, 5.1.2).
/// All relative parts use the calibration's t, which is wider than a normal quantile.
pub(crate) fn widened(
    calibration: &Calibration,
    [value, low, high]: [f64; 3],
    relative: Relative,
    dilution: f64,
) -> Interval {
    let t = calibration.curve.t_quantile;
    let named = [
        ("calibration and electrodes", value - low, high - value),
        ("level of the standards", t * relative.levels * value.abs(), t * relative.levels * value.abs()),
        ("temperature", t * relative.temperature * value.abs(), t * relative.temperature * value.abs()),
        ("dilution", t * relative.dilution * value.abs(), t * relative.dilution * value.abs()),
    ];
    let below = libm::sqrt(named.iter().fold(0.0, |sum, (_, below, _)| sum + below * below));
    let above = libm::sqrt(named.iter().fold(0.0, |sum, (_, _, above)| sum + above * above));
    Interval {
        value: value * dilution,
        low: (value - below) * dilution,
        high: (value + above) * dilution,
        parts: named
            .into_iter()
            .filter(|(_, below, above)| *below > 0.0 || *above > 0.0)
            .map(|(name, below, above)| Part { name, below: below * dilution, above: above * dilution })
            .collect(),
    }
}

/// A lower bound on a sample above the range, with the relative parts taken off.
pub(crate) fn lowered(calibration: &Calibration, low: f64, relative: Relative, dilution: f64) -> f64 {
    let t = calibration.curve.t_quantile;
    let sum = relative.levels * relative.levels
        + relative.temperature * relative.temperature
        + relative.dilution * relative.dilution;
    low * (1.0 - t * libm::sqrt(sum)).max(0.0) * dilution
}

/// Value, low and high of an estimate inside or below the range.
pub(crate) fn bounds(level: EstimatedLevel) -> Option<[f64; 3]> {
    match level {
        EstimatedLevel::Within { value, low, high } | EstimatedLevel::Below { value, low, high } => {
            Some([value, low, high])
        }
        EstimatedLevel::Above { .. } => None,
    }
}

/// A concentration of the reporting kind; a number that is not finite has no concentration.
pub(crate) fn reported(value: f64, kind: &QuantityKind) -> Option<Concentration> {
    Concentration::of_kind(value, kind.clone()).ok()
}

//! From the signals of a sample's electrodes to its concentration: interval, temperature, dilution, what can be said.

use std::collections::BTreeMap;

use stillwell_calibrate::{
    Calibration, ConcentrationEstimate, ElectrodeSignals, EstimatedLevel, concentration,
};
use stillwell_evaluate::{RelativeUncertainty, Widened};
use stillwell_quantity::{Concentration, QuantityKind};

use crate::determination::Part;
use crate::link::ScanLink;

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

/// The kernel's interval for the sample, and what it is made of in words; parts of no size are none.
pub(crate) fn widened(
    calibration: &Calibration,
    level: [f64; 3],
    relative: RelativeUncertainty,
    dilution: f64,
) -> Interval {
    let Widened { interval: [value, low, high], half_widths } =
        relative.widened(calibration.curve.t_quantile, level, dilution);
    let names = ["calibration and electrodes", "level of the standards", "temperature", "dilution"];
    let parts = names.into_iter().zip(half_widths).filter(|(_, [below, above])| *below > 0.0 || *above > 0.0);
    let parts = parts.map(|(name, [below, above])| Part { name, below, above }).collect();
    Interval { value, low, high, parts }
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

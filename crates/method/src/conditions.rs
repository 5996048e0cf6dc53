//! Whether a sample was measured under the conditions that the method covers, and the correction for temperature.

use stillwell_evaluate::{TemperatureCorrection, TemperatureRefusal};

use crate::check::Check;
use crate::file::Method;
use crate::finding::{Effect, Finding};
use crate::link::{CalibrationLink, ScanLink};
use crate::run_sheet::Row;

/// pH, chloride and conductivity against what the method was validated for.
pub(crate) fn matrix_findings(method: &Method, row: &Row) -> Vec<Finding> {
    let mut findings = Vec::new();
    let sample = &method.sample;
    if let Some([low, high]) = sample.ph {
        findings.extend(match row.ph {
            None => Some(not_stated(Check::Ph, row, &format!("method: {low} to {high}"))),
            Some(ph) if ph < low || ph > high => {
                Some(refused(Check::Ph, row, format!("pH {ph}, method: {low} to {high}")))
            }
            Some(_) => None,
        });
    }
    let uppers = [
        (Check::Chloride, row.chloride_mg_per_l, sample.chloride_mg_per_l_max, "mg/L"),
        (Check::Conductivity, row.conductivity_us_per_cm, sample.conductivity_us_per_cm_max, "µS/cm"),
    ];
    for (check, found, limit, unit) in uppers {
        let Some(limit) = limit else { continue };
        findings.extend(match found {
            None => Some(not_stated(check, row, &format!("validated up to {limit} {unit}"))),
            Some(found) if found > limit => {
                Some(refused(check, row, format!("{found} {unit}, validated up to {limit} {unit}")))
            }
            Some(_) => None,
        });
    }
    findings
}

/// What brings the signal of a scan to the calibration's temperature; what cannot be brought there is refused in words.
pub(crate) fn temperature_correction(
    method: &Method,
    row: &Row,
    calibration_c: Option<f64>,
) -> Result<TemperatureCorrection, Finding> {
    let Some(rule) = &method.sample.temperature else { return Ok(TemperatureCorrection::NONE) };
    rule.correction(row.temperature_c, calibration_c).map_err(|why| {
        let [low, high] = rule.span_c;
        let (sample_c, at_c) = (row.temperature_c.unwrap_or(f64::NAN), calibration_c.unwrap_or(f64::NAN));
        let found = match why {
            TemperatureRefusal::SampleNotStated => "temperature not stated on the run sheet".to_owned(),
            TemperatureRefusal::OutsideSpan => format!("{sample_c} °C, method: {low} to {high} °C"),
            TemperatureRefusal::CalibrationNotStated => {
                "the standards' temperature is not stated on the run sheet".to_owned()
            }
            TemperatureRefusal::NoCoefficient => format!(
                "{sample_c} °C, calibration at {at_c:.1} °C; the method has no coefficient to correct with"
            ),
            TemperatureRefusal::NoSignalLeft => {
                format!("{sample_c} °C, calibration at {at_c:.1} °C: the correction leaves no signal")
            }
        };
        refused(Check::Temperature, row, found)
    })
}

/// The scans that have a signal and can be brought to the calibration's temperature, with their factors.
pub(crate) fn at_temperature<'l>(
    method: &Method,
    calibration: &CalibrationLink,
    scans: &[&'l ScanLink],
) -> Vec<(&'l ScanLink, f64)> {
    let with_signal = scans.iter().filter(|scan| scan.signal.is_some());
    with_signal
        .filter_map(|scan| {
            let correction = temperature_correction(method, &scan.row, calibration.temperature_c).ok()?;
            Some((*scan, correction.factor))
        })
        .collect()
}

/// Says that a correction was made.
pub(crate) fn corrected_finding(row: &Row, calibration_c: f64, factor: f64) -> Finding {
    let sample_c = row.temperature_c.unwrap_or(f64::NAN);
    let found = format!(
        "{sample_c} °C, calibration at {calibration_c:.1} °C: signal multiplied by {factor:.3}, its uncertainty included"
    );
    Finding::new(Check::Temperature, Effect::Noted, row.sample.clone(), found)
}

fn refused(check: Check, row: &Row, found: String) -> Finding {
    Finding::new(check, Effect::Refused, row.sample.clone(), found)
}

fn not_stated(check: Check, row: &Row, limit: &str) -> Finding {
    Finding::new(check, Effect::Warned, row.sample.clone(), format!("not stated on the run sheet; {limit}"))
}

//! Whether a sample was measured under the conditions that the method covers, and the correction for temperature.

use crate::check::Check;
use crate::file::{Method, TemperatureRule};
use crate::finding::{Effect, Finding};
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

/// The factor that brings a signal to the calibration's temperature, and its relative standard uncertainty.
///
/// signal(T) = signal(T₀) · (1 + a (T − T₀)), with T₀ of the calibration and the method's own coefficient a. A missing temperature, one
/// outside the method's span, or one that differs without a coefficient, is refused: a cold well reads low.
pub(crate) fn temperature_factor(
    method: &Method,
    row: &Row,
    calibration_c: Option<f64>,
) -> Result<(f64, f64), Finding> {
    let Some(rule) = &method.sample.temperature else { return Ok((1.0, 0.0)) };
    let [low, high] = rule.span_c;
    let Some(sample_c) = row.temperature_c else {
        return Err(refused(Check::Temperature, row, "temperature not stated on the run sheet".to_owned()));
    };
    if sample_c < low || sample_c > high {
        return Err(refused(Check::Temperature, row, format!("{sample_c} °C, method: {low} to {high} °C")));
    }
    let Some(calibration_c) = calibration_c else {
        let found = "the standards' temperature is not stated on the run sheet".to_owned();
        return Err(refused(Check::Temperature, row, found));
    };
    corrected(rule, row, sample_c, calibration_c)
}

fn corrected(
    rule: &TemperatureRule,
    row: &Row,
    sample_c: f64,
    calibration_c: f64,
) -> Result<(f64, f64), Finding> {
    let difference_k = sample_c - calibration_c;
    // A difference within the tolerance is left alone; what it may do to the signal is carried as uncertainty
    // where the coefficient is known (rectangular, JCGM 100:2008, 4.3.7).
    let Some((per_k, u_per_k)) = rule.coefficient_per_k else {
        if difference_k.abs() <= rule.tolerance_k {
            return Ok((1.0, 0.0));
        }
        let found = format!(
            "{sample_c} °C, calibration at {calibration_c:.1} °C; the method has no coefficient to correct with"
        );
        return Err(refused(Check::Temperature, row, found));
    };
    if difference_k.abs() <= rule.tolerance_k {
        return Ok((1.0, (per_k * difference_k).abs() / libm::sqrt(3.0)));
    }
    let relative = 1.0 + per_k * difference_k;
    if relative <= 0.0 {
        let found =
            format!("{sample_c} °C, calibration at {calibration_c:.1} °C: the correction leaves no signal");
        return Err(refused(Check::Temperature, row, found));
    }
    Ok((1.0 / relative, (u_per_k * difference_k / relative).abs()))
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

//! The detection claim: from what level on a result is "detected", and from what level on it is a number.

use std::collections::BTreeMap;

use stillwell_calibrate::{
    Calibration, DatedResult, DetectionLimits, LimitError, LimitNote, LimitSettings, LimitSpread,
    ShorthandSpread, detection_limits_din_32645_blank, detection_limits_din_32645_calibration,
    detection_limits_iso_11843, detection_limits_prediction_band, detection_limits_shorthand,
    method_detection_limit,
};
use stillwell_quantity::Concentration;

use crate::check::Check;
use crate::estimate::{bounds, measured, reported};
use crate::file::{CalibrationPlan, DetectionWay, Method};
use crate::finding::{Effect, Finding};
use crate::group::group_of;
use crate::link::{CalibrationLink, DetectionClaim, GroupKey, ScanLink};
use crate::run_sheet::Role;

/// The sample identity of blanks taken through the whole method, plain (role sample) and spiked (role spike), on
/// which the limit of 40 CFR 136 rests. They are no samples and are not reported.
pub const METHOD_BLANK: &str = "method-blank";

/// The claim for the number of electrodes that the method foresees.
pub(crate) fn planned_claim(
    method: &Method,
    calibration: &Calibration,
    key: &GroupKey,
    scans: &[ScanLink],
) -> Result<DetectionClaim, Finding> {
    claim(method, calibration, key, scans, method.sample.electrodes)
}

/// The claim for `electrodes` electrodes: fewer of them see less.
pub(crate) fn claim_for(
    method: &Method,
    link: &CalibrationLink,
    scans: &[ScanLink],
    electrodes: u32,
) -> Result<DetectionClaim, Finding> {
    if electrodes == method.sample.electrodes
        && let Some(claim) = &link.detection
    {
        return Ok(claim.clone());
    }
    match &link.calibration {
        Some(calibration) => claim(method, calibration, &link.key, scans, electrodes),
        None => Err(no_claim(&link.key, "there is no calibration")),
    }
}

fn claim(
    method: &Method,
    calibration: &Calibration,
    key: &GroupKey,
    scans: &[ScanLink],
    electrodes: u32,
) -> Result<DetectionClaim, Finding> {
    let plan = &method.calibration;
    let settings = LimitSettings {
        alpha: plan.alpha,
        beta: plan.beta,
        n_electrodes: electrodes,
        quantification_factor: plan.quantification_factor,
    };
    let of_group: Vec<&ScanLink> =
        scans.iter().filter(|link| link.counts() && group_of(method, &link.row) == *key).collect();
    let limits =
        limits(plan, calibration, &of_group, &settings).map_err(|error| no_claim(key, &error.to_string()))?;
    // A way that states no quantification limit of its own borrows that of ISO 11843-2's spread.
    let quantification = limits.quantification.or_else(|| {
        detection_limits_iso_11843(calibration, &settings).ok().and_then(|borrowed| borrowed.quantification)
    });
    let decision = limits.decision.or(limits.detection);
    let detection = limits.detection.or(limits.decision);
    let kind = &method.analyte.reported_as;
    let level = |value: Option<f64>| value.and_then(|value| reported(value, kind));
    match (level(decision), level(detection), level(quantification.map(|found| found.level))) {
        (Some(decision_limit), Some(detection_limit), Some(quantification_limit)) => Ok(DetectionClaim {
            basis: basis(&limits, plan),
            notes: limits.notes.iter().map(|note| note_words(*note)).collect(),
            decision_limit,
            quantification_limit: at_least(quantification_limit, &detection_limit),
            detection_limit,
        }),
        _ => Err(no_claim(key, "the quantification limit would lie beyond the calibrated range")),
    }
}

/// Nothing is quantified below the level from which on it is reliably found.
fn at_least(quantification: Concentration, detection: &Concentration) -> Concentration {
    if quantification.value() < detection.value() { detection.clone() } else { quantification }
}

fn limits(
    plan: &CalibrationPlan,
    calibration: &Calibration,
    of_group: &[&ScanLink],
    settings: &LimitSettings,
) -> Result<DetectionLimits, LimitError> {
    match plan.detection {
        DetectionWay::Iso11843 => detection_limits_iso_11843(calibration, settings),
        DetectionWay::PredictionBand => detection_limits_prediction_band(calibration, settings),
        DetectionWay::Din32645Calibration => detection_limits_din_32645_calibration(calibration, settings),
        DetectionWay::Din32645Blank => {
            detection_limits_din_32645_blank(calibration, &zero_electrodes(of_group), settings)
        }
        DetectionWay::Shorthand => detection_limits_shorthand(calibration, ShorthandSpread::Residual),
        DetectionWay::Cfr136 => {
            let spikes = dated(calibration, of_group, Role::Spike);
            let blanks = dated(calibration, of_group, Role::Sample);
            let spike_level = of_group
                .iter()
                .filter(|link| link.row.role == Role::Spike && link.row.sample == METHOD_BLANK)
                .find_map(|link| link.row.level_value())
                .unwrap_or(f64::MIN_POSITIVE);
            method_detection_limit(&spikes, &blanks, spike_level).map(|limit| limit.limits)
        }
    }
}

/// Mean signal of each electrode at level zero, measured without a search.
fn zero_electrodes(of_group: &[&ScanLink]) -> Vec<f64> {
    let zeros = of_group.iter().filter(|link| link.usable(Role::Standard) && link.row.has_zero_level());
    let mut electrodes: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for link in zeros {
        let signal = link.signal.as_ref().map(|signal| signal.signal);
        electrodes.entry(&link.row.electrode).or_default().extend(signal);
    }
    electrodes.values().filter_map(|signals| crate::blank::mean(signals)).collect()
}

/// One result an electrode of the method blanks of this role.
fn dated(calibration: &Calibration, of_group: &[&ScanLink], role: Role) -> Vec<DatedResult> {
    let mut electrodes: BTreeMap<(&str, &str), Vec<(&ScanLink, f64)>> = BTreeMap::new();
    for link in of_group.iter().filter(|link| link.usable(role) && link.row.sample == METHOD_BLANK) {
        electrodes.entry((&link.row.date, &link.row.electrode)).or_default().push((link, 1.0));
    }
    electrodes
        .into_iter()
        .map(|((date, _), scans)| {
            let level = measured(calibration, &scans).ok().and_then(|found| bounds(found.level));
            DatedResult { level: level.map(|[value, ..]| value), date: date.to_owned() }
        })
        .collect()
}

/// Standard, risks, electrodes and which s, in one line.
fn basis(limits: &DetectionLimits, plan: &CalibrationPlan) -> String {
    let spread = match limits.spread {
        LimitSpread::Residual => "residuals of electrode means",
        LimitSpread::Intercept => "the intercept",
        LimitSpread::Blanks => "blank electrodes",
        LimitSpread::Spikes => "spiked method blanks",
    };
    let risk = |name: &str, value: Option<f64>| {
        value.map_or_else(|| format!("{name} not chosen"), |value| format!("{name} = {value}"))
    };
    format!(
        "{}; {}, {}, m = {} electrode(s), s from {spread} ({} degrees of freedom), k = {}",
        limits.procedure.source(),
        risk("α", limits.alpha),
        risk("β", limits.beta),
        limits.n_electrodes,
        limits.degrees_of_freedom,
        plan.quantification_factor
    )
}

fn note_words(note: LimitNote) -> &'static str {
    match note {
        LimitNote::NoStandardAtZero => "no standard at zero: the spread there is extrapolated",
        LimitNote::FewBlanks => "fewer than ten blank electrodes",
        LimitNote::QuantificationBeyondRange => {
            "the quantification limit would lie beyond the calibrated range"
        }
        LimitNote::NegativeMeanBlank => "the mean blank was negative and counted as zero",
        LimitNote::NoNumericalBlank => "no blank gave a number: the spikes alone decide",
        LimitNote::SomeBlanksWithoutResult => "some blanks gave no number: the highest blank decides",
        LimitNote::SpikeLevelOutside2To10 => {
            "the spike level lies outside 2 to 10 times the limit: repeat nearer to it"
        }
        LimitNote::ErrorsNotChosen => {
            "a shorthand: its risks follow from the factor, about 5 % each for a well-known s"
        }
    }
}

fn no_claim(key: &GroupKey, why: &str) -> Finding {
    let found = format!("no detection limit can be claimed: {why}");
    Finding::new(Check::CalibrationAcceptance, Effect::Refused, key.label(), found)
}

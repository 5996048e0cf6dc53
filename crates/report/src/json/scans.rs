//! `evaluate --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_method::{Found, Report, ScanLink, SignalLink};

use super::{FindingJson, MethodJson, RawJson, findings, in_unit};

/// The scans of an input.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    scans: Vec<ScanJson>,
}

/// `evaluate --format json`.
pub fn of(report: &Report) -> Document {
    Document {
        method: MethodJson::from(&report.method),
        scans: report.scans.iter().map(|link| scan(report, link)).collect(),
    }
}

/// One scan: signal, place of the peak, findings, place in its raw file.
#[derive(Serialize, JsonSchema)]
pub struct ScanJson {
    raw: RawJson,
    role: &'static str,
    sample: String,
    /// The stated level.
    #[serde(flatten)]
    in_levels: Map<String, Value>,
    lot: String,
    electrode: String,
    run_sheet_line: usize,
    excluded: Option<String>,
    checks_passed: usize,
    signal: Option<SignalJson>,
    blanks: Vec<RawJson>,
    findings: Vec<FindingJson>,
}

pub(crate) fn scan(report: &Report, link: &ScanLink) -> ScanJson {
    let level = link.row.level.as_ref().map(stillwell_quantity::Concentration::value);
    ScanJson {
        raw: RawJson::from(&link.raw),
        role: link.row.role.word(),
        sample: link.row.sample.clone(),
        in_levels: in_unit(&report.method.reported_as.suffix(), [("level", level)]),
        lot: link.row.lot.clone(),
        electrode: link.row.electrode.clone(),
        run_sheet_line: link.row.place.line,
        excluded: link.row.exclude.clone(),
        checks_passed: link.checks_passed,
        signal: link.signal.as_ref().map(SignalJson::from),
        blanks: link.blanks.iter().map(RawJson::from).collect(),
        findings: findings(&link.findings),
    }
}

/// A height is in A, an area in A·V.
#[derive(Serialize, JsonSchema)]
struct SignalJson {
    signal_a: f64,
    signal_without_blank_a: Option<f64>,
    found_by_search: bool,
    peak_potential_v: Option<f64>,
    half_width_v: Option<f64>,
    noise_a: Option<f64>,
    signal_to_noise: Option<f64>,
    baseline_at_peak_a: f64,
    despiked_points: usize,
}

impl From<&SignalLink> for SignalJson {
    fn from(link: &SignalLink) -> Self {
        Self {
            signal_a: link.signal,
            signal_without_blank_a: link.without_blank,
            found_by_search: link.found == Found::ByPeak,
            peak_potential_v: link.peak_potential_v,
            half_width_v: link.half_width_v,
            noise_a: link.noise_a,
            signal_to_noise: link.signal_to_noise,
            baseline_at_peak_a: link.baseline_at_peak_a,
            despiked_points: link.despiked,
        }
    }
}

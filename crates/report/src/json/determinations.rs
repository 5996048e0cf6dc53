//! `determine --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_assure::Decision;
use stillwell_method::{Determination, Outcome, Report};

use super::{FindingJson, MethodJson, findings};

/// The determinations of an input.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    determinations: Vec<DeterminationJson>,
    batch_findings: Vec<FindingJson>,
}

/// `determine --format json`.
pub fn of(report: &Report) -> Document {
    Document {
        method: MethodJson::from(&report.method),
        determinations: report.determinations.iter().map(|d| determination(report, d)).collect(),
        batch_findings: findings(&report.batch_findings),
    }
}

/// One sample: outcome with its numbers, verdicts, findings.
#[derive(Serialize, JsonSchema)]
pub struct DeterminationJson {
    sample: String,
    role: &'static str,
    batch: String,
    lot: String,
    outcome: &'static str,
    /// Numbers of the outcome, the unit in each name; none where refused.
    #[serde(flatten)]
    numbers: Map<String, Value>,
    verdicts: Vec<VerdictJson>,
    verdict_withheld: bool,
    findings: Vec<FindingJson>,
    method_blake3: Option<String>,
    calibration_blake3: Option<String>,
    raw_files: Vec<RawFileJson>,
}

#[derive(Serialize, JsonSchema)]
struct RawFileJson {
    file: String,
    blake3: String,
}

pub(crate) fn determination(report: &Report, determination: &Determination) -> DeterminationJson {
    let provenance = determination.outcome.provenance();
    let withheld = determination.withheld().next().is_some();
    DeterminationJson {
        sample: determination.sample.clone(),
        role: determination.role.word(),
        batch: determination.batch.clone(),
        lot: determination.lot.clone(),
        outcome: determination.outcome.word(),
        numbers: numbers(report, &determination.outcome),
        verdicts: determination.decisions.iter().map(|decision| verdict(decision, withheld)).collect(),
        verdict_withheld: withheld,
        findings: findings(&determination.findings),
        method_blake3: provenance.map(|provenance| provenance.method.to_string()),
        calibration_blake3: provenance.map(|provenance| provenance.calibration.to_string()),
        raw_files: provenance
            .iter()
            .flat_map(|provenance| &provenance.raw_files)
            .map(|(file, hash)| RawFileJson { file: file.clone(), blake3: hash.to_string() })
            .collect(),
    }
}

fn numbers(report: &Report, outcome: &Outcome) -> Map<String, Value> {
    let unit = report.method.reported_as.suffix();
    let mut numbers = Map::new();
    let mut put = |name: &str, value: f64| numbers.insert(format!("{name}_{unit}"), value.into());
    match outcome {
        Outcome::Quantified(estimate) => {
            put("concentration", estimate.value.value());
            put("expanded_u", estimate.expanded_u());
            put("low", estimate.low);
            put("high", estimate.high);
            numbers.insert("coverage".to_owned(), estimate.coverage.into());
            numbers.insert("electrodes".to_owned(), estimate.electrodes.into());
        }
        Outcome::AboveRange(above) => {
            put("at_least", above.at_least.value());
            put("range_end", above.range_end);
            numbers.insert("dilute_times".to_owned(), above.dilute.into());
        }
        Outcome::BelowQuantification(less) | Outcome::NotDetected(less) => {
            put("less_than", less.less_than.value());
        }
        Outcome::Refused => {}
    }
    numbers
}

#[derive(Serialize, JsonSchema)]
pub(crate) struct VerdictJson {
    limit: String,
    limit_source: String,
    rule: &'static str,
    /// `withheld` where the batch does not release it.
    verdict: &'static str,
    words: String,
    reason: String,
    risk: Option<f64>,
    conformance_probability: Option<f64>,
    cautions: Vec<&'static str>,
    advice: Vec<&'static str>,
}

pub(crate) fn verdict(decision: &Decision, withheld: bool) -> VerdictJson {
    let released = |value: Option<f64>| value.filter(|_| !withheld);
    VerdictJson {
        limit: decision.limit_id.clone(),
        limit_source: decision.limit_source.clone(),
        rule: decision.rule,
        verdict: if withheld { "withheld" } else { decision.code.code() },
        words: if withheld {
            "verdict withheld: see the findings".to_owned()
        } else {
            decision.words.clone()
        },
        reason: if withheld { String::new() } else { decision.reason.clone() },
        risk: released(decision.risk),
        conformance_probability: released(decision.conformance_probability),
        cautions: decision.cautions.clone(),
        advice: decision.advice.clone(),
    }
}

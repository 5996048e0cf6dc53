//! Series, calibrations and results on record.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_quantity::QuantityKind;
use stillwell_study::{CalibrationAct, DeterminationResult, Numbered, Said, Series, Shown, Standing};

use super::RecordJson;

/// A series on record.
#[derive(Serialize, JsonSchema)]
pub struct SeriesJson {
    number: String,
    name: String,
    n_raw_files: usize,
    n_scans: usize,
    record: RecordJson,
}

impl From<&Numbered<Series>> for SeriesJson {
    fn from(one: &Numbered<Series>) -> Self {
        Self {
            number: one.label.clone(),
            name: one.act.name.clone(),
            n_raw_files: one.act.files.len(),
            n_scans: one.act.n_scans,
            record: RecordJson::from(&one.record),
        }
    }
}

/// Whether something on record is approved, withdrawn or replaced, and by whom.
#[derive(Serialize, JsonSchema)]
pub struct StandingJson {
    standing: &'static str,
    approved: bool,
    approval: Option<SaidJson>,
    withdrawn: Option<SaidJson>,
    replaced_by: Option<SaidJson>,
}

#[derive(Serialize, JsonSchema)]
struct SaidJson {
    by: String,
    at_utc: String,
    reason: String,
    record_blake3: String,
}

impl From<&Said> for SaidJson {
    fn from(said: &Said) -> Self {
        Self {
            by: said.by.clone(),
            at_utc: said.at_utc.clone(),
            reason: said.reason.clone(),
            record_blake3: said.record.to_string(),
        }
    }
}

impl From<&Standing> for StandingJson {
    fn from(standing: &Standing) -> Self {
        Self {
            standing: standing.word(),
            approved: standing.is_approved(),
            approval: standing.approval.as_ref().map(|(_, said)| SaidJson::from(said)),
            withdrawn: standing.withdrawn.as_ref().map(SaidJson::from),
            replaced_by: standing.replaced_by.as_ref().map(SaidJson::from),
        }
    }
}

/// A calibration on record.
#[derive(Serialize, JsonSchema)]
pub struct CalibrationJson {
    number: String,
    lot: String,
    channel: String,
    accepted: bool,
    /// Until when it may be used, or when it ended; where anybody stated it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) used_until: Option<String>,
    #[serde(flatten)]
    standing: StandingJson,
    record: RecordJson,
}

impl From<&Numbered<CalibrationAct>> for CalibrationJson {
    fn from(one: &Numbered<CalibrationAct>) -> Self {
        Self {
            number: one.label.clone(),
            lot: one.act.result.lot.clone(),
            channel: one.act.result.channel.clone(),
            accepted: one.act.result.accepted,
            used_until: None,
            standing: StandingJson::from(&one.standing),
            record: RecordJson::from(&one.record),
        }
    }
}

/// A result on record, with what may be concluded from it today.
#[derive(Serialize, JsonSchema)]
pub struct ResultJson {
    number: String,
    sample: String,
    role: String,
    batch: String,
    lot: String,
    outcome: String,
    /// Numbers of the outcome, the unit in each name; none where refused.
    #[serde(flatten)]
    numbers: Map<String, Value>,
    #[serde(flatten)]
    standing: StandingJson,
    /// Empty while withheld, and where the result no longer counts.
    verdicts: Vec<VerdictJson>,
    verdict_withheld: bool,
    withheld_because: Vec<String>,
    calibration_record_blake3: Option<String>,
    /// Null where there is none.
    calibration_approved: Option<bool>,
    replaces_record_blake3: Option<String>,
    method_blake3: String,
    software: String,
    record: RecordJson,
}

#[derive(Serialize, JsonSchema)]
struct VerdictJson {
    limit: String,
    verdict: String,
    words: String,
    reason: String,
    conformance_probability: Option<f64>,
}

impl From<&Shown> for ResultJson {
    fn from(shown: &Shown) -> Self {
        let (one, act) = (&shown.one, &shown.one.act);
        let is_shown = !shown.is_withheld() && one.standing.counts();
        let verdicts = if is_shown { act.verdicts() } else { &[] };
        Self {
            number: one.label.clone(),
            sample: act.result.sample.clone(),
            role: act.result.role.clone(),
            batch: act.result.batch.clone(),
            lot: act.result.lot.clone(),
            outcome: act.result.outcome.clone(),
            numbers: numbers(&act.result),
            standing: StandingJson::from(&one.standing),
            verdicts: verdicts
                .iter()
                .map(|one| VerdictJson {
                    limit: one.limit.clone(),
                    verdict: one.code.clone(),
                    words: one.words.clone(),
                    reason: one.reason.clone(),
                    conformance_probability: one.conformance_probability,
                })
                .collect(),
            verdict_withheld: shown.is_withheld(),
            withheld_because: shown.reasons(),
            calibration_approved: act.calibration.map(|_| shown.unapproved_calibration.is_none()),
            calibration_record_blake3: act.calibration.map(|hash| hash.to_string()),
            replaces_record_blake3: act.replaces.map(|hash| hash.to_string()),
            method_blake3: act.result.method.to_string(),
            software: act.software.clone(),
            record: RecordJson::from(&one.record),
        }
    }
}

/// The names of `determine --format json`.
fn numbers(result: &DeterminationResult) -> Map<String, Value> {
    let mut found = Map::new();
    let Some(numbers) = &result.numbers else { return found };
    let suffix = suffix(&result.unit);
    let mut put = |name: &str, value: Option<f64>| {
        if let Some(value) = value {
            found.insert(format!("{name}_{suffix}"), value.into());
        }
    };
    match result.outcome.as_str() {
        "quantified" => {
            put("concentration", Some(numbers.value));
            put("expanded_u", numbers.expanded_u());
            put("low", numbers.low);
            put("high", numbers.high);
        }
        "above-range" => put("at_least", Some(numbers.value)),
        _ => put("less_than", Some(numbers.value)),
    }
    if let Some(coverage) = numbers.coverage {
        found.insert("coverage".to_owned(), coverage.into());
    }
    found
}

/// The unit of a result on record as it stands in field names; a unit that cannot be read again stands there in letters.
pub(crate) fn suffix(unit: &str) -> String {
    match QuantityKind::parse(unit, None) {
        Ok(kind) => kind.value.suffix(),
        Err(_) => unit
            .to_lowercase()
            .replace('µ', "u")
            .replace('/', "_per_")
            .chars()
            .filter(|c| c.is_ascii_alphanumeric() || *c == '_')
            .collect(),
    }
}

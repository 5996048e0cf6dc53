//! `validate --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use stillwell_assure::validate::{RowVerdict, ValidationRow};
use stillwell_method::{Method, ValidationReview};

use super::MethodJson;

/// The validation table.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    calibrations: Vec<String>,
    days: usize,
    all_met: bool,
    rows: Vec<RowJson>,
}

#[derive(Serialize, JsonSchema)]
struct RowJson {
    criterion: &'static str,
    subject: String,
    verdict: &'static str,
    would_show: Option<String>,
    found: Option<f64>,
    interval: Option<[f64; 2]>,
    unit: String,
    n: usize,
    asked: Option<[f64; 2]>,
    asked_by: Option<String>,
    advice: Vec<String>,
}

/// `validate --format json`.
pub fn of(method: &Method, review: &ValidationReview) -> Document {
    Document {
        method: MethodJson::from(method),
        calibrations: review.lots.clone(),
        days: review.n_days,
        all_met: review.table.is_met(),
        rows: review.table.rows.iter().map(row).collect(),
    }
}

fn row(row: &ValidationRow) -> RowJson {
    let (verdict, would_show) = match &row.verdict {
        RowVerdict::Met => ("met", None),
        RowVerdict::NotMet => ("not-met", None),
        RowVerdict::NotShown { would_show } => ("not-shown", Some(would_show.clone())),
    };
    RowJson {
        criterion: row.criterion.name(),
        subject: row.subject.clone(),
        verdict,
        would_show,
        found: row.found,
        interval: row.interval,
        unit: row.unit.clone(),
        n: row.n,
        asked: row.requirement.as_ref().map(|(asked, _)| *asked),
        asked_by: row.requirement.as_ref().map(|(_, source)| source.clone()),
        advice: row.advice.clone(),
    }
}

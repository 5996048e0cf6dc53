//! `lot --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_assure::lots::{MoreStrips, PartVerdict};
use stillwell_method::{LotFound, LotReview, Method};

use super::{MethodJson, in_unit};

/// Lots beside the approved calibration.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    approved_lot: String,
    channel: String,
    margin_percent: f64,
    risk: f64,
    #[serde(flatten)]
    zero_margin: Map<String, Value>,
    lots: Vec<LotJson>,
    scatter: Option<ScatterJson>,
}

#[derive(Serialize, JsonSchema)]
struct LotJson {
    lot: String,
    verdict: &'static str,
    words: String,
    more_strips: Option<usize>,
    strips: usize,
    strips_not_read: usize,
    difference_percent: Option<f64>,
    interval_percent: Option<[f64; 2]>,
    adjustment: Option<AdjustmentJson>,
    adjustment_refused: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
struct AdjustmentJson {
    ratio: f64,
    relative_u: f64,
    strips: usize,
    #[serde(flatten)]
    level: Map<String, Value>,
}

#[derive(Serialize, JsonSchema)]
struct ScatterJson {
    lots: Vec<String>,
    components: Vec<String>,
    not_estimable: Option<String>,
    #[serde(flatten)]
    level: Map<String, Value>,
}

/// `lot --format json`.
pub fn of(method: &Method, review: &LotReview) -> Document {
    let unit = method.analyte.reported_as.suffix();
    let scatter = review.scans.as_ref().zip(review.scatter.as_ref()).map(|(scans, found)| ScatterJson {
        lots: scans.names.clone(),
        components: found.as_ref().map(stillwell_assure::lots::LotScatter::words).unwrap_or_default(),
        not_estimable: found.as_ref().err().map(ToString::to_string),
        level: in_unit(&unit, [("level", Some(scans.level))]),
    });
    Document {
        method: MethodJson::from(method),
        approved_lot: review.approved.lot.clone(),
        channel: review.approved.channel.clone(),
        margin_percent: review.rule.margin_percent,
        risk: review.rule.risk,
        zero_margin: in_unit(&unit, [("zero_margin", review.rule.zero_margin)]),
        lots: review.lots.iter().map(|found| lot(found, review, &unit)).collect(),
        scatter,
    }
}

fn lot(found: &LotFound, review: &LotReview, unit: &str) -> LotJson {
    let verdict = found.verdict.as_ref().and_then(|verdict| verdict.as_ref().ok());
    let words = match &found.verdict {
        None => "no strip could be read at a known level".to_owned(),
        Some(Err(error)) => error.to_string(),
        Some(Ok(verdict)) => verdict.words(),
    };
    let adjustment = found.adjustment.as_ref();
    let refused = adjustment.and_then(|made| made.as_ref().err());
    LotJson {
        lot: found.lot.clone(),
        verdict: match verdict.map(|verdict| verdict.verdict) {
            Some(PartVerdict::Equivalent) => "equivalent",
            Some(PartVerdict::NotEquivalent) => "not-equivalent",
            Some(PartVerdict::CannotSay(_)) | None => "cannot-say",
        },
        words,
        more_strips: verdict.and_then(|verdict| match verdict.verdict {
            PartVerdict::CannotSay(MoreStrips::Needed(n)) => Some(n),
            _ => None,
        }),
        strips: found.reading.as_ref().map_or(0, |read| read.strips.len()),
        strips_not_read: found.reading.as_ref().map_or(0, |read| read.n_unread),
        difference_percent: verdict.map(|verdict| verdict.sensitivity.difference),
        interval_percent: verdict.map(|verdict| verdict.sensitivity.interval),
        adjustment: adjustment.and_then(|made| made.as_ref().ok()).map(|made| AdjustmentJson {
            ratio: made.ratio,
            relative_u: made.relative_u,
            strips: made.n,
            level: in_unit(unit, [("level", Some(made.level))]),
        }),
        adjustment_refused: refused
            .map(|reasons| reasons.iter().map(|why| why.words(&review.unit)).collect())
            .unwrap_or_default(),
    }
}

//! `study reevaluate --format json`.

use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_study::{Brief, Difference};

use super::results::suffix;
use super::{HeadJson, head};
use crate::commands::study::Revised;
use crate::json::MethodJson;

#[derive(Serialize)]
pub(crate) struct Document {
    #[serde(flatten)]
    head: HeadJson,
    method: MethodJson,
    recorded: bool,
    n_series: usize,
    n_same: usize,
    differences: Vec<DifferenceJson>,
    unreadable: Vec<UnreadableJson>,
}

#[derive(Serialize)]
struct DifferenceJson {
    series: String,
    sample: String,
    role: String,
    batch: String,
    before_record_blake3: Option<String>,
    before: Option<BriefJson>,
    now: BriefJson,
    changed_verdicts: Vec<ChangedJson>,
}

#[derive(Serialize)]
struct BriefJson {
    outcome: String,
    /// Value or bound and the ends of the interval, the unit in each name.
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

#[derive(Serialize)]
struct ChangedJson {
    limit: String,
    before: Option<String>,
    now: Option<String>,
}

#[derive(Serialize)]
struct UnreadableJson {
    series: String,
    found: String,
}

pub(crate) fn of(revised: &Revised) -> Document {
    let found = &revised.found;
    Document {
        head: head(&revised.anchor, &revised.path),
        method: MethodJson::from(&revised.method),
        recorded: found.revision.is_some(),
        n_series: found.n_series,
        n_same: found.n_same,
        differences: found.differences.iter().map(difference).collect(),
        unreadable: found
            .unreadable
            .iter()
            .map(|(series, why)| UnreadableJson { series: series.clone(), found: why.clone() })
            .collect(),
    }
}

fn difference(one: &Difference) -> DifferenceJson {
    DifferenceJson {
        series: one.series.clone(),
        sample: one.sample.clone(),
        role: one.role.clone(),
        batch: one.batch.clone(),
        before_record_blake3: one.before.as_ref().map(|(record, _)| record.to_string()),
        before: one.before.as_ref().map(|(_, brief)| self::brief(brief)),
        now: brief(&one.now),
        changed_verdicts: one
            .changed_verdicts
            .iter()
            .map(|(limit, before, now)| ChangedJson {
                limit: limit.clone(),
                before: before.clone(),
                now: now.clone(),
            })
            .collect(),
    }
}

fn brief(brief: &Brief) -> BriefJson {
    let suffix = suffix(&brief.unit);
    let [low, high] = brief.interval.map_or([None, None], |[low, high]| [Some(low), Some(high)]);
    let named = [("value", brief.value), ("low", low), ("high", high)];
    let numbers = named
        .into_iter()
        .filter_map(|(name, value)| Some((format!("{name}_{suffix}"), Value::from(value?))))
        .collect();
    BriefJson { outcome: brief.outcome.clone(), numbers }
}

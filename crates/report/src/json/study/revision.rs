//! `study reevaluate --format json`.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_method::Method;
use stillwell_study::{Anchor, Brief, Difference, Reevaluation, StaysWithdrawn};

use super::results::suffix;
use super::{HeadJson, head};
use crate::json::MethodJson;

/// All of history under a new revision.
#[derive(Debug)]
pub struct Revised {
    /// The study's file.
    pub path: PathBuf,
    /// The new revision.
    pub method: Method,
    /// What it gives, beside what stands on record.
    pub found: Reevaluation,
    /// The head of the ledger.
    pub anchor: Anchor,
}

/// All of history under another revision.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    #[serde(flatten)]
    head: HeadJson,
    method: MethodJson,
    recorded: bool,
    n_series: usize,
    n_same: usize,
    differences: Vec<DifferenceJson>,
    /// Results that were withdrawn and are not issued anew.
    withdrawn: Vec<WithdrawnJson>,
    unreadable: Vec<UnreadableJson>,
}

#[derive(Serialize, JsonSchema)]
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

#[derive(Serialize, JsonSchema)]
struct BriefJson {
    outcome: String,
    /// Value or bound and the ends of the interval, the unit in each name.
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

#[derive(Serialize, JsonSchema)]
struct ChangedJson {
    limit: String,
    before: Option<String>,
    now: Option<String>,
}

#[derive(Serialize, JsonSchema)]
struct WithdrawnJson {
    series: String,
    sample: String,
    record_blake3: String,
    by: String,
    reason: String,
}

#[derive(Serialize, JsonSchema)]
struct UnreadableJson {
    series: String,
    found: String,
}

/// `study reevaluate --format json`.
pub fn of(revised: &Revised) -> Document {
    let found = &revised.found;
    Document {
        head: head(&revised.anchor, &revised.path),
        method: MethodJson::from(&revised.method),
        recorded: found.revision.is_some(),
        n_series: found.n_series,
        n_same: found.n_same,
        differences: found.differences.iter().map(difference).collect(),
        withdrawn: found.withdrawn.iter().map(withdrawn).collect(),
        unreadable: found
            .unreadable
            .iter()
            .map(|(series, why)| UnreadableJson { series: series.clone(), found: why.clone() })
            .collect(),
    }
}

fn withdrawn(one: &StaysWithdrawn) -> WithdrawnJson {
    WithdrawnJson {
        series: one.series.clone(),
        sample: one.sample.clone(),
        record_blake3: one.record.to_string(),
        by: one.said.by.clone(),
        reason: one.said.reason.clone(),
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

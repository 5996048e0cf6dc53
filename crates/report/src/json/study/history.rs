//! `study history --format json`.

use std::path::Path;

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;
use stillwell_study::{History, HistoryEntry};

use super::results::{ResultJson, StandingJson};
use super::{HeadJson, RecordJson, head};

/// The ledger.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    #[serde(flatten)]
    head: HeadJson,
    entries: Vec<EntryJson>,
    /// Results that the entries speak of, as they stand today.
    results: Vec<ResultJson>,
}

#[derive(Serialize, JsonSchema)]
struct EntryJson {
    #[serde(flatten)]
    record: RecordJson,
    clock_utc: String,
    taken_in: bool,
    #[serde(flatten)]
    standing: Option<StandingJson>,
    rests_on_record_blake3: Vec<String>,
    touches: Vec<TouchedJson>,
    /// The act as it stands in the ledger, without its decisions: `results` has those that may be shown today.
    body: Value,
}

#[derive(Serialize, JsonSchema)]
struct TouchedJson {
    record_blake3: String,
    sample: String,
    standing: &'static str,
}

/// `study history --format json`.
pub fn of(history: &History, path: &Path) -> Document {
    let is_spoken_of = |entry: &HistoryEntry| history.results.get(&entry.record.hash);
    Document {
        head: head(&history.anchor, path),
        entries: history.entries.iter().map(entry).collect(),
        results: history.entries.iter().filter_map(is_spoken_of).map(ResultJson::from).collect(),
    }
}

fn entry(entry: &HistoryEntry) -> EntryJson {
    EntryJson {
        record: RecordJson::from(&entry.record),
        clock_utc: entry.record.clock_utc.clone(),
        taken_in: entry.is_foreign,
        standing: entry.standing.as_ref().map(StandingJson::from),
        rests_on_record_blake3: entry.rests_on.iter().map(ToString::to_string).collect(),
        touches: entry
            .touches
            .iter()
            .map(|one| TouchedJson {
                record_blake3: one.record.to_string(),
                sample: one.sample.clone(),
                standing: one.standing,
            })
            .collect(),
        body: body(entry),
    }
}

/// The act without decisions: those that were withheld must not be read out of it.
fn body(entry: &HistoryEntry) -> Value {
    let mut body = serde_json::to_value(&entry.act).unwrap_or_default();
    if let Some(result) = body.get_mut("result").and_then(Value::as_object_mut) {
        result.remove("decisions");
    }
    body
}

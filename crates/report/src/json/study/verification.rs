//! `study verify --format json`.

use std::path::Path;

use schemars::JsonSchema;
use serde::Serialize;
use stillwell_study::Verification;

use super::{HeadJson, head};
use crate::json::CONTRACT;

/// What verification found.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    contract: u32,
    sound: bool,
    n_records: usize,
    n_ledgers: usize,
    n_texts: usize,
    n_scans: usize,
    anchored_at_record: Option<u64>,
    /// The first record first.
    damages: Vec<DamageJson>,
    recomputed: Vec<RecomputedJson>,
    head: Option<HeadJson>,
}

#[derive(Serialize, JsonSchema)]
struct DamageJson {
    ledger_blake3: Option<String>,
    record: Option<u64>,
    kind: Option<String>,
    taken_in: Option<bool>,
    found: String,
}

#[derive(Serialize, JsonSchema)]
struct RecomputedJson {
    record_blake3: String,
    sample: String,
    same: bool,
    difference: Option<String>,
}

/// `study verify --format json`.
pub fn of(found: &Verification, path: &Path) -> Document {
    Document {
        contract: CONTRACT,
        sound: found.is_sound(),
        n_records: found.n_records,
        n_ledgers: found.n_ledgers,
        n_texts: found.n_texts,
        n_scans: found.n_scans,
        anchored_at_record: found.anchored_at,
        damages: found
            .damages
            .iter()
            .map(|damage| {
                let record = damage.record.as_ref();
                DamageJson {
                    ledger_blake3: record.map(|record| record.chain.to_string()),
                    record: record.map(|record| record.seq),
                    kind: record.map(|record| record.kind.clone()),
                    taken_in: record.map(|record| record.is_foreign),
                    found: damage.what.clone(),
                }
            })
            .collect(),
        recomputed: found
            .recomputed
            .iter()
            .map(|one| RecomputedJson {
                record_blake3: one.record.to_string(),
                sample: one.sample.clone(),
                same: one.difference.is_none(),
                difference: one.difference.clone(),
            })
            .collect(),
        head: found.head.as_ref().map(|anchor| head(anchor, path)),
    }
}

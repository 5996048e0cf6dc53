//! `study … --format json`, and what stands beside every document that comes from a study.

pub(crate) mod history;
pub(crate) mod results;
pub(crate) mod revision;
pub(crate) mod verification;

use std::path::Path;

use serde::Serialize;
use stillwell_study::{Anchor, Record, SigningPerson};

use self::results::{CalibrationJson, ResultJson, SeriesJson};
use super::{CONTRACT, MethodJson};
use crate::commands::source::Beside;
use crate::commands::study::{Overview, Receipt, Shown};

/// The head of the ledger: to be kept where the file's owner cannot change it.
#[derive(Serialize)]
pub(crate) struct HeadJson {
    contract: u32,
    study: String,
    ledger_blake3: String,
    head_record: u64,
    head_blake3: String,
}

pub(crate) fn head(anchor: &Anchor, path: &Path) -> HeadJson {
    HeadJson {
        contract: CONTRACT,
        study: path.display().to_string(),
        ledger_blake3: anchor.chain.to_string(),
        head_record: anchor.seq,
        head_blake3: anchor.head.to_string(),
    }
}

/// A document, and the study beside it where it came from one.
#[derive(Serialize)]
pub(crate) struct FromStudy<T> {
    #[serde(flatten)]
    document: T,
    #[serde(skip_serializing_if = "Option::is_none")]
    study: Option<BesideJson>,
}

#[derive(Serialize)]
struct BesideJson {
    #[serde(flatten)]
    head: HeadJson,
    series: String,
    series_name: String,
    /// In the order of the document's calibrations and determinations; null where nothing is on record.
    calibrations: Vec<Option<OnRecordJson>>,
    determinations: Vec<Option<OnRecordJson>>,
}

#[derive(Serialize)]
struct OnRecordJson {
    number: String,
    record_blake3: String,
    standing: &'static str,
    approved: bool,
    /// Whether what is on record is what the document says.
    same: bool,
}

pub(crate) fn from<T>(document: T, study: Option<&Beside>) -> FromStudy<T> {
    let study = study.map(|beside| BesideJson {
        head: head(&beside.anchor, &beside.path),
        series: beside.series.clone(),
        series_name: beside.series_name.clone(),
        calibrations: beside
            .calibrations
            .iter()
            .map(|one| {
                one.as_ref().map(|one| OnRecordJson {
                    number: one.label.clone(),
                    record_blake3: one.record.hash.to_string(),
                    standing: one.standing.word(),
                    approved: one.standing.is_approved(),
                    same: true,
                })
            })
            .collect(),
        determinations: beside
            .determinations
            .iter()
            .map(|last| {
                last.as_ref().map(|last| OnRecordJson {
                    number: last.result.label.clone(),
                    record_blake3: last.result.record.hash.to_string(),
                    standing: last.result.standing.word(),
                    approved: last.result.standing.is_approved(),
                    same: last.is_same,
                })
            })
            .collect(),
    });
    FromStudy { document, study }
}

/// A record of the ledger without its body.
#[derive(Serialize)]
pub(crate) struct RecordJson {
    ledger_blake3: String,
    record: u64,
    kind: String,
    subject: String,
    actor: String,
    at_utc: String,
    reason: String,
    record_blake3: String,
}

impl From<&Record> for RecordJson {
    fn from(record: &Record) -> Self {
        Self {
            ledger_blake3: record.chain.to_string(),
            record: record.seq,
            kind: record.kind.clone(),
            subject: record.subject.clone(),
            actor: record.actor.clone(),
            at_utc: record.at_utc.clone(),
            reason: record.reason.clone(),
            record_blake3: record.hash.to_string(),
        }
    }
}

#[derive(Serialize)]
pub(crate) struct ReceiptJson {
    #[serde(flatten)]
    head: HeadJson,
    done: Vec<String>,
    records: Vec<RecordJson>,
    results: Vec<ResultJson>,
}

pub(crate) fn receipt(receipt: &Receipt) -> ReceiptJson {
    ReceiptJson {
        head: head(&receipt.anchor, &receipt.path),
        done: receipt.said.clone(),
        records: receipt.records.iter().map(RecordJson::from).collect(),
        results: receipt.results.iter().map(ResultJson::from).collect(),
    }
}

#[derive(Serialize)]
pub(crate) struct OverviewJson {
    #[serde(flatten)]
    head: HeadJson,
    method: MethodJson,
    series: Vec<SeriesJson>,
    calibrations: Vec<CalibrationJson>,
    results: Vec<ResultJson>,
    keys: Vec<KeyJson>,
}

#[derive(Serialize)]
struct KeyJson {
    name: String,
    role: &'static str,
    public_key: String,
    on_trust: bool,
    in_force: bool,
    at_utc: String,
}

pub(crate) fn overview(overview: &Overview, path: &Path) -> OverviewJson {
    OverviewJson {
        head: head(&overview.anchor, path),
        method: MethodJson::from(&overview.method),
        series: overview.series.iter().map(SeriesJson::from).collect(),
        calibrations: overview.calibrations.iter().map(CalibrationJson::from).collect(),
        results: overview.results.iter().map(ResultJson::from).collect(),
        keys: overview
            .keys
            .iter()
            .map(|(record, key, is_in_force)| KeyJson {
                in_force: *is_in_force,
                name: key.name.clone(),
                role: key.role.word(),
                public_key: key.public_key.to_string(),
                on_trust: key.voucher.is_none(),
                at_utc: record.at_utc.clone(),
            })
            .collect(),
    }
}

#[derive(Serialize)]
pub(crate) struct ChainJson<T> {
    #[serde(flatten)]
    document: T,
    result: ResultJson,
    study: HeadJson,
}

pub(crate) fn chain<T>(document: T, shown: &Shown, anchor: &Anchor, path: &Path) -> ChainJson<T> {
    ChainJson { document, result: ResultJson::from(shown), study: head(anchor, path) }
}

#[derive(Serialize)]
pub(crate) struct MadeKeyJson {
    contract: u32,
    key_file: String,
    name: String,
    public_key: String,
}

pub(crate) fn key(person: &SigningPerson, path: &Path) -> MadeKeyJson {
    MadeKeyJson {
        contract: CONTRACT,
        key_file: path.display().to_string(),
        name: person.name().to_owned(),
        public_key: person.public_key().to_string(),
    }
}

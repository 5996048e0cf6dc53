//! `study … --format json`, and what stands beside every document that comes from a study.

pub mod history;
pub mod results;
pub mod revision;
pub mod verification;

use std::path::{Path, PathBuf};

use schemars::JsonSchema;
use serde::Serialize;
use stillwell_study::{Anchor, Beside, Overview, Record, Shown, SigningPerson, Study, StudyError};

use self::results::{CalibrationJson, ResultJson, SeriesJson, StandingJson};
use super::comparison::LaboratoryRecordJson;
use super::{CONTRACT, MethodJson};

/// The head of the ledger: to be kept where the file's owner cannot change it.
#[derive(Serialize, JsonSchema)]
pub struct HeadJson {
    contract: u32,
    study: String,
    ledger_blake3: String,
    head_record: u64,
    head_blake3: String,
}

/// The head of the ledger.
pub fn head(anchor: &Anchor, path: &Path) -> HeadJson {
    HeadJson {
        contract: CONTRACT,
        study: path.display().to_string(),
        ledger_blake3: anchor.chain.to_string(),
        head_record: anchor.seq,
        head_blake3: anchor.head.to_string(),
    }
}

/// A document, and the study beside it where it came from one.
#[derive(Serialize, JsonSchema)]
pub struct FromStudy<T> {
    #[serde(flatten)]
    document: T,
    #[serde(skip_serializing_if = "Option::is_none")]
    study: Option<BesideJson>,
}

#[derive(Serialize, JsonSchema)]
struct BesideJson {
    #[serde(flatten)]
    head: HeadJson,
    series: String,
    series_name: String,
    /// In the order of the document's calibrations and determinations; null where nothing is on record.
    calibrations: Vec<Option<OnRecordJson>>,
    determinations: Vec<Option<OnRecordJson>>,
}

#[derive(Serialize, JsonSchema)]
struct OnRecordJson {
    number: String,
    record_blake3: String,
    standing: &'static str,
    approved: bool,
    /// Whether what is on record is what the document says.
    same: bool,
}

/// A document with what the study says beside it.
pub fn from<T>(document: T, study: Option<&Beside>) -> FromStudy<T> {
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

/// A document over several series, and the study beside it where they came from one.
#[derive(Serialize, JsonSchema)]
pub struct OverSeries<T> {
    #[serde(flatten)]
    document: T,
    #[serde(skip_serializing_if = "Option::is_none")]
    study: Option<SeriesOfStudy>,
}

#[derive(Serialize, JsonSchema)]
struct SeriesOfStudy {
    #[serde(flatten)]
    head: HeadJson,
    /// In the order of time.
    series: Vec<String>,
}

/// A document over several series, with the head of the ledger where they came from a study.
pub fn over_series<T>(document: T, study: Option<(&Anchor, &Path, &[String])>) -> OverSeries<T> {
    let study = study
        .map(|(anchor, path, series)| SeriesOfStudy { head: head(anchor, path), series: series.to_vec() });
    OverSeries { document, study }
}

/// A record of the ledger without its body.
#[derive(Serialize, JsonSchema)]
pub struct RecordJson {
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

/// What an act did.
#[derive(Debug)]
pub struct Receipt {
    /// The study's file.
    pub path: PathBuf,
    /// What was done, a sentence each.
    pub said: Vec<String>,
    /// Results that were issued or that the act touches.
    pub results: Vec<Shown>,
    /// What may be done next.
    pub hints: Vec<String>,
    /// The records it wrote.
    pub records: Vec<Record>,
    /// The head of the ledger after it.
    pub anchor: Anchor,
}

impl Receipt {
    /// What an act did, in one sentence, with the records it wrote.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn of(study: &Study, said: impl Into<String>, records: Vec<Record>) -> Result<Self, StudyError> {
        Ok(Self {
            path: study.path().to_owned(),
            said: vec![said.into()],
            results: Vec::new(),
            hints: Vec::new(),
            records,
            anchor: study.anchor()?,
        })
    }
}

/// What an act did: sentences, records, results, and the head after it.
#[derive(Serialize, JsonSchema)]
pub struct ReceiptJson {
    #[serde(flatten)]
    head: HeadJson,
    done: Vec<String>,
    records: Vec<RecordJson>,
    results: Vec<ResultJson>,
}

/// What an act did.
pub fn receipt(receipt: &Receipt) -> ReceiptJson {
    ReceiptJson {
        head: head(&receipt.anchor, &receipt.path),
        done: receipt.said.clone(),
        records: receipt.records.iter().map(RecordJson::from).collect(),
        results: receipt.results.iter().map(ResultJson::from).collect(),
    }
}

/// The whole study.
#[derive(Serialize, JsonSchema)]
pub struct OverviewJson {
    #[serde(flatten)]
    head: HeadJson,
    method: MethodJson,
    series: Vec<SeriesJson>,
    calibrations: Vec<CalibrationJson>,
    results: Vec<ResultJson>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    campaigns: Vec<CampaignJson>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    laboratory_records: Vec<LaboratoryRecordJson>,
    keys: Vec<KeyJson>,
}

#[derive(Serialize, JsonSchema)]
struct CampaignJson {
    number: String,
    name: String,
    text_blake3: String,
    calibrations_record_blake3: Vec<String>,
    #[serde(flatten)]
    standing: StandingJson,
    record: RecordJson,
}

#[derive(Serialize, JsonSchema)]
struct KeyJson {
    name: String,
    role: &'static str,
    public_key: String,
    on_trust: bool,
    in_force: bool,
    at_utc: String,
}

/// `study show --format json`.
pub fn overview(overview: &Overview, path: &Path) -> OverviewJson {
    OverviewJson {
        head: head(&overview.anchor, path),
        method: MethodJson::from(&overview.method),
        series: overview.series.iter().map(SeriesJson::from).collect(),
        calibrations: overview
            .calibrations
            .iter()
            .map(|one| {
                let mut said = CalibrationJson::from(one);
                said.used_until = overview.used_until.get(&one.record.hash).cloned();
                said
            })
            .collect(),
        results: overview.results.iter().map(ResultJson::from).collect(),
        campaigns: overview
            .campaigns
            .iter()
            .map(|one| CampaignJson {
                number: one.label.clone(),
                name: one.act.name.clone(),
                text_blake3: one.act.text.to_string(),
                calibrations_record_blake3: one.act.calibrations.iter().map(ToString::to_string).collect(),
                standing: StandingJson::from(&one.standing),
                record: RecordJson::from(&one.record),
            })
            .collect(),
        laboratory_records: overview.laboratories.iter().map(LaboratoryRecordJson::from).collect(),
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

/// The chain of a result on record.
#[derive(Serialize, JsonSchema)]
pub struct ChainJson<T> {
    #[serde(flatten)]
    document: T,
    result: ResultJson,
    study: HeadJson,
}

/// `study chain --format json`.
pub fn chain<T>(document: T, shown: &Shown, anchor: &Anchor, path: &Path) -> ChainJson<T> {
    ChainJson { document, result: ResultJson::from(shown), study: head(anchor, path) }
}

/// A key file that was made.
#[derive(Serialize, JsonSchema)]
pub struct MadeKeyJson {
    contract: u32,
    key_file: String,
    name: String,
    public_key: String,
}

/// `study key make --format json`.
pub fn key(person: &SigningPerson, path: &Path) -> MadeKeyJson {
    MadeKeyJson {
        contract: CONTRACT,
        key_file: path.display().to_string(),
        name: person.name().to_owned(),
        public_key: person.public_key().to_string(),
    }
}

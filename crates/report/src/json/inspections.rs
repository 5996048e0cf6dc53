//! `inspect --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use stillwell_method::Inspection;

use super::{FindingJson, findings};

/// How files were read.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    contract: u32,
    files: Vec<FileJson>,
}

/// `inspect --format json`.
pub fn of(inspections: &[Inspection]) -> Document {
    Document { contract: super::CONTRACT, files: inspections.iter().map(FileJson::from).collect() }
}

#[derive(Serialize, JsonSchema)]
struct FileJson {
    file: String,
    blake3: String,
    read_as: String,
    reading_pin: String,
    notes: Vec<String>,
    scans: Vec<ScanJson>,
}

#[derive(Serialize, JsonSchema)]
struct ScanJson {
    scan: usize,
    name: String,
    n_points: usize,
    first_potential_v: Option<f64>,
    last_potential_v: Option<f64>,
    first_line: usize,
    last_line: usize,
    settings: Vec<SettingJson>,
    overload_points: Vec<usize>,
    checks_passed: Option<usize>,
    not_testable: Vec<NotTestableJson>,
    findings: Vec<FindingJson>,
}

#[derive(Serialize, JsonSchema)]
struct SettingJson {
    key: String,
    value: String,
    line: usize,
}

#[derive(Serialize, JsonSchema)]
struct NotTestableJson {
    check: &'static str,
    why: &'static str,
}

impl From<&Inspection> for FileJson {
    fn from(inspection: &Inspection) -> Self {
        let file = &inspection.file;
        Self {
            file: file.file_name.clone(),
            blake3: file.blake3.clone(),
            read_as: file.reading.to_string(),
            reading_pin: file.reading.to_pin().to_string(),
            notes: file.notes.iter().map(ToString::to_string).collect(),
            scans: (0..file.scans.len()).filter_map(|index| scan(inspection, index)).collect(),
        }
    }
}

fn scan(inspection: &Inspection, index: usize) -> Option<ScanJson> {
    let scan = inspection.file.scans.get(index)?;
    let checked = inspection.checks.get(index);
    let setting = |setting: &stillwell_scan::Setting| SettingJson {
        key: setting.key.clone(),
        value: setting.value.clone(),
        line: setting.line,
    };
    Some(ScanJson {
        scan: scan.ordinal,
        name: scan.name.clone(),
        n_points: scan.n_points(),
        first_potential_v: scan.potential_v.first().copied(),
        last_potential_v: scan.potential_v.last().copied(),
        first_line: scan.first_line,
        last_line: scan.last_line,
        settings: scan.settings.iter().map(setting).collect(),
        overload_points: scan.overload_points.clone(),
        checks_passed: checked.map(|checked| checked.passed),
        not_testable: checked
            .iter()
            .flat_map(|checked| &checked.not_testable)
            .map(|(check, why)| NotTestableJson { check: check.id(), why })
            .collect(),
        findings: checked.map_or_else(Vec::new, |checked| findings(&checked.findings)),
    })
}

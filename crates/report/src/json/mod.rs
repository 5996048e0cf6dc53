//! What machines read: full precision, units in the field names. Fields are only ever added.

pub mod additions;
pub mod bench_sheets;
pub mod budgets;
pub mod calibrations;
pub mod chain;
pub mod charts;
pub mod comparison;
pub mod determinations;
pub mod devices;
pub mod dossiers;
pub mod foresight;
pub mod inspections;
pub mod lots;
pub mod plans;
pub mod scans;
pub mod stations;
pub mod study;
pub mod tour;
pub mod truth;
pub mod validation;

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_method::{Finding, Method, MethodLink, RawLink};

/// The version of every document below; raised when a field changes its meaning or goes.
const CONTRACT: u32 = 1;

/// Pretty-printed, with a line end.
pub fn text<T: Serialize>(document: &T) -> String {
    // These documents hold no map with keys that are not text and no value that refuses to be written.
    serde_json::to_string_pretty(document)
        .map_or_else(|error| format!("{{\"error\": \"{error}\"}}\n"), |s| s + "\n")
}

/// Numbers in the reporting unit, which stands in each name: `level_min_mg_per_l_as_no3`.
fn in_unit<const N: usize>(unit: &str, numbers: [(&str, Option<f64>); N]) -> Map<String, Value> {
    numbers.into_iter().map(|(name, value)| (format!("{name}_{unit}"), value.into())).collect()
}

/// Which method, by name, revision and hash.
#[derive(Serialize, JsonSchema)]
pub struct MethodJson {
    contract: u32,
    name: String,
    revision: String,
    blake3: String,
    analyte: String,
    reported_as: String,
}

impl From<&MethodLink> for MethodJson {
    fn from(link: &MethodLink) -> Self {
        Self {
            contract: CONTRACT,
            name: link.name.clone(),
            revision: link.revision.clone(),
            blake3: link.hash.to_string(),
            analyte: link.analyte.clone(),
            reported_as: link.reported_as.to_string(),
        }
    }
}

impl From<&Method> for MethodJson {
    fn from(method: &Method) -> Self {
        Self::from(&MethodLink::from(method))
    }
}

/// What a check found, and what to do.
#[derive(Serialize, JsonSchema)]
pub struct FindingJson {
    check: &'static str,
    effect: &'static str,
    subject: String,
    found: String,
    remedy: &'static str,
    overridden: Option<String>,
}

impl From<&Finding> for FindingJson {
    fn from(finding: &Finding) -> Self {
        Self {
            check: finding.check.id(),
            effect: finding.effect.word(),
            subject: finding.subject.clone(),
            found: finding.found.clone(),
            remedy: finding.remedy(),
            overridden: finding.overridden.clone(),
        }
    }
}

fn findings(findings: &[Finding]) -> Vec<FindingJson> {
    findings.iter().map(FindingJson::from).collect()
}

/// A raw scan by file, line and hash.
#[derive(Serialize, JsonSchema)]
pub struct RawJson {
    file: String,
    scan: usize,
    first_line: usize,
    last_line: usize,
    potential_column: usize,
    current_column: usize,
    blake3: String,
    read_as: String,
}

impl From<&RawLink> for RawJson {
    fn from(link: &RawLink) -> Self {
        let (potential_column, current_column) = link.columns;
        Self {
            file: link.file.clone(),
            scan: link.scan,
            first_line: link.first_line,
            last_line: link.last_line,
            potential_column,
            current_column,
            blake3: link.hash.to_string(),
            read_as: link.reading.clone(),
        }
    }
}

//! `twin --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;
use stillwell_foresee::{CellModel, KnownTruth};
use stillwell_method::{Method, RawFile};

use super::MethodJson;

/// A folder that was made.
pub struct Made<'a> {
    /// The method that reads the folder.
    pub method: &'a Method,
    /// What is true in it.
    pub truth: &'a KnownTruth,
    /// The cell it was simulated with.
    pub cell: &'a CellModel,
    /// The cell file's name.
    pub cell_name: &'a str,
    /// The circuit file's name.
    pub circuit_name: &'a str,
    /// How many scans were written.
    pub n_scans: usize,
}

impl Made<'_> {
    /// The unit of every level.
    pub fn unit(&self) -> String {
        self.method.analyte.reported_as.to_string()
    }

    /// The temperature of the cell, in °C.
    pub fn temperature_c(&self) -> f64 {
        // The file has degrees; their tenths survive the way through kelvin.
        ((self.cell.cell.temperature_k - 273.15) * 1e3).round() / 1e3
    }
}

/// What is true in a simulated folder.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    simulated: bool,
    cell: String,
    circuit: String,
    seed: u64,
    temperature_c: f64,
    n_scans: usize,
    replicates: u32,
    /// Levels of the standards, and the samples with what they hold; the unit stands in the names.
    #[serde(flatten)]
    in_levels: serde_json::Map<String, Value>,
    files: Vec<String>,
}

/// `twin --format json`.
pub fn of(made: &Made<'_>, files: &[RawFile]) -> Document {
    let unit = made.method.analyte.reported_as.suffix();
    let sample = |(name, level): &(String, f64)| {
        let entries =
            [("sample".to_owned(), Value::from(name.as_str())), (format!("truth_{unit}"), (*level).into())];
        Value::Object(entries.into_iter().collect())
    };
    let samples: Vec<Value> = made.truth.samples.iter().map(sample).collect();
    let in_levels = [
        (format!("levels_{unit}"), Value::from(made.truth.levels.clone())),
        ("samples".to_owned(), Value::from(samples)),
    ];
    Document {
        method: MethodJson::from(made.method),
        simulated: true,
        cell: made.cell_name.to_owned(),
        circuit: made.circuit_name.to_owned(),
        seed: made.truth.seed,
        temperature_c: made.temperature_c(),
        n_scans: made.n_scans,
        replicates: made.truth.replicates,
        in_levels: in_levels.into_iter().collect(),
        files: files.iter().map(|file| file.name.clone()).collect(),
    }
}

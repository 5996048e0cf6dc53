//! `twin --format json`.

use serde::Serialize;
use serde_json::Value;
use stillwell_method::RawFile;

use super::MethodJson;
use crate::render::truth::Made;

#[derive(Serialize)]
pub(crate) struct Document {
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

pub(crate) fn of(made: &Made<'_>, files: &[RawFile]) -> Document {
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

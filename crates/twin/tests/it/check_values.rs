//! The values of `checks/voltammetry.toml`, and a table of what was found beside them that fails where one is missed.

use toml_edit::{DocumentMut, InlineTable, Table};

pub(crate) struct Value {
    pub(crate) name: String,
    entry: InlineTable,
}

impl Value {
    pub(crate) fn expected(&self) -> f64 {
        self.entry["value"].as_float().unwrap()
    }

    /// A list of values, for a whole curve.
    pub(crate) fn curve(&self) -> Vec<f64> {
        self.entry["value"].as_array().unwrap().iter().map(|value| value.as_float().unwrap()).collect()
    }

    pub(crate) fn at(&self, key: &str) -> f64 {
        self.entry["at"].as_inline_table().unwrap()[key].as_float().unwrap()
    }
}

pub(crate) fn case(id: &str) -> Vec<Value> {
    let path = format!("{}/../../checks/voltammetry.toml", env!("CARGO_MANIFEST_DIR"));
    let document: DocumentMut = std::fs::read_to_string(path).unwrap().parse().unwrap();
    let cases = document["case"].as_array_of_tables().unwrap();
    let case: &Table = cases.iter().find(|case| case["id"].as_str() == Some(id)).unwrap();
    let values = case["values"].as_array().unwrap().iter();
    let entries = values.map(|value| value.as_inline_table().unwrap().clone());
    entries.map(|entry| Value { name: entry["name"].as_str().unwrap().to_owned(), entry }).collect()
}

pub(crate) fn expected(id: &str, name: &str) -> f64 {
    case(id).iter().find(|value| value.name == name).unwrap().expected()
}

/// Prints each comparison and remembers those beyond their tolerance.
#[derive(Default)]
pub(crate) struct Comparison {
    n_held: usize,
    missed: Vec<String>,
}

impl Comparison {
    /// `tolerance` is relative to `scale`: the expected value itself, or the peak of a curve.
    pub(crate) fn hold_to(&mut self, name: &str, found: f64, expected: f64, scale: f64, tolerance: f64) {
        let error = (found - expected) / scale.abs();
        let line = format!(
            "{name:38} found {found:14.7e} expected {expected:14.7e} error {:+8.4} % (at most {:.2} %)",
            100.0 * error,
            100.0 * tolerance
        );
        println!("{line}");
        self.n_held += 1;
        if error.is_nan() || error.abs() > tolerance {
            self.missed.push(line);
        }
    }

    pub(crate) fn hold(&mut self, name: &str, found: f64, expected: f64, tolerance: f64) {
        self.hold_to(name, found, expected, expected, tolerance);
    }

    /// Fails where a value was missed or one was left out.
    pub(crate) fn end(self, n_values: usize) {
        assert!(self.missed.is_empty(), "missed:\n{}", self.missed.join("\n"));
        assert_eq!(self.n_held, n_values, "values compared");
    }
}

//! Reads the tables of published and recomputed values and counts correct digits.

use std::path::Path;

use toml_edit::{Array, ArrayOfTables, DocumentMut, Item, Table, Value};

/// A table of `checks/` in the repository.
pub(crate) fn load(name: &str) -> DocumentMut {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks").join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    text.parse().unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

pub(crate) fn tables<'a>(document: &'a DocumentMut, key: &str) -> &'a ArrayOfTables {
    document[key].as_array_of_tables().unwrap_or_else(|| panic!("no [[{key}]]"))
}

pub(crate) fn text<'a>(table: &'a Table, key: &str) -> &'a str {
    table[key].as_str().unwrap_or_else(|| panic!("{key} is not text"))
}

/// A number, be it a number or a printed text.
pub(crate) fn number(table: &Table, key: &str) -> f64 {
    of_item(&table[key]).unwrap_or_else(|| panic!("{key} is not a number"))
}

pub(crate) fn numbers(table: &Table, key: &str) -> Vec<f64> {
    let array = table[key].as_array().unwrap_or_else(|| panic!("{key} is not an array"));
    array.iter().map(|v| of_value(v).unwrap()).collect()
}

pub(crate) fn number_rows(table: &Table, key: &str) -> Vec<Vec<f64>> {
    rows(table[key].as_array().unwrap_or_else(|| panic!("{key} is not an array")))
}

pub(crate) fn rows(array: &Array) -> Vec<Vec<f64>> {
    array.iter().map(|row| row.as_array().unwrap().iter().map(|v| of_value(v).unwrap()).collect()).collect()
}

/// The digits that a kind must reach.
pub(crate) fn declared_digits(table: &Table, kind: &str) -> f64 {
    of_item(&table["digits"][kind]).unwrap_or_else(|| panic!("no digits declared for {kind}"))
}

fn of_item(item: &Item) -> Option<f64> {
    item.as_value().and_then(of_value)
}

#[expect(clippy::cast_precision_loss, reason = "small whole numbers")]
pub(crate) fn of_value(value: &Value) -> Option<f64> {
    match value {
        Value::Float(v) => Some(*v.value()),
        Value::Integer(v) => Some(*v.value() as f64),
        Value::String(v) => v.value().parse().ok(),
        _ => None,
    }
}

/// Correct digits: −log10 of the relative error (of the absolute one where `expected` is 0), at most 16.
pub(crate) fn digits(found: f64, expected: f64) -> f64 {
    let scale = if expected == 0.0 { 1.0 } else { expected.abs() };
    let error = (found - expected).abs() / scale;
    if error.is_nan() {
        return -1.0;
    }
    (-libm::log10(error)).min(16.0)
}

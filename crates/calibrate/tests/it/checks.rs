//! Reads the tables of published values, counts correct digits, and prints what was found beside what was expected.

use std::path::Path;
use toml_edit::{ArrayOfTables, DocumentMut, InlineTable, Table, Value};

/// A table of `checks/` in the repository.
pub(crate) fn load(name: &str) -> DocumentMut {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks").join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    text.parse().unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

pub(crate) fn tables<'a>(document: &'a DocumentMut, key: &str) -> &'a ArrayOfTables {
    document[key].as_array_of_tables().unwrap_or_else(|| panic!("no [[{key}]]"))
}

pub(crate) fn table<'a>(document: &'a DocumentMut, key: &str) -> &'a Table {
    document[key].as_table().unwrap_or_else(|| panic!("no [{key}]"))
}

pub(crate) fn text<'a>(table: &'a Table, key: &str) -> &'a str {
    table[key].as_str().unwrap_or_else(|| panic!("{key} is not text"))
}

pub(crate) fn numbers(table: &Table, key: &str) -> Vec<f64> {
    let array = table[key].as_array().unwrap_or_else(|| panic!("{key} is not an array"));
    array.iter().map(|v| of_value(v).unwrap_or_else(|| panic!("{key} holds something else"))).collect()
}

fn of_value(value: &Value) -> Option<f64> {
    match value {
        Value::Float(v) => Some(*v.value()),
        Value::Integer(v) => v.value().to_string().parse().ok(),
        _ => None,
    }
}

/// One expected result of a case.
pub(crate) struct Row<'a>(&'a InlineTable);

impl Row<'_> {
    pub(crate) fn quantity(&self) -> &str {
        self.0["quantity"].as_str().expect("quantity is text")
    }

    pub(crate) fn number(&self, key: &str) -> f64 {
        self.optional(key).unwrap_or_else(|| panic!("{}: no {key}", self.quantity()))
    }

    pub(crate) fn optional(&self, key: &str) -> Option<f64> {
        self.0.get(key).and_then(of_value)
    }

    pub(crate) fn electrodes(&self) -> u32 {
        format!("{:.0}", self.number("electrodes")).parse().expect("a small whole number")
    }
}

/// Compares every row of one table; the misses come back, the digits are printed.
pub(crate) fn compare(
    document: &DocumentMut,
    case: &Table,
    name: &str,
    found: impl Fn(&Row<'_>) -> f64,
) -> Vec<String> {
    let declared =
        document["digits"].as_integer().expect("digits declared").to_string().parse::<f64>().unwrap();
    let mut misses = Vec::new();
    for value in case["rows"].as_array().expect("rows") {
        let row = Row(value.as_inline_table().expect("a row"));
        assert!(
            row.0["mark"].as_str().is_some_and(|mark| !mark.is_empty()),
            "{name}: a value without a mark"
        );
        let (found, expected) = (found(&row), row.number("value"));
        let reached = digits(found, expected);
        println!("{name:32.32} {:32} {found:23.15e} {expected:23.15e} {reached:5.1}", row.quantity());
        if reached < declared {
            misses.push(format!("{name}, {}: {reached:.1} of {declared} digits", row.quantity()));
        }
        if let Some(printed) = row.optional("printed") {
            let tolerance = row.number("printed_tolerance");
            if (found - printed).abs() > tolerance {
                misses.push(format!("{name}, {}: {found} is not the printed {printed}", row.quantity()));
            }
        }
    }
    misses
}

/// Correct digits: −log10 of the relative error (of the absolute one where `expected` is 0), at most 16.
fn digits(found: f64, expected: f64) -> f64 {
    let scale = if expected == 0.0 { 1.0 } else { expected.abs() };
    let error = (found - expected).abs() / scale;
    if error.is_nan() {
        return -1.0;
    }
    (-libm::log10(error)).min(16.0)
}

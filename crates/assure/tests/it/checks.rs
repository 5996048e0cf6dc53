//! Reading the published check values.

use stillwell_quantity::{QuantityKind, Species, Unit};
use toml_edit::{DocumentMut, Table};

pub(crate) fn read(text: &str) -> DocumentMut {
    text.parse().unwrap()
}

pub(crate) fn rows<'a>(checks: &'a DocumentMut, kind: &str) -> impl Iterator<Item = &'a Table> {
    checks[kind].as_array_of_tables().unwrap().iter()
}

pub(crate) fn number(row: &Table, key: &str) -> f64 {
    row[key].as_float().unwrap()
}

pub(crate) fn text<'a>(row: &'a Table, key: &str) -> &'a str {
    row[key].as_str().unwrap()
}

pub(crate) fn is_true(row: &Table, key: &str) -> bool {
    row[key].as_bool().unwrap()
}

pub(crate) fn mg_per_l(species: Species) -> QuantityKind {
    QuantityKind { unit: Unit::MilligramPerLitre, species }
}

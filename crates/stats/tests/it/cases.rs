//! Cases of `checks/` with a list of expected values: each must be recomputed, to its digits and to its print.

use toml_edit::{DocumentMut, InlineTable, Table, Value};

use crate::checks::{digits, of_value, tables, text};

/// One `[[case]]`; every value that it expects must be met before it is dropped from sight by [`Case::finish`].
pub(crate) struct Case<'a> {
    pub(crate) table: &'a Table,
    declared: f64,
    left: Vec<&'a InlineTable>,
    misses: Vec<String>,
}

/// The case called `id`.
pub(crate) fn case<'a>(document: &'a DocumentMut, id: &str) -> Case<'a> {
    let found = tables(document, "case").iter().find(|case| text(case, "id") == id);
    let table = found.unwrap_or_else(|| panic!("no case {id}"));
    let expect = table["expect"].as_array().unwrap_or_else(|| panic!("{id}: expect is no list"));
    let left = expect.iter().map(|value| value.as_inline_table().unwrap()).collect();
    let declared = crate::checks::number(table, "digits");
    Case { table, declared, left, misses: Vec::new() }
}

pub(crate) fn number_of(entry: &InlineTable, key: &str) -> f64 {
    entry.get(key).and_then(of_value).unwrap_or_else(|| panic!("no number {key} in {entry}"))
}

impl Case<'_> {
    /// Compares what was found with every expected value of this name.
    pub(crate) fn meets(&mut self, name: &str, found: f64) {
        self.meets_all(|entry| (entry.get("name").and_then(Value::as_str) == Some(name)).then_some(found));
    }

    /// Compares with each expected value for which `found` has an answer.
    pub(crate) fn meets_all(&mut self, found: impl Fn(&InlineTable) -> Option<f64>) {
        let mut left = Vec::new();
        let before = self.left.len();
        for entry in std::mem::take(&mut self.left) {
            match found(entry) {
                Some(found) => self.compare(entry, found),
                None => left.push(entry),
            }
        }
        assert!(left.len() < before, "nothing of that name is expected");
        self.left = left;
    }

    fn compare(&mut self, entry: &InlineTable, found: f64) {
        let id = text(self.table, "id");
        let name = entry.get("name").and_then(Value::as_str).unwrap_or_default();
        let value = number_of(entry, "value");
        let reached = digits(found, value);
        println!("{id:26} {name:26} {found:23.15e} {value:23.15e} {reached:5.1}");
        if reached < self.declared {
            let declared = self.declared;
            self.misses.push(format!("{id} {name}: {found:e}, {value:e}: {reached:.1} of {declared} digits"));
        }
        if entry.contains_key("printed") {
            let (printed, apart) = (number_of(entry, "printed"), number_of(entry, "tol_abs"));
            if (found - printed).abs() > apart {
                self.misses.push(format!("{id} {name}: {found:e}, printed {printed} ± {apart}"));
            }
        }
    }

    /// As [`Case::finish`], but for lists of these names, which the test compares itself.
    pub(crate) fn finish_but(mut self, lists: &[&str]) {
        self.left.retain(|entry| {
            let name = entry.get("name").and_then(Value::as_str).unwrap_or_default();
            !(lists.contains(&name) && entry["value"].is_array())
        });
        self.finish();
    }

    /// Fails for values that were missed, and for values that nothing was compared with.
    pub(crate) fn finish(self) {
        let left: Vec<String> = self.left.iter().map(ToString::to_string).collect();
        assert!(left.is_empty(), "not recomputed: {left:#?}");
        assert!(self.misses.is_empty(), "{:#?}", self.misses);
    }
}

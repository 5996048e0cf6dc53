//! Cases of `checks/` with their expected values, and the account of how closely ours agree.

use toml_edit::{DocumentMut, InlineTable, Table, Value};

pub(crate) const GUM: &str = include_str!("../../../../checks/gum.toml");
pub(crate) const QUAM: &str = include_str!("../../../../checks/quam_budgets.toml");
pub(crate) const CONTROL_CHARTS: &str = include_str!("../../../../checks/control_charts.toml");
pub(crate) const ONLINE_SENSORS: &str = include_str!("../../../../checks/online_sensors.toml");
pub(crate) const SCORES: &str = include_str!("../../../../checks/laboratory_comparison.toml");
pub(crate) const NORDTEST: &str = include_str!("../../../../checks/nordtest.toml");

/// One case of a file.
pub(crate) struct Case {
    table: Table,
}

impl Case {
    pub(crate) fn of(text: &str, id: &str) -> Self {
        let document: DocumentMut = text.parse().unwrap();
        let cases = document["case"].as_array_of_tables().unwrap();
        let table = cases.iter().find(|case| case["id"].as_str() == Some(id)).unwrap();
        Self { table: table.clone() }
    }

    pub(crate) fn input(&self, key: &str) -> f64 {
        number(self.table["input"][key].as_value().unwrap())
    }

    pub(crate) fn inputs(&self, key: &str) -> Vec<f64> {
        self.table["input"][key].as_array().unwrap().iter().map(number).collect()
    }

    fn row(&self, name: &str) -> &InlineTable {
        let rows = self.table["expect"].as_array().unwrap();
        rows.iter().filter_map(Value::as_inline_table).find(|row| row["name"].as_str() == Some(name)).unwrap()
    }

    pub(crate) fn value(&self, name: &str) -> f64 {
        number(&self.row(name)["value"])
    }

    /// A value that is a list.
    pub(crate) fn values(&self, name: &str) -> Vec<f64> {
        self.row(name)["value"].as_array().unwrap().iter().map(number).collect()
    }

    /// All rows, for cases whose rows are told apart by more than a name.
    pub(crate) fn rows(&self) -> Vec<InlineTable> {
        self.table["expect"].as_array().unwrap().iter().filter_map(Value::as_inline_table).cloned().collect()
    }

    /// Prints found, certified and digits; fails below `digits`, or farther from the print than it allows.
    pub(crate) fn agree(&self, name: &str, found: f64, digits: f64) {
        let row = self.row(name);
        let certified = number(&row["value"]);
        let apart = (found - certified).abs() / if certified == 0.0 { 1.0 } else { certified.abs() };
        let reached = if apart == 0.0 { 16.0 } else { -libm::log10(apart) };
        println!("{name:36} found {found:<24} certified {certified:<24} digits {reached:.1}");
        assert!(reached >= digits, "{name}: {found} against {certified}");
        self.near_print(name, found);
    }

    /// Within what the print allows, for results that are drawn.
    pub(crate) fn near_print(&self, name: &str, found: f64) {
        let row = self.row(name);
        let Some(tolerance) = row.get("tol_abs").map(number) else { return };
        let value = number(&row["value"]);
        let printed = row.get("printed").and_then(Value::as_str).and_then(first_number);
        let printed = printed.filter(|printed| (printed - value).abs() <= 2.0 * tolerance).unwrap_or(value);
        println!("{name:36} found {found:<24} printed   {printed:<24} within {tolerance}");
        assert!((found - printed).abs() <= tolerance, "{name}: {found} against printed {printed}");
    }
}

fn first_number(printed: &str) -> Option<f64> {
    let words = printed.trim_start_matches("< ");
    words.split([' ', ',', '(']).next().and_then(|word| word.parse().ok())
}

fn number(value: &Value) -> f64 {
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64)).unwrap()
}

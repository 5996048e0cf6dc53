//! The identity of a method revision: the hash of its canonical form.
//!
//! Comments, blank lines, the order of keys and the way a number is written do not change what a
//! method says, so they do not change its hash; any key or value does.

use std::fmt;

use toml_edit::{Item, TableLike, Value};

/// A BLAKE3 hash, printed in hexadecimal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Hash([u8; 32]);

impl Hash {
    /// The hash of some bytes.
    ///
    /// # Example
    /// ```
    /// let hash = stillwell_method::Hash::of(b"a scan");
    /// assert_eq!(hash.short().len(), 12);
    /// assert!(hash.to_string().starts_with(&hash.short()));
    /// ```
    pub fn of(bytes: &[u8]) -> Self {
        Self(*blake3::hash(bytes).as_bytes())
    }

    /// A hash in hexadecimal, as a lower room prints it; digits that are none count as zero.
    pub(crate) fn from_hex(text: &str) -> Self {
        let mut bytes = [0; 32];
        for (byte, pair) in bytes.iter_mut().zip(text.as_bytes().as_chunks::<2>().0) {
            let [high, low] = pair.map(|digit| char::from(digit).to_digit(16));
            *byte = high.zip(low).and_then(|(high, low)| u8::try_from(16 * high + low).ok()).unwrap_or(0);
        }
        Self(bytes)
    }

    /// Its 32 bytes.
    pub fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// The first twelve hexadecimal digits, for tables.
    pub fn short(&self) -> String {
        self.to_string().chars().take(12).collect()
    }
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(blake3::Hash::from_bytes(self.0).to_hex().as_str())
    }
}

/// The canonical form: one line `path = value` a key, sorted by path.
pub(crate) fn canonical(table: &dyn TableLike) -> String {
    let mut lines = Vec::new();
    walk_table(table, "", &mut lines);
    lines.sort();
    lines.join("\n")
}

fn walk_table(table: &dyn TableLike, path: &str, lines: &mut Vec<String>) {
    // An empty table says something too: `despike = {}` despikes with the usual limits.
    if table.is_empty() && !path.is_empty() {
        lines.push(format!("{path} = {{}}"));
    }
    for (key, item) in table.iter() {
        let path = if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
        walk_item(item, &path, lines);
    }
}

fn walk_item(item: &Item, path: &str, lines: &mut Vec<String>) {
    match item {
        Item::None => {}
        Item::Value(Value::InlineTable(table)) => walk_table(table, path, lines),
        Item::Value(value) => lines.push(format!("{path} = {}", value_text(value))),
        Item::Table(table) => walk_table(table, path, lines),
        Item::ArrayOfTables(array) => {
            for (index, table) in array.iter().enumerate() {
                walk_table(table, &format!("{path}[{index:04}]"), lines);
            }
        }
    }
}

fn value_text(value: &Value) -> String {
    match value {
        Value::String(text) => format!("{:?}", text.value()),
        // 50 and 50.0 are the same number; -0.0 is 0.
        Value::Integer(whole) => format!("{:?}", *whole.value() as f64 + 0.0),
        Value::Float(number) => format!("{:?}", *number.value() + 0.0),
        Value::Boolean(flag) => flag.value().to_string(),
        Value::Datetime(moment) => moment.value().to_string(),
        Value::Array(array) => {
            let mut text = String::from("[");
            for entry in array {
                text.push_str(&value_text(entry));
                text.push(',');
            }
            text + "]"
        }
        Value::InlineTable(table) => {
            let mut lines = Vec::new();
            walk_table(table, "", &mut lines);
            lines.sort();
            format!("{{{}}}", lines.join(";"))
        }
    }
}

//! SenML packs (RFC 8428) as JSON: records with their base values applied.

use std::collections::BTreeMap;

use serde_json::{Map, Value};

use super::error::WireError;

/// Most bytes of a pack.
const MOST_BYTES: usize = 65_536;

/// The version of SenML that this reads (RFC 8428, 4.4).
const SENML_VERSION: f64 = 10.0;

/// The one value of a record.
#[derive(Debug, Clone, PartialEq)]
pub enum SenmlValue {
    /// `v`, with the base value added.
    Number(f64),
    /// `vs`.
    Text(String),
    /// `vb`.
    Truth(bool),
    /// `vd`, as it stands there.
    Data(String),
    /// None: a record that has a sum only.
    None,
}

/// A record with its base values applied.
#[derive(Debug, Clone, PartialEq)]
pub struct SenmlRecord {
    /// Base name and name.
    pub name: String,
    /// Unit; none where neither record nor base states one.
    pub unit: Option<String>,
    /// Base time and time, s: since 1970 from 2^28 on, else relative to now.
    pub time_s: f64,
    /// The value.
    pub value: SenmlValue,
    /// Sum, with the base sum added.
    pub sum: Option<f64>,
    /// Longest time to the next record, s.
    pub update_s: Option<f64>,
    /// Everything else that stands in it.
    pub extensions: BTreeMap<String, Value>,
}

/// Resolves a pack: base values are applied to every record.
///
/// # Units
/// Times in s.
///
/// # Errors
/// Text that is no pack, a later version, a name with characters that are not allowed, a record without a value, and a label
/// that ends with `_` and is not among `understood`.
///
/// # Source
/// RFC 8428, 4.1 to 4.6 and 5.
///
/// # Example
/// ```
/// use stillwell_transfer::wire::{SenmlValue, resolve};
/// let pack = r#"[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]"#;
/// let records = resolve(pack, &[])?;
/// assert_eq!(records[1].name, "urn:dev:ow:10e2073a01080063:current");
/// assert_eq!(records[1].value, SenmlValue::Number(1.2));
/// # Ok::<(), stillwell_transfer::wire::WireError>(())
/// ```
pub fn resolve(text: &str, understood: &[&str]) -> Result<Vec<SenmlRecord>, WireError> {
    if text.len() > MOST_BYTES {
        return Err(WireError::TooLong { n: text.len(), most: MOST_BYTES });
    }
    let pack: Value = serde_json::from_str(text).map_err(|error| not_senml(error.to_string()))?;
    let Value::Array(records) = pack else { return Err(not_senml("no list of records")) };
    if records.is_empty() {
        return Err(not_senml("no record"));
    }
    let mut base = Base::default();
    records
        .into_iter()
        .map(|record| match record {
            Value::Object(fields) => base.apply(fields, understood),
            _ => Err(not_senml("a record that is no object")),
        })
        .collect()
}

fn not_senml(found: impl Into<String>) -> WireError {
    WireError::NotSenml { found: found.into() }
}

/// What holds from one record on until another says otherwise.
#[derive(Default)]
struct Base {
    name: String,
    time_s: f64,
    unit: Option<String>,
    value: f64,
    sum: Option<f64>,
}

impl Base {
    fn apply(&mut self, fields: Map<String, Value>, understood: &[&str]) -> Result<SenmlRecord, WireError> {
        let mut fields: BTreeMap<String, Value> = fields.into_iter().collect();
        self.update(&mut fields)?;
        let name = format!("{}{}", self.name, text(&mut fields, "n")?.unwrap_or_default());
        check_name(&name)?;
        let record = SenmlRecord {
            name,
            unit: text(&mut fields, "u")?.or_else(|| self.unit.clone()),
            time_s: self.time_s + number(&mut fields, "t")?.unwrap_or(0.0),
            value: self.value(&mut fields)?,
            sum: self.sum(&mut fields)?,
            update_s: number(&mut fields, "ut")?,
            extensions: fields,
        };
        if record.value == SenmlValue::None && record.sum.is_none() {
            return Err(WireError::Missing { field: "v" });
        }
        match record
            .extensions
            .keys()
            .find(|label| label.ends_with('_') && !understood.contains(&label.as_str()))
        {
            Some(label) => Err(WireError::MustUnderstand { label: label.clone() }),
            None => Ok(record),
        }
    }

    fn update(&mut self, fields: &mut BTreeMap<String, Value>) -> Result<(), WireError> {
        if let Some(version) = number(fields, "bver")?.filter(|version| *version > SENML_VERSION) {
            let found = format!("version {version} of SenML");
            return Err(WireError::unusable("bver", found, "10 or below"));
        }
        if let Some(name) = text(fields, "bn")? {
            self.name = name;
        }
        if let Some(time_s) = number(fields, "bt")? {
            self.time_s = time_s;
        }
        if let Some(unit) = text(fields, "bu")? {
            self.unit = Some(unit);
        }
        if let Some(value) = number(fields, "bv")? {
            self.value = value;
        }
        if let Some(sum) = number(fields, "bs")? {
            self.sum = Some(sum);
        }
        Ok(())
    }

    /// The base value is added to a number only.
    fn value(&self, fields: &mut BTreeMap<String, Value>) -> Result<SenmlValue, WireError> {
        let mut found = Vec::new();
        if let Some(number) = number(fields, "v")? {
            // Nothing is added where there is nothing to add: -0 stays -0.
            let value = if self.value == 0.0 { number } else { self.value + number };
            found.push(SenmlValue::Number(value));
        }
        if let Some(words) = text(fields, "vs")? {
            found.push(SenmlValue::Text(words));
        }
        if let Some(data) = text(fields, "vd")? {
            found.push(SenmlValue::Data(data));
        }
        match fields.remove("vb") {
            None => {}
            Some(Value::Bool(truth)) => found.push(SenmlValue::Truth(truth)),
            Some(other) => return Err(WireError::unusable("vb", other.to_string(), "true or false")),
        }
        let mut found = found.into_iter();
        match (found.next(), found.next()) {
            (_, Some(_)) => Err(WireError::unusable("v", "two values in one record", "one value")),
            (Some(value), None) => Ok(value),
            (None, None) => Ok(SenmlValue::None),
        }
    }

    fn sum(&self, fields: &mut BTreeMap<String, Value>) -> Result<Option<f64>, WireError> {
        let own = number(fields, "s")?;
        Ok(match (own, self.sum) {
            (None, None) => None,
            (own, base) => Some(own.unwrap_or(0.0) + base.unwrap_or(0.0)),
        })
    }
}

fn text(fields: &mut BTreeMap<String, Value>, label: &str) -> Result<Option<String>, WireError> {
    match fields.remove(label) {
        None => Ok(None),
        Some(Value::String(text)) => Ok(Some(text)),
        Some(other) => Err(WireError::unusable(label, other.to_string(), "a text")),
    }
}

fn number(fields: &mut BTreeMap<String, Value>, label: &str) -> Result<Option<f64>, WireError> {
    match fields.remove(label) {
        None => Ok(None),
        Some(value) => value
            .as_f64()
            .filter(|number| number.is_finite())
            .map(Some)
            .ok_or_else(|| WireError::unusable(label, value.to_string(), "a number")),
    }
}

/// RFC 8428, 4.5.1.
fn check_name(name: &str) -> Result<(), WireError> {
    let is_allowed = |c: char| c.is_ascii_alphanumeric() || "-:./_".contains(c);
    if name.starts_with(|c: char| c.is_ascii_alphanumeric()) && name.chars().all(is_allowed) {
        return Ok(());
    }
    let accepted = "A-Z a-z 0-9 - : . / _, the first a letter or digit (RFC 8428, 4.5.1)";
    Err(WireError::unusable("n", format!("{name:?}"), accepted))
}

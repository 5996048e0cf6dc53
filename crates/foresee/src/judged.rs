//! Numbers that the twin judges: each is tried alone in an otherwise sound cell or circuit, so that a refusal names its
//! own key and shows the twin's own range, which therefore stands nowhere twice.

use stillwell_method::toml_file::{Bounds, Reader, Section};
use stillwell_twin::TwinError;

/// A number's key, and how its unit becomes the twin's.
#[derive(Clone, Copy)]
pub(crate) struct Key {
    name: &'static str,
    to_twin: fn(f64) -> f64,
    /// The twin's unit, where the file has another.
    twin_unit: Option<&'static str>,
}

impl Key {
    /// A key whose unit is the twin's.
    pub(crate) const fn same(name: &'static str) -> Self {
        Self { name, to_twin: |value| value, twin_unit: None }
    }

    pub(crate) const fn mm2(name: &'static str) -> Self {
        Self { name, to_twin: |mm2| mm2 / 1e6, twin_unit: Some("m2") }
    }

    pub(crate) const fn um(name: &'static str) -> Self {
        Self { name, to_twin: |um| um / 1e6, twin_unit: Some("m") }
    }

    pub(crate) const fn kj_per_mol(name: &'static str) -> Self {
        Self { name, to_twin: |kilojoule| kilojoule * 1e3, twin_unit: Some("J/mol") }
    }

    pub(crate) const fn celsius(name: &'static str) -> Self {
        Self { name, to_twin: |celsius| celsius + 273.15, twin_unit: Some("K") }
    }

    pub(crate) const fn percent(name: &'static str) -> Self {
        Self { name, to_twin: |percent| percent / 100.0, twin_unit: Some("as a share") }
    }

    /// A number in the twin's unit, if given.
    pub(crate) fn read(
        self,
        section: &mut Section<'_>,
        reader: &mut Reader<'_>,
        judge: impl Fn(f64) -> Result<(), TwinError>,
    ) -> Option<f64> {
        let value = (self.to_twin)(section.number(reader, self.name, Bounds::ANY)?);
        match judge(value) {
            Ok(()) => Some(value),
            Err(error) => {
                let item = section.raw(self.name)?;
                section.wrong(reader, self.name, item, &self.accepted(&error))
            }
        }
    }

    /// A number that must be there.
    pub(crate) fn require(
        self,
        section: &mut Section<'_>,
        reader: &mut Reader<'_>,
        judge: impl Fn(f64) -> Result<(), TwinError>,
    ) -> Option<f64> {
        if section.raw(self.name).is_none() {
            section.missing(reader, self.name, "a number");
        }
        self.read(section, reader, judge)
    }

    fn accepted(self, error: &TwinError) -> String {
        let accepted = range(error);
        match (self.twin_unit, error) {
            (Some(unit), TwinError::OutOfRange { found, .. }) => {
                format!("{accepted} {unit}; this is {found} {unit}")
            }
            _ => accepted,
        }
    }
}

/// A whole number, if given.
pub(crate) fn whole(
    section: &mut Section<'_>,
    reader: &mut Reader<'_>,
    name: &'static str,
    judge: impl Fn(u32) -> Result<(), TwinError>,
) -> Option<u32> {
    let item = section.raw(name)?;
    let value = item.as_integer().and_then(|value| u32::try_from(value).ok());
    // What is no whole number at all is told the range that the largest would be told.
    match judge(value.unwrap_or(u32::MAX)) {
        Ok(()) if value.is_some() => value,
        Ok(()) => section.wrong(reader, name, item, "a whole number"),
        Err(error) => section.wrong(reader, name, item, &format!("a whole number, {}", range(&error))),
    }
}

/// What the twin would accept.
pub(crate) fn range(error: &TwinError) -> String {
    match error {
        TwinError::OutOfRange { accepted, .. } => (*accepted).to_owned(),
        other => other.to_string(),
    }
}

//! Why a record from a device is not taken: what was found, in which field, what would be accepted.

/// Why a record is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WireError {
    /// The bytes are no CBOR of this shape.
    #[error("byte {at}: {found}; expected the compact form of a result, written by wire.c")]
    NotCompact {
        /// Place in the bytes.
        at: usize,
        /// What was found.
        found: String,
    },
    /// The text is no JSON, or no SenML pack.
    #[error("{found}; expected one SenML pack (RFC 8428) on one line")]
    NotSenml {
        /// What was found.
        found: String,
    },
    /// More than any record has.
    #[error("{n} bytes; a record has {most} at most")]
    TooLong {
        /// Bytes found.
        n: usize,
        /// Bytes allowed.
        most: usize,
    },
    /// A field is not there.
    #[error("there is no `{field}`; every record of this outcome has it")]
    Missing {
        /// The field.
        field: &'static str,
    },
    /// A field does not hold what it should.
    #[error("`{field}` is {found}; accepted: {accepted}")]
    Unusable {
        /// The field.
        field: String,
        /// What was found.
        found: String,
        /// What would be accepted.
        accepted: &'static str,
    },
    /// Another version wrote it.
    #[error("version {found} of the record is not known here; accepted: {known}. Update this software")]
    VersionUnknown {
        /// Version found.
        found: u32,
        /// Version known.
        known: u32,
    },
    /// A field that must be understood (RFC 8428, 4.4) is not known.
    #[error("`{label}` must be understood, and is not known here. Update this software")]
    MustUnderstand {
        /// The label.
        label: String,
    },
    /// A number without what it is a number of.
    #[error("\"{analyte}\" in \"{unit}\" as \"{species}\" is no basis for a concentration: {found}")]
    BasisUnusable {
        /// The analyte.
        analyte: String,
        /// The unit.
        unit: String,
        /// The form.
        species: String,
        /// What is wrong with it.
        found: String,
    },
    /// The bytes say the same in another way than `wire.c` does.
    #[error("the bytes are not as wire.c writes them; something on the way has rewritten them")]
    NotAsWritten,
    /// A byte was changed on the way.
    #[error(
        "the checksum is {found:08x}, the record states {stated:08x}: it was changed on the way; have it sent again"
    )]
    ChecksumDiffers {
        /// As stated.
        stated: u32,
        /// As found.
        found: u32,
    },
}

impl WireError {
    pub(crate) fn unusable(
        field: impl Into<String>,
        found: impl Into<String>,
        accepted: &'static str,
    ) -> Self {
        Self::Unusable { field: field.into(), found: found.into(), accepted }
    }
}

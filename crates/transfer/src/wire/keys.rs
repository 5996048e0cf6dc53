//! The fields of the record: key of the compact form, label of the line. `c/wire.c` holds the same table.

/// A field: its key in the compact form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Key(pub(crate) u32);

macro_rules! keys {
    ($($name:ident = $number:literal, $label:literal;)*) => {
        $(pub(crate) const $name: Key = Key($number);)*

        impl Key {
            /// The field as an error names it.
            pub(crate) fn label(self) -> &'static str {
                match self {
                    $($name => $label,)*
                    _ => "unknown field",
                }
            }
        }
    };
}

keys! {
    VERSION = 0, "wire";
    NAME = 1, "bn";
    COUNTER = 2, "counter";
    TIME = 3, "bt";
    METHOD = 4, "method";
    LOT = 5, "lot";
    LOT_CHECKSUM = 6, "lot-record";
    CALIBRATION = 7, "calibration";
    ANALYTE = 8, "analyte_";
    UNIT = 9, "unit_";
    SPECIES = 10, "species_";
    OUTCOME = 11, "outcome_";
    VALUE = 12, "v";
    LOW = 13, "low";
    HIGH = 14, "high";
    LEVEL = 15, "level";
    LEVEL_U = 16, "level-u";
    BOUND = 17, "less-than_ or at-least_";
    REFUSED = 18, "refused";
    FAULT = 19, "fault";
    VERDICTS = 20, "verdicts_";
    WITHHELD = 21, "withheld_";
    WARNINGS = 22, "warnings";
    ELECTRODES = 23, "electrodes";
    SCANS = 24, "scans";
    OFFERED = 25, "offered";
    TRUST_FAILED = 26, "trust-failed";
    TRUST_UNTESTED = 27, "trust-untested";
    REASONS = 28, "reasons";
    CHECKSUM = 29, "checksum";
}

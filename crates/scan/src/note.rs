//! What a person should know about a reading that succeeded.

use std::borrow::Cow;
use std::fmt;

/// Something noticed while reading; never a reason to stop.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub enum ReadNote {
    /// The sign of reduction is not stated: the currents keep the sign as found.
    ReductionSignNotStated,
    /// The current unit was taken from the file's name.
    UnitFromFileName {
        /// The unit.
        unit: Cow<'static, str>,
    },
    /// The potential unit follows from the size of the numbers.
    PotentialUnitFromValues {
        /// The unit.
        unit: Cow<'static, str>,
    },
    /// A column that was not used.
    ColumnNotUsed {
        /// Column, from 1.
        column: usize,
        /// Its header, or empty.
        header: Box<str>,
        /// Why.
        reason: Cow<'static, str>,
    },
    /// Several columns have the same header text; their scans were numbered.
    DuplicateColumnName {
        /// The header text.
        header: Box<str>,
        /// How many.
        count: usize,
    },
    /// Points with an overload or not-a-number mark.
    Overload {
        /// Name of the scan.
        scan: String,
        /// How many points.
        count: usize,
    },
    /// The current is forward minus reverse, because the file has no difference column.
    DifferenceComputed,
    /// A blank or comment line within one scan; the potential goes on across it, so it stayed one scan.
    JoinedAcrossLine {
        /// The line.
        line: usize,
    },
    /// The potential starts again at this line, taken as the start of a new scan.
    PotentialRestart {
        /// First line of the new scan.
        line: usize,
    },
    /// The last line has no line end: the file may have been cut off.
    NoFinalLineEnd {
        /// The line.
        line: usize,
    },
    /// A header or footer line that is neither setting, comment nor column header.
    LineNotUnderstood {
        /// The line.
        line: usize,
        /// Its text, shortened.
        text: Box<str>,
    },
    /// A date or clock that cannot be right. Kept as found.
    ClockImplausible {
        /// The line.
        line: usize,
        /// Its text, as found.
        text: Box<str>,
        /// Why.
        reason: Cow<'static, str>,
    },
}

impl fmt::Display for ReadNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ReductionSignNotStated => {
                write!(f, "the sign of reduction is not stated: currents keep the sign as found")
            }
            Self::UnitFromFileName { unit } => {
                write!(f, "the current unit {unit} is taken from the file's name")
            }
            Self::PotentialUnitFromValues { unit } => {
                write!(f, "the potential unit is not stated: only {unit} makes a possible window")
            }
            Self::ColumnNotUsed { column, header, reason } if header.is_empty() => {
                write!(f, "column {column} is not used: {reason}")
            }
            Self::ColumnNotUsed { column, header, reason } => {
                write!(f, "column {column} \"{header}\" is not used: {reason}")
            }
            Self::DuplicateColumnName { header, count } => {
                write!(f, "{count} columns are named \"{header}\": their scans are numbered")
            }
            Self::Overload { scan, count } => {
                write!(f, "{scan}: {count} overload or not-a-number marks")
            }
            Self::DifferenceComputed => {
                write!(f, "no difference column: the current is forward minus reverse")
            }
            Self::JoinedAcrossLine { line } => {
                write!(f, "line {line} lies within one scan: the potential goes on across it")
            }
            Self::PotentialRestart { line } => {
                write!(f, "line {line}: the potential starts again, taken as a new scan")
            }
            Self::NoFinalLineEnd { line } => {
                write!(f, "line {line}, the last, has no line end: the file may have been cut off")
            }
            Self::LineNotUnderstood { line, text } => {
                write!(f, "line {line} \"{text}\" is not understood and not used")
            }
            Self::ClockImplausible { line, text, reason } => {
                write!(f, "line {line} \"{text}\": {reason}; kept as found, not believed")
            }
        }
    }
}

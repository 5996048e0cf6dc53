//! Everything that can be wrong with a text, and all the wording of it.

use std::fmt;

use crate::pin::DecimalMark;
use crate::reading::Reading;

/// A spot in a file. Lines and columns are counted from 1; a column is a cell of the line, 0 = the whole line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The name given to [`crate::read()`].
    pub file_name: Box<str>,
    /// Line, 0 = the file as a whole.
    pub line: usize,
    /// Cell within the line, 0 = the line as a whole.
    pub column: usize,
    /// The offending text, shortened and escaped; may be empty.
    pub text: Box<str>,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file_name)?;
        if self.line > 0 {
            write!(f, ", line {}", self.line)?;
        }
        if self.column > 0 {
            write!(f, ", column {}", self.column)?;
        }
        if self.text.is_empty() { Ok(()) } else { write!(f, ", \"{}\"", self.text) }
    }
}

/// Why a text was not read. Each names the place, what was found and what would be accepted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// Nothing in the file, or nothing but blanks.
    #[error("{place}: the file is empty. A scan needs lines of a potential and a current")]
    Empty {
        /// Where.
        place: Place,
    },
    /// Bytes that no text has.
    #[error(
        "{place}: byte 0x{byte:02x} at offset {offset} does not belong in text: this is a binary file. Export the scan as text and read that"
    )]
    Binary {
        /// Where.
        place: Place,
        /// Offset of the byte from the start of the file.
        offset: usize,
        /// The byte.
        byte: u8,
    },
    /// Bytes that are not valid in the encoding.
    #[error(
        "{place}: the text is not valid {encoding} at offset {offset}. State encoding in [reading] (one of {accepted})"
    )]
    NotInEncoding {
        /// Where.
        place: Place,
        /// The encoding tried.
        encoding: &'static str,
        /// Offset of the first wrong byte.
        offset: usize,
        /// The words that `encoding` accepts.
        accepted: String,
    },
    /// More than this room reads at once.
    #[error(
        "{place}: {found} {what}, more than the limit of {limit}. Split the file, or export fewer scans to a file"
    )]
    TooLarge {
        /// Where.
        place: Place,
        /// What was counted: bytes, cells, columns.
        what: &'static str,
        /// How many there are (or how many were counted when reading stopped).
        found: usize,
        /// How many are accepted.
        limit: usize,
    },
    /// Text, but no lines of numbers.
    #[error("{place}: no line with at least two numbers in the first {lines_looked_at} lines. {cure}")]
    NoNumbers {
        /// Where.
        place: Place,
        /// How many lines were looked at.
        lines_looked_at: usize,
        /// What to do.
        cure: &'static str,
    },
    /// A header and nothing below it.
    #[error(
        "{place}: the file has a header but no line of numbers below it. The export is incomplete: repeat it"
    )]
    HeaderOnly {
        /// Where.
        place: Place,
    },
    /// Two readings are both plausible.
    #[error(
        "{place}: two readings are plausible: {first}, or {second}. State {key} in [reading] to settle it"
    )]
    Ambiguous {
        /// Where.
        place: Place,
        /// The one reading in words.
        first: String,
        /// The other reading in words.
        second: String,
        /// The key of `[reading]` that settles it.
        key: &'static str,
    },
    /// A cell that is no number.
    #[error(
        "{place}: not a number. Accepted here: a number with decimal {decimal_mark} such as {example}, or an overload mark such as OVL or NaN"
    )]
    NotANumber {
        /// Where.
        place: Place,
        /// The decimal mark of the file, `point` or `comma`.
        decimal_mark: &'static str,
        /// A number as it would be accepted.
        example: &'static str,
    },
    /// Digits in groups.
    #[error(
        "{place}: digits in groups (thousands separators) cannot be told from a decimal mark with certainty. Export without grouping"
    )]
    ThousandsSeparator {
        /// Where.
        place: Place,
    },
    /// Decimal commas between commas that part the cells.
    #[error(
        "{place}: decimal commas in cells that are themselves parted by commas. Export with semicolons or tabs, or with each number in quotation marks"
    )]
    CommaInBothParts {
        /// Where.
        place: Place,
    },
    /// A number is missing in the middle of a column.
    #[error(
        "{place}: this cell is empty, but the column goes on below. Accepted: a number, or an overload mark such as OVL or NaN"
    )]
    EmptyCell {
        /// Where.
        place: Place,
    },
    /// More cells than the lines above have.
    #[error(
        "{place}: {found} cells where the lines above have {expected}. Accepted: {expected} cells, or fewer at the end of shorter scans"
    )]
    ExtraCell {
        /// Where.
        place: Place,
        /// Cells in this line.
        found: usize,
        /// Cells in the lines above.
        expected: usize,
    },
    /// The last line stops in the middle.
    #[error(
        "{place}: the file breaks off in this line ({found} of {expected} cells, no line end). Export it again, or delete the broken line if the rest is complete"
    )]
    CutOff {
        /// Where.
        place: Place,
        /// Cells in this line.
        found: usize,
        /// Cells in the lines above.
        expected: usize,
    },
    /// A line of text among the numbers.
    #[error(
        "{place}: text among the numbers. Accepted between scans: a blank line, the header again, a comment (#), or a setting (key = value)"
    )]
    TextAmongNumbers {
        /// Where.
        place: Place,
    },
    /// Nothing says which column is the potential.
    #[error(
        "{place}: no potential column found ({found}). State potential_column in [reading]; a recording without potentials is not a scan that this room reads"
    )]
    NoPotentialColumn {
        /// Where.
        place: Place,
        /// What the columns are.
        found: String,
    },
    /// Nothing says which column is the current.
    #[error("{place}: no current column found ({found}). State current_columns in [reading]")]
    NoCurrentColumn {
        /// Where.
        place: Place,
        /// What the columns are.
        found: String,
    },
    /// A current divided by an area.
    #[error(
        "{place}: this is a current density. It cannot be turned back into a current without the electrode area used at export: export the current itself, in A, mA, µA, nA or pA"
    )]
    CurrentDensity {
        /// Where.
        place: Place,
    },
    /// A unit that is not read.
    #[error("{place}: the unit {unit} is not read. Accepted: {accepted}")]
    UnknownUnit {
        /// Where.
        place: Place,
        /// The unit found.
        unit: String,
        /// The units that are read.
        accepted: &'static str,
    },
    /// Neither the file nor `[reading]` states the unit of current. The reading as far as understood is kept.
    #[error(
        "{place}: the unit of current is not stated. Read as: {reading}. State current_unit in [reading] or in the run sheet (A, mA, µA, nA, pA)"
    )]
    CurrentUnitNotStated {
        /// Where.
        place: Place,
        /// All the rest of the reading.
        reading: Box<Reading>,
    },
    /// Current columns in different units.
    #[error(
        "{place}: current columns in different units ({first} and {second}). State current_columns in [reading] so that they share one unit"
    )]
    CurrentUnitsDiffer {
        /// Where.
        place: Place,
        /// The one unit.
        first: &'static str,
        /// The other unit.
        second: &'static str,
    },
    /// The file says one unit, `[reading]` another.
    #[error(
        "{place}: the file states {stated}, [reading] pins {pinned}. Correct {key} in [reading], or the file"
    )]
    PinContradicted {
        /// Where.
        place: Place,
        /// What the file says.
        stated: String,
        /// What `[reading]` says.
        pinned: String,
        /// The key of `[reading]`.
        key: &'static str,
    },
    /// A pinned column does not exist.
    #[error("{place}: {key} = {wanted} in [reading] names no column with numbers. The file has: {available}")]
    PinnedColumnMissing {
        /// Where.
        place: Place,
        /// The key of `[reading]`.
        key: &'static str,
        /// The column wanted.
        wanted: String,
        /// The columns there are.
        available: String,
    },
    /// Two columns have the header text that `[reading]` names.
    #[error("{place}: {key} = {wanted} in [reading] names {count} columns. Use the column's number instead")]
    PinnedColumnNotUnique {
        /// Where.
        place: Place,
        /// The key of `[reading]`.
        key: &'static str,
        /// The header text wanted.
        wanted: String,
        /// How many columns have it.
        count: usize,
    },
    /// The text does not have the layout that `[reading]` pins.
    #[error("{place}: layout = \"{pinned}\" is pinned in [reading], but {found}")]
    LayoutContradicted {
        /// Where.
        place: Place,
        /// The layout pinned.
        pinned: &'static str,
        /// What the file has.
        found: String,
    },
    /// A potential that is no number.
    #[error("{place}: no number in the potential column. Accepted: a number in every line of the scan")]
    PotentialMissing {
        /// Where.
        place: Place,
    },
}

impl ReadError {
    pub(crate) fn not_a_number(place: Place, mark: DecimalMark) -> Self {
        let example = match mark {
            DecimalMark::Point => "-0.125 or 1.25E-6",
            DecimalMark::Comma => "-0,125 or 1,25E-6",
        };
        Self::NotANumber { place, decimal_mark: mark.word(), example }
    }

    /// Where in the file.
    pub fn place(&self) -> &Place {
        match self {
            Self::Empty { place }
            | Self::Binary { place, .. }
            | Self::NotInEncoding { place, .. }
            | Self::TooLarge { place, .. }
            | Self::NoNumbers { place, .. }
            | Self::HeaderOnly { place }
            | Self::Ambiguous { place, .. }
            | Self::NotANumber { place, .. }
            | Self::ThousandsSeparator { place }
            | Self::CommaInBothParts { place }
            | Self::EmptyCell { place }
            | Self::ExtraCell { place, .. }
            | Self::CutOff { place, .. }
            | Self::TextAmongNumbers { place }
            | Self::NoPotentialColumn { place, .. }
            | Self::NoCurrentColumn { place, .. }
            | Self::CurrentDensity { place }
            | Self::UnknownUnit { place, .. }
            | Self::CurrentUnitNotStated { place, .. }
            | Self::CurrentUnitsDiffer { place, .. }
            | Self::PinContradicted { place, .. }
            | Self::PinnedColumnMissing { place, .. }
            | Self::PinnedColumnNotUnique { place, .. }
            | Self::LayoutContradicted { place, .. }
            | Self::PotentialMissing { place } => place,
        }
    }
}

/// The start of an offending text with control characters escaped, at most 40 characters.
pub(crate) fn shortened(text: &str) -> Box<str> {
    let mut out = String::new();
    for (n_taken, c) in text.chars().enumerate() {
        if n_taken == 40 {
            out.push('…');
            break;
        }
        if c.is_control() || c == '"' || c == '\\' {
            out.extend(c.escape_default());
        } else {
            out.push(c);
        }
    }
    out.into_boxed_str()
}

//! The optional answers of a method's `[reading]`: whatever stands here is not inferred.

use std::fmt;

use crate::units::{CurrentUnit, PotentialUnit};

/// What a method's `[reading]` states about its files. Every field is optional; a field that is `None` is inferred.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ReadingPin {
    /// Key `encoding`.
    pub encoding: Option<Encoding>,
    /// Key `delimiter`.
    pub delimiter: Option<Delimiter>,
    /// Key `decimal_mark`.
    pub decimal_mark: Option<DecimalMark>,
    /// Key `header_lines`: how many lines stand before the first line of numbers.
    pub header_lines: Option<usize>,
    /// Key `layout`.
    pub layout: Option<Layout>,
    /// Key `potential_column`.
    pub potential_column: Option<ColumnChoice>,
    /// Key `current_columns`: one scan each.
    pub current_columns: Option<Vec<ColumnChoice>>,
    /// Key `forward_column` of a pulse technique.
    pub forward_column: Option<ColumnChoice>,
    /// Key `reverse_column` of a pulse technique.
    pub reverse_column: Option<ColumnChoice>,
    /// Key `time_column`, in seconds.
    pub time_column: Option<ColumnChoice>,
    /// Key `potential_unit`.
    pub potential_unit: Option<PotentialUnit>,
    /// Key `current_unit`.
    pub current_unit: Option<CurrentUnit>,
    /// Key `reduction_current`: the sign that a reduction current has in the file.
    pub reduction_current: Option<ReductionCurrent>,
}

impl ReadingPin {
    /// The keys of `[reading]`, in the order in which they are written.
    pub const KEYS: [&'static str; 13] = [
        "encoding",
        "delimiter",
        "decimal_mark",
        "header_lines",
        "layout",
        "potential_column",
        "current_columns",
        "forward_column",
        "reverse_column",
        "time_column",
        "potential_unit",
        "current_unit",
        "reduction_current",
    ];
}

/// Written as the lines of a `[reading]` table.
impl fmt::Display for ReadingPin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = |f: &mut fmt::Formatter<'_>, key: &str, word: Option<&str>| match word {
            Some(word) => writeln!(f, "{key} = \"{word}\""),
            None => Ok(()),
        };
        let column = |f: &mut fmt::Formatter<'_>, key: &str, choice: &Option<ColumnChoice>| match choice {
            Some(choice) => writeln!(f, "{key} = {choice}"),
            None => Ok(()),
        };
        word(f, "encoding", self.encoding.map(Encoding::word))?;
        word(f, "delimiter", self.delimiter.map(Delimiter::word))?;
        word(f, "decimal_mark", self.decimal_mark.map(DecimalMark::word))?;
        if let Some(n_lines) = self.header_lines {
            writeln!(f, "header_lines = {n_lines}")?;
        }
        word(f, "layout", self.layout.map(Layout::word))?;
        column(f, "potential_column", &self.potential_column)?;
        if let Some(choices) = &self.current_columns {
            let list: Vec<String> = choices.iter().map(ColumnChoice::to_string).collect();
            writeln!(f, "current_columns = [{}]", list.join(", "))?;
        }
        column(f, "forward_column", &self.forward_column)?;
        column(f, "reverse_column", &self.reverse_column)?;
        column(f, "time_column", &self.time_column)?;
        word(f, "potential_unit", self.potential_unit.map(PotentialUnit::word))?;
        word(f, "current_unit", self.current_unit.map(CurrentUnit::word))?;
        word(f, "reduction_current", self.reduction_current.map(ReductionCurrent::word))
    }
}

/// A column named in `[reading]`.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum ColumnChoice {
    /// By its place, counted from 1.
    Number(usize),
    /// By its header text, exactly as it stands in the file.
    Header(String),
}

impl fmt::Display for ColumnChoice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => write!(f, "{number}"),
            Self::Header(text) => write!(f, "\"{}\"", text.escape_default()),
        }
    }
}

/// Defines an enum whose values are words of `[reading]`.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$value_doc:meta])* $value:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        pub enum $name { $($(#[$value_doc])* $value),+ }

        impl $name {
            /// Every word that `[reading]` accepts here.
            pub const WORDS: &'static [&'static str] = &[$($word),+];

            /// The word as `[reading]` writes it.
            pub fn word(self) -> &'static str {
                match self { $(Self::$value => $word),+ }
            }

            /// The value of a word of `[reading]`, if it is one.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$value),)+ _ => None }
            }
        }
    };
}
pub(crate) use words;

words! {
    /// How characters are stored.
    Encoding {
        /// UTF-8, with or without a byte order mark; plain ASCII too.
        Utf8 = "utf-8",
        /// UTF-16, low byte first.
        Utf16Le = "utf-16le",
        /// UTF-16, high byte first.
        Utf16Be = "utf-16be",
        /// Windows-1252, of which Latin-1 text is a part.
        Windows1252 = "windows-1252",
    }
}

words! {
    /// What stands between the cells of a line.
    Delimiter {
        /// `,`
        Comma = "comma",
        /// `;`
        Semicolon = "semicolon",
        /// One tab.
        Tab = "tab",
        /// One or more blanks or tabs.
        Blank = "blank",
    }
}

words! {
    /// The character between the whole and the decimal digits.
    DecimalMark {
        /// `.`
        Point = "point",
        /// `,`
        Comma = "comma",
    }
}

words! {
    /// How scans lie in the file.
    Layout {
        /// One potential column, one or more current columns beside it.
        Columns = "columns",
        /// Potential and current columns in turn, one pair a scan.
        Pairs = "pairs",
        /// Scans below each other: parted by blank lines, by a repeated header, or where the potential starts again.
        Stacked = "stacked",
        /// Potentials in the first row, one scan in each row below.
        Rows = "rows",
    }
}

words! {
    /// The sign that a reduction current has in the file. Inside, reduction is negative (IUPAC).
    ReductionCurrent {
        /// As inside.
        Negative = "negative",
        /// The other way round: every current is turned when read.
        Positive = "positive",
    }
}

impl Delimiter {
    /// The one byte that it is; none for blanks, which may be several.
    pub(crate) fn byte(self) -> Option<u8> {
        match self {
            Self::Comma => Some(b','),
            Self::Semicolon => Some(b';'),
            Self::Tab => Some(b'\t'),
            Self::Blank => None,
        }
    }

    pub(crate) fn plural(self) -> &'static str {
        match self {
            Self::Comma => "commas",
            Self::Semicolon => "semicolons",
            Self::Tab => "tabs",
            Self::Blank => "blanks",
        }
    }
}

impl DecimalMark {
    pub(crate) fn byte(self) -> u8 {
        match self {
            Self::Point => b'.',
            Self::Comma => b',',
        }
    }
}

//! How a text was understood, sayable in one line.

use std::fmt;

use crate::pin::{ColumnChoice, DecimalMark, Delimiter, Encoding, Layout, ReadingPin, ReductionCurrent};
use crate::units::{CurrentUnit, PotentialUnit};

/// How a text was understood. Columns are counted from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Reading {
    /// How characters are stored.
    pub encoding: Encoding,
    /// What stands between cells.
    pub delimiter: Delimiter,
    /// The decimal mark. Where the file has none at all it is [`DecimalMark::Point`].
    pub decimal_mark: DecimalMark,
    /// Lines before the first line of numbers.
    pub header_lines: usize,
    /// How scans lie in the file.
    pub layout: Layout,
    /// Columns with potentials: one, or one a pair. Empty when the potentials stand in a row.
    pub potential_columns: Vec<usize>,
    /// Columns with the current, one a scan (or one for all stacked scans). Empty when it is the difference of the
    /// forward and reverse columns, or when every row is a scan.
    pub current_columns: Vec<usize>,
    /// Columns with the forward current of a pulse technique.
    pub forward_columns: Vec<usize>,
    /// Columns with the reverse current of a pulse technique.
    pub reverse_columns: Vec<usize>,
    /// Column with the time.
    pub time_column: Option<usize>,
    /// Unit of potential.
    pub potential_unit: PotentialUnit,
    /// Where that unit comes from.
    pub potential_unit_from: UnitSource,
    /// Unit of current; `None` = not stated.
    pub current_unit: Option<CurrentUnit>,
    /// Where that unit comes from.
    pub current_unit_from: UnitSource,
    /// The sign of reduction in the file; `None` = not stated, the currents keep the sign as found.
    pub reduction_current: Option<ReductionCurrent>,
    /// Number of scans.
    pub n_scans: usize,
    /// Points of the shortest and the longest scan.
    pub n_points: (usize, usize),
}

/// Where a unit comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum UnitSource {
    /// `[reading]`, or a run sheet that filled it in.
    Pinned,
    /// The header of a column.
    Header,
    /// A settings or comment line.
    Setting,
    /// A word of the file's name.
    FileName,
    /// The size of the numbers: only one unit makes a window that a cell can have.
    Values,
    /// Nowhere.
    NotStated,
}

impl Reading {
    /// This reading as a complete pin: reading the same file with it infers nothing and gives the same scans.
    /// What nobody stated stays open.
    pub fn to_pin(&self) -> ReadingPin {
        let first = |columns: &[usize]| columns.first().map(|&column| ColumnChoice::Number(column));
        let list = |columns: &[usize]| {
            (!columns.is_empty())
                .then(|| columns.iter().map(|&column| ColumnChoice::Number(column)).collect())
        };
        let pulse_sets = self.forward_columns.len().max(self.reverse_columns.len());
        ReadingPin {
            encoding: Some(self.encoding),
            delimiter: Some(self.delimiter),
            decimal_mark: Some(self.decimal_mark),
            header_lines: Some(self.header_lines),
            layout: Some(self.layout),
            potential_column: if self.layout == Layout::Pairs {
                None
            } else {
                first(&self.potential_columns)
            },
            current_columns: list(&self.current_columns),
            forward_column: if pulse_sets == 1 { first(&self.forward_columns) } else { None },
            reverse_column: if pulse_sets == 1 { first(&self.reverse_columns) } else { None },
            time_column: self.time_column.map(ColumnChoice::Number),
            potential_unit: Some(self.potential_unit),
            current_unit: self.current_unit,
            reduction_current: self.reduction_current,
        }
    }
}

impl fmt::Display for Reading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.encoding != Encoding::Utf8 {
            write!(f, "{}; ", self.encoding.word())?;
        }
        write!(f, "{}; decimal {}; ", self.delimiter.plural(), self.decimal_mark.word())?;
        match self.header_lines {
            0 => write!(f, "no header; ")?,
            1 => write!(f, "1 header line; ")?,
            n => write!(f, "{n} header lines; ")?,
        }
        match self.layout {
            Layout::Columns => {}
            Layout::Pairs => write!(f, "pairs; ")?,
            Layout::Stacked => write!(f, "stacked; ")?,
            Layout::Rows => write!(f, "one scan a row, potentials in the first; ")?,
        }
        if self.layout != Layout::Rows {
            write!(f, "potential {}; ", columns_in_words(&self.potential_columns))?;
            if self.current_columns.is_empty() {
                write!(f, "current forward minus reverse; ")?;
            } else {
                write!(f, "current {}; ", columns_in_words(&self.current_columns))?;
            }
        }
        if !self.forward_columns.is_empty() {
            write!(f, "forward {}; ", columns_in_words(&self.forward_columns))?;
        }
        if !self.reverse_columns.is_empty() {
            write!(f, "reverse {}; ", columns_in_words(&self.reverse_columns))?;
        }
        if let Some(column) = self.time_column {
            write!(f, "time {}; ", columns_in_words(&[column]))?;
        }
        match self.current_unit {
            Some(unit) => write!(f, "{}, {}; ", self.potential_unit.word(), unit.word())?,
            None => write!(f, "{}, current unit not stated; ", self.potential_unit.word())?,
        }
        match self.reduction_current {
            Some(sign) => write!(f, "reduction {}; ", sign.word())?,
            None => write!(f, "sign of reduction not stated; ")?,
        }
        let scans = if self.n_scans == 1 { "scan" } else { "scans" };
        let (fewest, most) = self.n_points;
        if fewest == most {
            write!(f, "{} {scans} of {most} points", self.n_scans)
        } else {
            write!(f, "{} {scans} of {fewest} to {most} points", self.n_scans)
        }
    }
}

/// `column 2`, `columns 2 and 4`, `columns 2 to 226`, `columns 2, 4 and 6`.
pub(crate) fn columns_in_words(columns: &[usize]) -> String {
    match columns {
        [] => "no column".to_owned(),
        [only] => format!("column {only}"),
        [first, .., last] if columns.len() > 2 && last - first == columns.len() - 1 => {
            format!("columns {first} to {last}")
        }
        [start @ .., last] => {
            let start: Vec<String> = start.iter().map(usize::to_string).collect();
            format!("columns {} and {last}", start.join(", "))
        }
    }
}

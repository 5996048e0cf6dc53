//! The numbers of a figure as a table, for whoever reads numbers rather than lines.

use crate::axis::{AxisText, shown_unit};
use crate::scale::{Domain, Spacing, fixed_decimals};
use crate::words::harmless;

/// Digits of the largest number of a column.
const DIGITS: i32 = 5;

/// A column with such a number is written in powers of ten.
const WILD: f64 = 1e12;

/// The numbers that a figure shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What stands in the rows.
    pub title: String,
    /// What stands in the columns, and the unit of their numbers.
    pub columns: Vec<AxisText>,
    /// One cell for each column.
    pub rows: Vec<Vec<Cell>>,
}

/// One cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// A number in the unit of its column, as the figure was given it.
    Number(f64),
    /// Known only to lie below this number.
    Below(f64),
    /// Known only to lie above this number.
    Above(f64),
    /// A name or words, as they were given: whoever shows them escapes them.
    Words(String),
    /// Nothing is known here.
    Nothing,
}

impl Cell {
    fn number(&self) -> Option<f64> {
        match self {
            Self::Number(number) | Self::Below(number) | Self::Above(number) => Some(*number),
            Self::Words(_) | Self::Nothing => None,
        }
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Self {
        Self::Number(number)
    }
}

impl From<Option<f64>> for Cell {
    fn from(number: Option<f64>) -> Self {
        number.map_or(Self::Nothing, Self::Number)
    }
}

impl From<&str> for Cell {
    fn from(words: &str) -> Self {
        Self::Words(words.to_owned())
    }
}

/// A table in words: ready to be set, not escaped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableText {
    /// Quantity and unit of each column.
    pub headers: Vec<String>,
    /// Whether a column holds numbers, which are set to the right.
    pub is_numeric: Vec<bool>,
    /// One text for each column.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// The table in words: SI units with the prefix that gives short numbers, five digits at the largest of a column, no zeros
    /// that all its numbers end with.
    ///
    /// # Example
    /// ```
    /// use stillwell_report::{AxisText, AxisUnit, Cell, Table};
    /// let current = AxisText { quantity: "current".to_owned(), unit: AxisUnit::Prefixed("A".to_owned()) };
    /// let table = Table { title: "scan".to_owned(), columns: vec![current], rows: vec![vec![Cell::Number(-2.5e-6)]] };
    /// let text = table.in_words();
    /// assert_eq!(text.headers, ["current (µA)"]);
    /// assert_eq!(text.rows, [["−2.5"]]);
    /// ```
    pub fn in_words(&self) -> TableText {
        let mut text = TableText {
            headers: Vec::new(),
            is_numeric: Vec::new(),
            rows: vec![Vec::with_capacity(self.columns.len()); self.rows.len()],
        };
        for (index, column) in self.columns.iter().enumerate() {
            let cells: Vec<&Cell> =
                self.rows.iter().map(|row| row.get(index).unwrap_or(&Cell::Nothing)).collect();
            let domain = Domain::of(cells.iter().filter_map(|cell| cell.number()), Spacing::Linear);
            let is_wild = cells
                .iter()
                .filter_map(|cell| cell.number())
                .any(|number| number.is_finite() && number.abs() >= WILD);
            let (factor, unit) =
                if is_wild { (1.0, column.unit.bare()) } else { shown_unit(&column.unit, domain) };
            let quantity = harmless(&column.quantity);
            text.headers.push(if unit.is_empty() { quantity } else { format!("{quantity} ({unit})") });
            text.is_numeric.push(cells.iter().any(|cell| cell.number().is_some()));
            let decimals = (!is_wild).then(|| decimals(&cells, factor));
            for (row, cell) in text.rows.iter_mut().zip(cells) {
                row.push(words(cell, factor, decimals));
            }
        }
        text
    }
}

/// As many decimals as are given, or powers of ten where they are none.
fn words(cell: &Cell, factor: f64, decimals: Option<usize>) -> String {
    let number = |number: f64| match decimals {
        _ if !number.is_finite() => "–".to_owned(),
        Some(decimals) => fixed_decimals(number * factor, decimals),
        None => format!("{number:.4e}").replace('-', "−"),
    };
    match cell {
        Cell::Number(value) => number(*value),
        Cell::Below(value) => format!("< {}", number(*value)),
        Cell::Above(value) => format!("> {}", number(*value)),
        Cell::Words(words) => harmless(words),
        Cell::Nothing => "–".to_owned(),
    }
}

fn decimals(cells: &[&Cell], factor: f64) -> usize {
    let numbers =
        || cells.iter().filter_map(|cell| cell.number()).map(|x| x * factor).filter(|x| x.is_finite());
    let largest = numbers().map(f64::abs).fold(0.0, f64::max);
    if largest == 0.0 {
        return 0;
    }
    let most = usize::try_from((DIGITS - 1 - decade(largest)).clamp(0, 9)).unwrap_or(0);
    let needed = |number: f64| {
        let text = format!("{number:.most$}");
        text.split_once('.').map_or(0, |(_, after)| after.trim_end_matches('0').len())
    };
    numbers().map(needed).max().unwrap_or(0)
}

#[expect(clippy::cast_possible_truncation, reason = "a logarithm of a finite number")]
fn decade(number: f64) -> i32 {
    libm::floor(libm::log10(number)) as i32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::axis::AxisUnit;

    #[test]
    fn cells_that_are_no_numbers_say_so() {
        let column = |name: &str, unit| AxisText::new(name, unit);
        let table = Table {
            title: String::new(),
            columns: vec![
                column("name", AxisUnit::None),
                column("level", AxisUnit::Plain("mg/L".to_owned())),
            ],
            rows: vec![
                vec!["a".into(), Cell::Below(0.5)],
                vec!["b".into(), f64::NAN.into()],
                vec!["c".into(), 12.25.into()],
                vec!["d".into(), Cell::Nothing],
                vec!["short".into()],
            ],
        };
        let text = table.in_words();
        assert_eq!(text.headers, ["name", "level (mg/L)"]);
        assert_eq!(text.is_numeric, [false, true]);
        let second: Vec<&str> = text.rows.iter().map(|row| row[1].as_str()).collect();
        assert_eq!(second, ["< 0.50", "–", "12.25", "–", "–"]);
        let rows = vec![vec![Cell::Nothing, (-2e300).into()], vec![Cell::Nothing, 1e-20.into()]];
        assert_eq!(Table { rows, ..table }.in_words().rows[0][1], "−2.0000e300");
    }
}

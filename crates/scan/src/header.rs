//! The lines above the numbers: column names, units below them, settings, comments.

use crate::cells::{Cell, Line, cell_from_text, cells_of};
use crate::dialect::Frame;
use crate::error::{Place, ReadError, shortened};
use crate::note::ReadNote;
use crate::pin::{Delimiter, ReadingPin};
use crate::roles::{ColumnHead, Role, column_head, names_a_column};
use crate::scan::Setting;
use crate::settings::{
    has_open_quote, is_explicit_setting, setting_from_line, starts_like_numbers, without_comment_mark,
};
use crate::units::unit_from_text;

/// What the lines above the numbers say.
pub(crate) struct Header {
    /// One a column; texts are empty where there is no line of names.
    pub(crate) heads: Vec<ColumnHead>,
    /// Line of the names, 0 = none.
    pub(crate) names_line: usize,
    pub(crate) settings: Vec<Setting>,
    pub(crate) notes: Vec<ReadNote>,
}

/// Understands the lines above the numbers.
pub(crate) fn header(
    frame: &Frame<'_>,
    text: &str,
    pin: &ReadingPin,
    place: &Place,
) -> Result<Header, ReadError> {
    let width = frame.width();
    let names = names_row(frame);
    if pin.decimal_mark.is_none() {
        refuse_commas_in_both_parts(frame, names.as_ref(), text, place)?;
    }
    if pin.header_lines.is_none() {
        refuse_broken_first_line(frame, names.as_ref(), place)?;
    }
    let (cells, used) = match names {
        Some(names) if names.cells.len() <= width => (names.cells, names.lines),
        _ => (Vec::new(), Vec::new()),
    };
    let mut heads: Vec<ColumnHead> = cells.iter().map(|cell| column_head(cell)).collect();
    heads.resize_with(width, || column_head(""));
    let (mut settings, mut notes) = (Vec::new(), Vec::new());
    for line in &frame.header {
        if line.is_blank() || used.contains(&line.number) {
            continue;
        }
        if let Some(setting) = setting_from_line(line, frame.delimiter) {
            settings.push(setting);
        } else if !without_comment_mark(line.text).1 {
            let text = shortened(line.text.trim());
            notes.push(ReadNote::LineNotUnderstood { line: line.number, text });
        }
    }
    Ok(Header { heads, names_line: used.first().copied().unwrap_or(0), settings, notes })
}

struct Names {
    cells: Vec<String>,
    /// The lines that hold names and units.
    lines: Vec<usize>,
}

/// The last line above the numbers that can name the columns, with the units of a line below it.
fn names_row(frame: &Frame<'_>) -> Option<Names> {
    let mut units: Option<(Vec<String>, usize)> = None;
    for line in frame.header.iter().rev() {
        let (text, _) = without_comment_mark(line.text);
        let is_rule = !text.chars().any(char::is_alphanumeric);
        if is_rule {
            continue;
        }
        let cells = name_cells(text, frame);
        let Some(cells) = cells.filter(|cells| can_be_names(line, cells, frame)) else {
            let is_comment = without_comment_mark(line.text).1;
            let is_setting =
                line.text.contains(['=', ':']) && setting_from_line(line, frame.delimiter).is_some();
            if is_comment || is_setting {
                continue;
            }
            break;
        };
        if units.is_none() && is_unit_row(&cells) {
            units = Some((cells, line.number));
            continue;
        }
        return Some(match units {
            Some((units, units_line)) => {
                Names { cells: with_units(&cells, &units), lines: vec![line.number, units_line] }
            }
            None => Names { cells, lines: vec![line.number] },
        });
    }
    units.map(|(cells, line)| Names { cells, lines: vec![line] })
}

/// Splits a line of names; its delimiter may differ from that of the numbers.
fn name_cells(text: &str, frame: &Frame<'_>) -> Option<Vec<String>> {
    let width = frame.width();
    let owned = |cells: Vec<&str>| cells.into_iter().map(str::to_owned).collect::<Vec<String>>();
    let own = owned(cells_of(text, frame.delimiter));
    if own.len() == width && frame.delimiter != Delimiter::Blank {
        return Some(own);
    }
    for delimiter in [Delimiter::Tab, Delimiter::Semicolon, Delimiter::Comma] {
        let cells = owned(cells_of(text, delimiter));
        if cells.len() == width {
            return Some(cells);
        }
    }
    let parted_by_two_blanks: Vec<&str> =
        text.split("  ").map(str::trim).filter(|cell| !cell.is_empty()).collect();
    if parted_by_two_blanks.len() == width {
        return Some(owned(parted_by_two_blanks));
    }
    if own.len() == width {
        return Some(own);
    }
    let is_shorter = own.len() >= 2 && own.len() < width && frame.delimiter != Delimiter::Blank;
    (is_shorter && names_a_column(text)).then_some(own)
}

fn can_be_names(line: &Line<'_>, cells: &[String], frame: &Frame<'_>) -> bool {
    let mark = frame.decimal_mark.byte();
    let n_numbers = cells.iter().filter(|cell| matches!(cell_from_text(cell, mark), Cell::Number(_))).count();
    let first = cells.first().map(|cell| column_head(cell).role);
    let names_numbers = n_numbers > 0 && (first == Some(Role::Potential) || cells.len() >= 8);
    let is_setting =
        line.text.contains('=') || (line.text.contains(':') && cells.iter().any(|cell| cell.ends_with(':')));
    !is_setting && (n_numbers == 0 || names_numbers)
}

fn is_unit_row(cells: &[String]) -> bool {
    let bare = |cell: &String| cell.trim_matches(['(', ')', '[', ']', '/', ' ']).to_owned();
    let n_units = cells.iter().filter(|cell| unit_from_text(&bare(cell)).is_some()).count();
    n_units > 0
        && cells.iter().all(|cell| {
            let cell = bare(cell);
            cell.is_empty() || cell == "-" || cell == "#" || unit_from_text(&cell).is_some()
        })
}

fn with_units(names: &[String], units: &[String]) -> Vec<String> {
    let mut units = units.iter();
    names
        .iter()
        .map(|name| match units.next().map(|unit| unit.trim_matches(['(', ')', '[', ']', '/', ' '])) {
            Some(unit) if !unit.is_empty() && unit_from_text(unit).is_some() => {
                format!("{name} ({unit})")
            }
            _ => name.clone(),
        })
        .collect()
}

/// A line right above the numbers that has their width and some numbers, but names nothing, is a broken line of numbers;
/// taken for a header it would be lost. And a first line longer than the names has a cell too many.
fn refuse_broken_first_line(
    frame: &Frame<'_>,
    names: Option<&Names>,
    place: &Place,
) -> Result<(), ReadError> {
    if let Some(n_names) = names.map(|names| names.cells.len())
        && n_names < frame.width()
    {
        let (line, column) = (frame.header.len() + 1, n_names + 1);
        let place = Place { line, column, ..place.clone() };
        return Err(ReadError::ExtraCell { place, found: frame.width(), expected: n_names });
    }
    // Numbers that broke off below a line of names, with the names once more below them.
    let mut lines = frame.header.iter().skip_while(|line| !names_a_column(line.text)).skip(1);
    if let Some(line) =
        lines.find(|line| !is_explicit_setting(line) && (starts_like_numbers(line) || has_open_quote(line)))
    {
        let (mark, text) = (frame.decimal_mark.byte(), shortened(line.text));
        let cells = cells_of(line.text, frame.delimiter);
        let wrong = cells.iter().position(|cell| cell_from_text(cell, mark) == Cell::Text);
        let column = wrong.map_or(0, |column| column + 1);
        let place = Place { line: line.number, column, text, ..place.clone() };
        return Err(ReadError::not_a_number(place, frame.decimal_mark));
    }
    let above = frame.header.iter().rev().find(|line| !line.is_blank());
    let Some(above) = above.filter(|above| {
        names.is_none_or(|names| !names.lines.contains(&above.number)) && !is_explicit_setting(above)
    }) else {
        return Ok(());
    };
    let mark = frame.decimal_mark.byte();
    let cells = cells_of(above.text, frame.delimiter);
    let kinds: Vec<Cell> = cells.iter().map(|cell| cell_from_text(cell, mark)).collect();
    let wrong = kinds.iter().enumerate().position(|(column, kind)| {
        *kind == Cell::Text && !frame.is_text.get(column).copied().unwrap_or(false)
    });
    let has_number = kinds.iter().any(|kind| matches!(kind, Cell::Number(_)));
    let is_below_names =
        frame.header.iter().any(|line| line.number < above.number && names_a_column(line.text));
    let text = wrong.and_then(|column| cells.get(column)).map_or(Box::default(), |cell| shortened(cell));
    // A word without digits and no names above: a setting such as `step;0,01`.
    let is_word = !is_below_names && !text.contains(|c: char| c.is_ascii_digit());
    let is_broken = wrong.is_some() && has_number && cells.len() == frame.width() && !is_word;
    if !is_broken && !starts_like_numbers(above) && !has_open_quote(above) {
        return Ok(());
    }
    let column = wrong.unwrap_or(0);
    let text = if text.is_empty() { shortened(above.text) } else { text };
    let place = Place { line: above.number, column: column + 1, text, ..place.clone() };
    Err(ReadError::not_a_number(place, frame.decimal_mark))
}

/// Between commas, whole numbers may be the two parts of decimal commas.
fn refuse_commas_in_both_parts(
    frame: &Frame<'_>,
    names: Option<&Names>,
    text: &str,
    place: &Place,
) -> Result<(), ReadError> {
    if frame.delimiter != Delimiter::Comma || frame.decimal_mark == crate::pin::DecimalMark::Comma {
        return Ok(());
    }
    let width = frame.width();
    let n_names = names.map_or(0, |names| names.cells.len());
    let body = text.get(frame.body_offset..).unwrap_or_default();
    let first_line = body.lines().next().unwrap_or_default();
    let line = frame.header.len() + 1;
    let place = Place { line, text: shortened(first_line), ..place.clone() };
    if n_names >= 2 && n_names * 2 == width {
        return Err(ReadError::CommaInBothParts { place });
    }
    let may_be_decimals = !frame.has_marks
        && n_names != width
        && width.is_multiple_of(2)
        && memchr::memchr3(b'.', b'e', b'E', body.as_bytes()).is_none();
    if !may_be_decimals {
        return Ok(());
    }
    Err(ReadError::Ambiguous {
        place,
        first: format!("{width} columns of whole numbers parted by commas"),
        second: format!("{} columns with decimal commas, parted by commas too", width / 2),
        key: "decimal_mark",
    })
}

//! Lines of a text and cells of a line: the careful way, for headers, inference and the lines that the fast path leaves.

use crate::number::number_at;
use crate::pin::Delimiter;

/// One line without its end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line<'a> {
    pub(crate) text: &'a str,
    /// From 1.
    pub(crate) number: usize,
    pub(crate) has_end: bool,
}

impl Line<'_> {
    pub(crate) fn is_blank(&self) -> bool {
        self.text.bytes().all(|byte| byte.is_ascii_whitespace() || byte == 0x1a)
    }
}

/// The lines of a text from an offset on; CR, LF and CRLF all end one.
pub(crate) struct Lines<'a> {
    text: &'a str,
    offset: usize,
    number: usize,
}

impl<'a> Lines<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        Self { text, offset: 0, number: 0 }
    }

    pub(crate) fn starting_at(text: &'a str, offset: usize, lines_before: usize) -> Self {
        Self { text, offset, number: lines_before }
    }

    /// Offset of the line that comes next.
    pub(crate) fn offset(&self) -> usize {
        self.offset
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = Line<'a>;

    fn next(&mut self) -> Option<Line<'a>> {
        let rest = self.text.get(self.offset..)?;
        if rest.is_empty() {
            return None;
        }
        self.number += 1;
        let Some(end) = memchr::memchr2(b'\n', b'\r', rest.as_bytes()) else {
            self.offset = self.text.len();
            return Some(Line { text: rest, number: self.number, has_end: false });
        };
        let is_crlf = rest.as_bytes().get(end..end + 2) == Some(b"\r\n");
        self.offset += end + if is_crlf { 2 } else { 1 };
        Some(Line { text: rest.get(..end)?, number: self.number, has_end: true })
    }
}

/// The cells of a line, trimmed and without their quotation marks; empty cells at the end are left out.
pub(crate) fn cells_of(line: &str, delimiter: Delimiter) -> Vec<&str> {
    let mut cells = Vec::new();
    each_cell(line, delimiter, |cell| cells.push(cell));
    while cells.last().is_some_and(|cell| cell.is_empty()) {
        cells.pop();
    }
    cells
}

/// Hands out the cells of a line as [`cells_of`] does, with the empty ones at the end.
pub(crate) fn each_cell<'a>(line: &'a str, delimiter: Delimiter, take: impl FnMut(&'a str)) {
    match delimiter {
        Delimiter::Blank => line.split_ascii_whitespace().map(unquoted).for_each(take),
        Delimiter::Comma => split_outside_quotes(line, b',', take),
        Delimiter::Semicolon => split_outside_quotes(line, b';', take),
        Delimiter::Tab => split_outside_quotes(line, b'\t', take),
    }
}

fn split_outside_quotes<'a>(line: &'a str, delimiter: u8, mut take: impl FnMut(&'a str)) {
    let mut start = 0;
    let mut is_quoted = false;
    for (at, byte) in line.bytes().enumerate() {
        if byte == b'"' {
            is_quoted = !is_quoted;
        } else if byte == delimiter && !is_quoted {
            take(unquoted(line.get(start..at).unwrap_or_default()));
            start = at + 1;
        }
    }
    take(unquoted(line.get(start..).unwrap_or_default()));
}

fn unquoted(cell: &str) -> &str {
    let cell = cell.trim_matches(|c: char| c.is_whitespace() || c == '\u{1a}');
    match cell.strip_prefix('"').and_then(|inner| inner.strip_suffix('"')) {
        Some(inner) => inner.trim(),
        None => cell,
    }
}

/// What a cell among numbers is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Cell {
    Number(f64),
    Empty,
    Overload,
    Text,
}

/// Marks that stand where a number could not be measured.
const OVERLOAD_MARKS: [&str; 20] = [
    "nan",
    "-nan",
    "+nan",
    "overload",
    "overflow",
    "over",
    "ovl",
    "ovld",
    "ovrld",
    "ovf",
    "ovfl",
    "ol",
    "+ol",
    "-ol",
    "over range",
    "inf",
    "+inf",
    "-inf",
    "n/a",
    "#n/a",
];

/// Reads one trimmed cell.
pub(crate) fn cell_from_text(cell: &str, mark: u8) -> Cell {
    if cell.is_empty() {
        return Cell::Empty;
    }
    if let Some((value, end)) = number_at(cell.as_bytes(), 0, mark)
        && end == cell.len()
    {
        return Cell::Number(value);
    }
    let is_filled = cell.len() >= 2 && cell.bytes().all(|byte| matches!(byte, b'-' | b'*' | b'#'));
    let is_mark = cell.len() <= 12 && OVERLOAD_MARKS.contains(&cell.to_ascii_lowercase().as_str());
    if is_filled || is_mark { Cell::Overload } else { Cell::Text }
}

/// Digits in groups of three, such as `1.234,5`, `1 234.5` or `1'234`.
pub(crate) fn has_grouped_digits(cell: &str) -> bool {
    let cell = cell.trim_start_matches(['-', '+', '\u{2212}']);
    for group in [',', '.', ' ', '\'', '\u{a0}', '\u{202f}', '\u{2019}'] {
        let mark = if group == ',' { '.' } else { ',' };
        let whole = cell.split(['e', 'E']).next().unwrap_or(cell);
        let (whole, decimals) = match whole.split_once(mark) {
            Some((whole, decimals)) => (whole, Some(decimals)),
            None => match whole.split_once('.') {
                Some((whole, decimals)) if group != '.' => (whole, Some(decimals)),
                _ => (whole, None),
            },
        };
        let mut groups = whole.split(group);
        let all_digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        let first = groups.next().unwrap_or_default();
        let rest: Vec<&str> = groups.collect();
        let is_grouped = all_digits(first)
            && first.len() <= 3
            && !first.starts_with('0')
            && !rest.is_empty()
            && rest.iter().all(|text| text.len() == 3 && all_digits(text));
        let needs_decimals = matches!(group, ',' | '.') && rest.len() == 1;
        if is_grouped && (!needs_decimals || decimals.is_some_and(all_digits)) {
            return true;
        }
    }
    false
}

//! The numbers of a text, line by line: a fused splitter and parser for plain lines, a careful path for all others.

use crate::cells::{Cell, Line, Lines, cell_from_text, cells_of, has_grouped_digits};
use crate::dialect::Frame;
use crate::error::{Place, ReadError, shortened};
use crate::number::quick_number_at;
use crate::pin::Delimiter;
use crate::read::MAX_CELLS;
use crate::settings::{has_open_quote, is_explicit_setting, starts_like_numbers, without_comment_mark};

/// Stands for a cell without text. A NaN of its own, since a column holds f64 only; it never leaves this crate.
const EMPTY_BITS: u64 = 0x7ff8_0000_0000_0e01;

pub(crate) fn is_empty_cell(value: f64) -> bool {
    value.to_bits() == EMPTY_BITS
}

/// Lines of numbers without other lines between them (or joined across such lines).
#[derive(Debug)]
pub(crate) struct Block<'a> {
    /// One a column of the file; text columns hold NaN. An overload mark is NaN too.
    pub(crate) columns: Vec<Vec<f64>>,
    /// Rows at which a run of consecutive lines starts, with that line's number.
    pub(crate) runs: Vec<(usize, usize)>,
    /// The lines between the block before and this one.
    pub(crate) before: Vec<Line<'a>>,
    /// Whether the header stands again among them.
    pub(crate) has_header_again: bool,
    /// Whether any cell may be empty or hold a mark.
    pub(crate) has_gaps: bool,
}

impl Block<'_> {
    pub(crate) fn n_rows(&self) -> usize {
        self.columns.first().map_or(0, Vec::len)
    }

    pub(crate) fn line_of_row(&self, row: usize) -> usize {
        let run = self.runs.iter().rev().find(|(first_row, _)| *first_row <= row);
        run.map_or(0, |(first_row, line)| line + (row - first_row))
    }
}

/// All numbers of a text.
pub(crate) struct Body<'a> {
    pub(crate) blocks: Vec<Block<'a>>,
    /// The lines after the last number.
    pub(crate) footer: Vec<Line<'a>>,
    /// Number of the last line, if it has no line end.
    pub(crate) unended_line: Option<usize>,
}

/// Reads every line from the frame's start on.
pub(crate) fn read_blocks<'a>(
    text: &'a str,
    frame: &Frame<'a>,
    place: &Place,
) -> Result<Body<'a>, ReadError> {
    let form = RowForm::of(frame);
    let bytes = text.as_bytes();
    let mut reader = BlockReader::new(text, frame, place);
    let mut at = frame.body_offset;
    let mut line_number = frame.header.len() + 1;
    while at < bytes.len() {
        if reader.pending.is_empty() {
            let columns = &mut reader.current.columns;
            let next = if form.has_text {
                form.row_with_text(bytes, at, columns, &frame.is_text)
            } else if form.is_blank {
                form.row::<true>(bytes, at, columns)
            } else {
                form.row::<false>(bytes, at, columns)
            };
            if let Some(next) = next {
                reader.n_rows += 1;
                if reader.n_rows > reader.max_rows {
                    return Err(too_many_cells(place, reader.n_rows * frame.width()));
                }
                at = next;
                line_number += 1;
                continue;
            }
            for column in columns.iter_mut() {
                column.truncate(reader.n_rows - reader.n_rows_before);
            }
        }
        let mut lines = Lines::starting_at(text, at, line_number - 1);
        let Some(line) = lines.next() else { break };
        reader.careful_line(line)?;
        at = lines.offset();
        line_number += 1;
    }
    let is_unended = !text.ends_with(['\n', '\r', '\u{1a}']);
    reader.finish(is_unended.then_some(line_number - 1))
}

fn too_many_cells(place: &Place, found: usize) -> ReadError {
    ReadError::TooLarge { place: place.clone(), what: "cells", found, limit: MAX_CELLS }
}

/// How a plain line of numbers looks.
struct RowForm {
    delimiter: u8,
    mark: u8,
    is_blank: bool,
    has_text: bool,
}

impl RowForm {
    fn of(frame: &Frame<'_>) -> Self {
        Self {
            delimiter: frame.delimiter.byte().unwrap_or(b' '),
            mark: frame.decimal_mark.byte(),
            is_blank: frame.delimiter == Delimiter::Blank,
            has_text: frame.is_text.contains(&true),
        }
    }

    /// Reads one line that has exactly a number in every column; `None` (with columns in disorder) for any other.
    #[inline]
    fn row<const BLANK: bool>(&self, bytes: &[u8], start: usize, columns: &mut [Vec<f64>]) -> Option<usize> {
        let mut at = start;
        let mut is_first = true;
        for column in columns {
            if !is_first {
                at = self.after_delimiter::<BLANK>(bytes, at)?;
            }
            is_first = false;
            let (value, after) = self.number::<BLANK>(bytes, at)?;
            column.push(value);
            at = after;
        }
        self.after_line_end(bytes, at)
    }

    /// The same with text columns between the numbers.
    fn row_with_text(
        &self,
        bytes: &[u8],
        start: usize,
        columns: &mut [Vec<f64>],
        is_text: &[bool],
    ) -> Option<usize> {
        let mut at = start;
        let mut is_first = true;
        for (column, is_text) in columns.iter_mut().zip(is_text) {
            if !is_first {
                at = if self.is_blank {
                    self.after_delimiter::<true>(bytes, at)?
                } else {
                    self.after_delimiter::<false>(bytes, at)?
                };
            }
            is_first = false;
            if *is_text {
                at = self.text_end(bytes, at)?;
                column.push(f64::NAN);
            } else {
                let (value, after) = if self.is_blank {
                    self.number::<true>(bytes, at)?
                } else {
                    self.number::<false>(bytes, at)?
                };
                column.push(value);
                at = after;
            }
        }
        self.after_line_end(bytes, at)
    }

    #[expect(clippy::inline_always, reason = "returned through memory, the position would wait for it")]
    #[inline(always)]
    fn number<const BLANK: bool>(&self, bytes: &[u8], start: usize) -> Option<(f64, usize)> {
        let mut at = start;
        while let Some(&byte) = bytes.get(at)
            && (byte == b' ' || (BLANK && byte == b'\t'))
        {
            at += 1;
        }
        if bytes.get(at) == Some(&b'"') {
            let (value, after) = quick_number_at(bytes, at + 1, self.mark)?;
            return (bytes.get(after) == Some(&b'"')).then_some((value, after + 1));
        }
        quick_number_at(bytes, at, self.mark)
    }

    #[inline]
    fn after_delimiter<const BLANK: bool>(&self, bytes: &[u8], start: usize) -> Option<usize> {
        let mut at = start;
        if BLANK {
            // The blanks themselves are skipped before the number.
            return matches!(bytes.get(at)?, b' ' | b'\t').then_some(at + 1);
        }
        while bytes.get(at)? == &b' ' {
            at += 1;
        }
        (bytes.get(at)? == &self.delimiter).then_some(at + 1)
    }

    /// Past trailing blanks and delimiters and the line end.
    #[inline]
    fn after_line_end(&self, bytes: &[u8], start: usize) -> Option<usize> {
        let mut at = start;
        loop {
            match bytes.get(at) {
                None => return Some(at),
                Some(b'\n') => return Some(at + 1),
                Some(b'\r') => {
                    return Some(if bytes.get(at + 1) == Some(&b'\n') { at + 2 } else { at + 1 });
                }
                Some(&byte) if byte == b' ' || byte == b'\t' || byte == self.delimiter => at += 1,
                Some(_) => return None,
            }
        }
    }

    /// The end of an unquoted, non-empty text cell.
    fn text_end(&self, bytes: &[u8], start: usize) -> Option<usize> {
        let rest = bytes.get(start..)?;
        let end = rest.iter().position(|&byte| {
            byte == self.delimiter || (self.is_blank && byte == b'\t') || byte == b'\n' || byte == b'\r'
        });
        let end = end.unwrap_or(rest.len());
        let cell = rest.get(..end)?;
        let is_plain = !cell.contains(&b'"') && cell.iter().any(|byte| !byte.is_ascii_whitespace());
        is_plain.then_some(start + end)
    }
}

struct BlockReader<'a, 'f> {
    frame: &'f Frame<'a>,
    place: &'f Place,
    max_rows: usize,
    n_rows: usize,
    n_rows_before: usize,
    current: Block<'a>,
    done: Vec<Block<'a>>,
    /// Lines since the last number; while there are any, the next line is looked at carefully.
    pending: Vec<Line<'a>>,
    has_header_again: bool,
}

impl<'a, 'f> BlockReader<'a, 'f> {
    fn new(text: &str, frame: &'f Frame<'a>, place: &'f Place) -> Self {
        let width = frame.width().max(1);
        let max_rows = MAX_CELLS / width;
        let body = text.get(frame.body_offset..).unwrap_or_default();
        // As many rows as there would be if all lines were as long as the first ones.
        let start = body.as_bytes().get(..body.len().min(4096)).unwrap_or(body.as_bytes());
        let n_lines = memchr::memchr_iter(b'\n', start).count().max(1);
        let n_rows = (body.len() / (start.len() / n_lines).max(1)).min(max_rows);
        let columns = (0..width).map(|_| Vec::with_capacity(n_rows + n_rows / 16 + 1)).collect();
        let current = Block {
            columns,
            runs: vec![(0, frame.header.len() + 1)],
            before: Vec::new(),
            has_header_again: false,
            has_gaps: frame.is_text.contains(&true),
        };
        Self {
            frame,
            place,
            max_rows,
            n_rows: 0,
            n_rows_before: 0,
            current,
            done: Vec::new(),
            pending: Vec::new(),
            has_header_again: false,
        }
    }

    fn careful_line(&mut self, line: Line<'a>) -> Result<(), ReadError> {
        if line.is_blank() || self.is_header_again(&line) {
            self.pending.push(line);
            return Ok(());
        }
        let mark = self.frame.decimal_mark.byte();
        let cells = cells_of(line.text, self.frame.delimiter);
        let kinds: Vec<Cell> = cells.iter().map(|cell| cell_from_text(cell, mark)).collect();
        let n_numbers = kinds.iter().filter(|kind| matches!(kind, Cell::Number(_))).count();
        let wrong = kinds.iter().enumerate().position(|(column, kind)| {
            *kind == Cell::Text && !self.frame.is_text.get(column).copied().unwrap_or(false)
        });
        if wrong.is_none() && n_numbers > 0 {
            return self.data_line(line, &kinds);
        }
        if self.is_line_between(&line, cells.first().copied().unwrap_or_default(), &kinds, n_numbers) {
            self.pending.push(line);
            return Ok(());
        }
        let column = wrong.unwrap_or(0);
        let cell = cells.get(column).copied().unwrap_or_default();
        let place = self.at(&line, column + 1, cell);
        if !line.has_end {
            let (found, expected) = (cells.len(), self.frame.width());
            return Err(ReadError::CutOff { place, found, expected });
        }
        if has_grouped_digits(cell) {
            return Err(ReadError::ThousandsSeparator { place });
        }
        Err(ReadError::not_a_number(place, self.frame.decimal_mark))
    }

    fn at(&self, line: &Line<'_>, column: usize, text: &str) -> Place {
        let text = shortened(text);
        Place { line: line.number, column, text, ..self.place.clone() }
    }

    fn is_header_again(&mut self, line: &Line<'a>) -> bool {
        let again =
            !line.is_blank() && self.frame.header.iter().any(|header| header.text.trim() == line.text.trim());
        self.has_header_again |= again;
        again
    }

    /// Comments, settings, titles: what may stand between scans or below the last one.
    fn is_line_between(&self, line: &Line<'_>, first_cell: &str, kinds: &[Cell], n_numbers: usize) -> bool {
        let (text, is_comment) = without_comment_mark(line.text);
        let starts_with_letter = text.trim_start_matches('"').starts_with(char::is_alphabetic);
        let is_setting = is_explicit_setting(line);
        // `Scan 2` is a title, `O.09 1.5` a broken line of numbers.
        let width = self.frame.width();
        let first_has_digits =
            kinds.first() == Some(&Cell::Text) && first_cell.contains(|c: char| c.is_ascii_digit());
        let starts_with_text = kinds.first() == Some(&Cell::Text)
            && starts_with_letter
            && !(kinds.len() == width && first_has_digits);
        // `#5E-3,1.5`: all but the first cell are numbers, and that one has digits too.
        let is_broken = first_has_digits && kinds.len() == width && n_numbers + 1 == width;
        // The header again, run together with the line below it.
        let is_header_and_more = self
            .frame
            .header
            .iter()
            .any(|header| !header.is_blank() && line.text.trim().starts_with(header.text.trim()));
        let is_broken = is_broken || starts_like_numbers(line) || has_open_quote(line);
        if is_header_and_more || (!is_setting && is_broken) {
            return false;
        }
        let has_no_number = n_numbers == 0 && kinds.len() < self.frame.width().max(2);
        is_comment
            || is_setting
            || (has_no_number && starts_with_letter)
            || (!self.pending.is_empty() && (starts_with_text || n_numbers == 0))
    }

    fn data_line(&mut self, line: Line<'a>, kinds: &[Cell]) -> Result<(), ReadError> {
        let width = self.frame.width();
        if kinds.len() > width {
            let cell = cells_of(line.text, self.frame.delimiter);
            let place = self.at(&line, width + 1, cell.get(width).copied().unwrap_or_default());
            return Err(ReadError::ExtraCell { place, found: kinds.len(), expected: width });
        }
        self.begin_block_if_needed(&line)?;
        if !line.has_end && kinds.len() < width && !self.is_short_like_the_last(&line, kinds.len()) {
            let place = self.at(&line, 0, line.text);
            return Err(ReadError::CutOff { place, found: kinds.len(), expected: width });
        }
        let is_full = kinds.len() == width && kinds.iter().all(|kind| matches!(kind, Cell::Number(_)));
        self.current.has_gaps |= !is_full;
        for (index, column) in self.current.columns.iter_mut().enumerate() {
            column.push(match kinds.get(index) {
                Some(Cell::Number(value)) => *value,
                Some(Cell::Overload | Cell::Text) => f64::NAN,
                Some(Cell::Empty) | None => f64::from_bits(EMPTY_BITS),
            });
        }
        self.n_rows += 1;
        if self.n_rows > self.max_rows {
            return Err(too_many_cells(self.place, self.n_rows * width));
        }
        Ok(())
    }

    /// A short last line is no cut where its delimiters are all there, or where the line above is as short.
    fn is_short_like_the_last(&self, line: &Line<'_>, n_cells: usize) -> bool {
        let delimiter = RowForm::of(self.frame).delimiter;
        let n_delimiters = line.text.bytes().filter(|byte| *byte == delimiter).count();
        let has_all = self.frame.delimiter != Delimiter::Blank && n_delimiters + 1 >= self.frame.width();
        let was_short = self
            .current
            .columns
            .get(n_cells)
            .and_then(|column| column.last())
            .is_some_and(|&value| is_empty_cell(value));
        has_all || (was_short && n_cells >= 2)
    }

    fn begin_block_if_needed(&mut self, line: &Line<'a>) -> Result<(), ReadError> {
        if self.pending.is_empty() {
            return Ok(());
        }
        let n_rows_here = self.n_rows - self.n_rows_before;
        if n_rows_here > 0 {
            let parts_scans = self.has_header_again
                || self.pending.iter().any(|line| {
                    line.is_blank() || without_comment_mark(line.text).1 || is_explicit_setting(line)
                });
            if let (false, Some(first)) = (parts_scans, self.pending.first()) {
                let place = self.at(first, 0, first.text);
                return Err(ReadError::TextAmongNumbers { place });
            }
        }
        let fresh = Block {
            columns: vec![Vec::new(); self.frame.width()],
            runs: vec![(0, line.number)],
            before: std::mem::take(&mut self.pending),
            has_header_again: std::mem::take(&mut self.has_header_again),
            has_gaps: self.frame.is_text.contains(&true),
        };
        let finished = std::mem::replace(&mut self.current, fresh);
        if n_rows_here > 0 {
            self.done.push(finished);
        }
        self.n_rows_before = self.n_rows;
        Ok(())
    }

    fn finish(mut self, unended_line: Option<usize>) -> Result<Body<'a>, ReadError> {
        if self.n_rows == self.n_rows_before && self.done.is_empty() {
            return Err(ReadError::HeaderOnly { place: self.place.clone() });
        }
        self.done.push(self.current);
        Ok(Body { blocks: self.done, footer: self.pending, unended_line })
    }
}

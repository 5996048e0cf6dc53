//! Which delimiter and decimal mark a text has, where its numbers begin, and how wide its lines are.

use crate::cells::{Cell, Line, Lines, cell_from_text, cells_of, each_cell, has_grouped_digits};
use crate::error::{Place, ReadError, shortened};
use crate::number::number_at;
use crate::pin::{DecimalMark, Delimiter, ReadingPin};
use crate::read::MAX_HEADER_LINES;
use crate::settings::{has_open_quote, starts_like_numbers};

/// How many lines of numbers are looked at to infer a dialect.
const SAMPLE_LINES: usize = 200;

/// The frame of the numbers in a text.
#[derive(Debug)]
pub(crate) struct Frame<'a> {
    pub(crate) delimiter: Delimiter,
    pub(crate) decimal_mark: DecimalMark,
    /// The lines before the first line of numbers.
    pub(crate) header: Vec<Line<'a>>,
    /// Where the first line of numbers starts.
    pub(crate) body_offset: usize,
    /// One entry a column: whether it holds text instead of numbers.
    pub(crate) is_text: Vec<bool>,
    /// Whether any number looked at has a decimal mark.
    pub(crate) has_marks: bool,
}

impl Frame<'_> {
    pub(crate) fn width(&self) -> usize {
        self.is_text.len()
    }
}

struct SampleLine<'a> {
    line: Line<'a>,
    offset: usize,
}

struct Candidate {
    delimiter: Delimiter,
    decimal_mark: DecimalMark,
    is_text: Vec<bool>,
    n_data_lines: usize,
    /// Index of the first data line in the sample.
    start: usize,
    /// Whether any number in the sample has a decimal mark.
    has_marks: bool,
}

/// Finds the frame, from the pin where it answers, else from the text.
pub(crate) fn frame<'a>(text: &'a str, place: &Place, pin: &ReadingPin) -> Result<Frame<'a>, ReadError> {
    let (sample, mut profiles) = sample(text, pin);
    let candidates: Vec<Candidate> = dialects(pin)
        .filter_map(|(delimiter, mark)| candidate(&sample, delimiter, mark, pin, profiles.take()))
        .collect();
    let Some(chosen) = choose(candidates, place)? else {
        return Err(nothing_found(&sample, place));
    };
    let start = sample.get(chosen.start);
    let body_offset = start.map_or(text.len(), |line| line.offset);
    let header: Vec<Line<'a>> =
        sample.iter().take(chosen.start).map(|sample_line| sample_line.line).collect();
    let frame = Frame {
        delimiter: chosen.delimiter,
        decimal_mark: chosen.decimal_mark,
        header,
        body_offset,
        is_text: chosen.is_text,
        has_marks: chosen.has_marks,
    };
    // Between semicolons a point may be the grouping of those who write a decimal comma.
    let may_group = frame.decimal_mark == DecimalMark::Comma || frame.delimiter == Delimiter::Semicolon;
    if pin.decimal_mark.is_none() && may_group {
        refuse_groups_of_three(text, &frame, place)?;
    }
    Ok(frame)
}

fn dialects(pin: &ReadingPin) -> impl Iterator<Item = (Delimiter, DecimalMark)> {
    const ALL: [Delimiter; 4] = [Delimiter::Tab, Delimiter::Semicolon, Delimiter::Comma, Delimiter::Blank];
    let (delimiter, mark) = (pin.delimiter, pin.decimal_mark);
    ALL.into_iter()
        .filter(move |candidate| delimiter.is_none_or(|pinned| pinned == *candidate))
        .flat_map(|delimiter| [DecimalMark::Point, DecimalMark::Comma].map(|mark| (delimiter, mark)))
        .filter(move |(_, candidate)| mark.is_none_or(|pinned| pinned == *candidate))
}

/// The first lines of the text, until enough of them have at least two numbers in some dialect; and what their cells are,
/// where there is one dialect only.
fn sample<'a>(text: &'a str, pin: &ReadingPin) -> (Vec<SampleLine<'a>>, Option<Profiles>) {
    let skipped = pin.header_lines.unwrap_or(0);
    let limit = skipped.max(MAX_HEADER_LINES) + SAMPLE_LINES;
    let mut possible = dialects(pin);
    let only = possible.next().filter(|_| possible.next().is_none());
    let mut sample = Vec::new();
    let mut lines = Lines::new(text);
    let mut n_with_numbers = 0;
    let mut profiles = Profiles::default();
    loop {
        let offset = lines.offset();
        let Some(line) = lines.next() else { break };
        let may_have_numbers = if let Some((delimiter, mark)) = only {
            has_two(profiles.add(&line, delimiter, mark, skipped))
        } else {
            line.number > skipped
                && line.text.bytes().any(|byte| byte.is_ascii_digit())
                && dialects(pin).any(|(delimiter, mark)| {
                    has_cells(line.text, delimiter) && {
                        profiles.clear();
                        has_two(profiles.add(&line, delimiter, mark, skipped))
                    }
                })
        };
        sample.push(SampleLine { line, offset });
        n_with_numbers += usize::from(may_have_numbers);
        if n_with_numbers >= SAMPLE_LINES || sample.len() >= limit {
            break;
        }
    }
    (sample, only.map(|_| profiles))
}

/// Whether a line can have two cells in this dialect at all.
fn has_cells(line: &str, delimiter: Delimiter) -> bool {
    match delimiter {
        Delimiter::Blank => line.bytes().any(|byte| byte.is_ascii_whitespace()),
        Delimiter::Comma => memchr::memchr(b',', line.as_bytes()).is_some(),
        Delimiter::Semicolon => memchr::memchr(b';', line.as_bytes()).is_some(),
        Delimiter::Tab => memchr::memchr(b'\t', line.as_bytes()).is_some(),
    }
}

/// Appends what the cells of a line are.
fn profile(line: &str, delimiter: Delimiter, mark: DecimalMark, cells: &mut Vec<Cell>) {
    let start = cells.len();
    if only_numbers(line.as_bytes(), delimiter, mark.byte(), cells) {
        return;
    }
    cells.truncate(start);
    each_cell(line, delimiter, |cell| cells.push(cell_from_text(cell, mark.byte())));
    // Empty cells at the end are no cells.
    while cells.len() > start && cells.last() == Some(&Cell::Empty) {
        cells.pop();
    }
}

/// Appends the numbers of a line that holds nothing else, with a delimiter between them: the usual line, read without
/// cutting it into cells. Else it is to be read the careful way.
fn only_numbers(line: &[u8], delimiter: Delimiter, mark: u8, cells: &mut Vec<Cell>) -> bool {
    let Some(delimiter) = delimiter.byte().filter(|delimiter| *delimiter != mark) else { return false };
    let mut at = 0;
    loop {
        let Some((value, end)) = number_at(line, at, mark) else { return false };
        cells.push(Cell::Number(value));
        match line.get(end) {
            None => return true,
            Some(byte) if *byte == delimiter => at = end + 1,
            Some(_) => return false,
        }
    }
}

/// What the cells of every line are, one line after the other.
#[derive(Default)]
struct Profiles {
    cells: Vec<Cell>,
    /// Where each line ends.
    ends: Vec<usize>,
}

impl Profiles {
    fn of(sample: &[SampleLine<'_>], delimiter: Delimiter, mark: DecimalMark, skipped: usize) -> Self {
        let mut profiles =
            Self { cells: Vec::with_capacity(4 * sample.len()), ends: Vec::with_capacity(sample.len()) };
        for SampleLine { line, .. } in sample {
            profiles.add(line, delimiter, mark, skipped);
        }
        profiles
    }

    /// Adds a line, and gives its cells; a line of the header that is skipped has none.
    fn add(&mut self, line: &Line<'_>, delimiter: Delimiter, mark: DecimalMark, skipped: usize) -> &[Cell] {
        let start = self.cells.len();
        if line.number > skipped {
            profile(line.text, delimiter, mark, &mut self.cells);
        }
        self.ends.push(self.cells.len());
        self.cells.get(start..).unwrap_or_default()
    }

    fn clear(&mut self) {
        self.cells.clear();
        self.ends.clear();
    }

    fn iter(&self) -> impl Iterator<Item = &[Cell]> + Clone {
        let starts = [0].into_iter().chain(self.ends.iter().copied());
        starts.zip(&self.ends).map(|(start, end)| self.cells.get(start..*end).unwrap_or_default())
    }
}

fn has_two(cells: &[Cell]) -> bool {
    let (n_numbers, n_marks) = counts(cells);
    n_numbers >= 1 && n_numbers + n_marks >= 2
}

fn counts(cells: &[Cell]) -> (usize, usize) {
    let n_numbers = cells.iter().filter(|cell| matches!(cell, Cell::Number(_))).count();
    let n_marks = cells.iter().filter(|cell| matches!(cell, Cell::Overload)).count();
    (n_numbers, n_marks)
}

/// How well one dialect reads the sample, with the profiles that are known already; `None` where it finds no line with two numbers.
fn candidate(
    sample: &[SampleLine<'_>],
    delimiter: Delimiter,
    decimal_mark: DecimalMark,
    pin: &ReadingPin,
    known: Option<Profiles>,
) -> Option<Candidate> {
    let skipped = pin.header_lines.unwrap_or(0);
    let may_have_two = |line: &Line<'_>| {
        line.number > skipped
            && has_cells(line.text, delimiter)
            && line.text.bytes().any(|byte| byte.is_ascii_digit())
    };
    if !sample.iter().any(|sample_line| may_have_two(&sample_line.line)) {
        return None;
    }
    let profiles = known.unwrap_or_else(|| Profiles::of(sample, delimiter, decimal_mark, skipped));
    let usual_width = most_frequent(profiles.iter().filter(|cells| has_two(cells)).map(<[Cell]>::len))?;
    let mut is_text = text_columns(&profiles, usual_width);
    let fits = |cells: &[Cell], is_text: &[bool]| {
        has_two(cells)
            && cells
                .iter()
                .enumerate()
                .all(|(column, cell)| is_text.get(column).copied().unwrap_or(false) || *cell != Cell::Text)
    };
    let n_data_lines = profiles.iter().filter(|cells| fits(cells, &is_text)).count();
    let start = match pin.header_lines {
        Some(n_lines) => n_lines,
        None => first_data_line(sample, &profiles, |cells| fits(cells, &is_text))?,
    };
    // Shorter scans end earlier, so the first line of numbers is a full one.
    let first_full = profiles.iter().skip(start).find(|cells| fits(cells, &is_text))?;
    is_text.resize(first_full.len(), false);
    let mark = decimal_mark.byte();
    let has_marks = sample.iter().zip(profiles.iter()).filter(|(_, cells)| fits(cells, &is_text)).any(
        |(sample_line, _)| {
            let mut has_mark = false;
            each_cell(sample_line.line.text, delimiter, |cell| has_mark |= cell.as_bytes().contains(&mark));
            has_mark
        },
    );
    Some(Candidate { delimiter, decimal_mark, is_text, n_data_lines, start, has_marks })
}

/// The first line that fits. A line of numbers with words below it (a count of points above the names) belongs to the
/// header; one with a broken number below it does not, so that nothing broken is taken for a header.
fn first_data_line(
    sample: &[SampleLine<'_>],
    profiles: &Profiles,
    fits: impl Fn(&[Cell]) -> bool,
) -> Option<usize> {
    let written = sample.iter().zip(profiles.iter()).enumerate().filter(|(_, (_, cells))| !cells.is_empty());
    let next = written.clone().skip(1).map(Some).chain([None]);
    let mut starts = written.zip(next).filter(|((_, (_, cells)), next)| {
        let words_below = next.is_some_and(|(_, (below, cells))| {
            cells.iter().all(|cell| matches!(cell, Cell::Text | Cell::Empty))
                && !starts_like_numbers(&below.line)
                && !has_open_quote(&below.line)
        });
        fits(cells) && !words_below
    });
    starts.next().map(|((index, _), _)| index)
}

fn most_frequent(widths: impl Iterator<Item = usize>) -> Option<usize> {
    let mut tally: std::collections::BTreeMap<usize, usize> = std::collections::BTreeMap::new();
    for width in widths {
        *tally.entry(width).or_default() += 1;
    }
    tally.into_iter().max_by_key(|&(width, count)| (count, width)).map(|(width, _)| width)
}

/// Columns that hold text in most of the lines of the usual width.
fn text_columns(profiles: &Profiles, width: usize) -> Vec<bool> {
    let mut n_text = vec![0_usize; width];
    let mut n_lines = 0_usize;
    for cells in profiles.iter().filter(|cells| cells.len() == width && counts(cells).0 > 1) {
        n_lines += 1;
        for (count, cell) in n_text.iter_mut().zip(cells) {
            *count += usize::from(*cell == Cell::Text);
        }
    }
    n_text.iter().map(|&count| count * 2 > n_lines).collect()
}

/// The one dialect that reads the sample, or the two that both do.
fn choose(mut candidates: Vec<Candidate>, place: &Place) -> Result<Option<Candidate>, ReadError> {
    let most = candidates.iter().map(|c| c.n_data_lines).max().unwrap_or(0);
    candidates.retain(|c| c.n_data_lines * 10 >= most * 8);
    let is_pure = |c: &Candidate| c.is_text.iter().all(|is_text| !is_text);
    if candidates.iter().any(is_pure) {
        candidates.retain(is_pure);
    }
    let has_tab = candidates.iter().any(|c| c.delimiter == Delimiter::Tab);
    candidates.retain(|c| !(has_tab && c.delimiter == Delimiter::Blank));
    // Without any decimal mark in the numbers both marks read the same.
    let has_plain_point: Vec<Delimiter> = candidates
        .iter()
        .filter(|c| c.decimal_mark == DecimalMark::Point && !c.has_marks)
        .map(|c| c.delimiter)
        .collect();
    candidates.retain(|c| {
        c.decimal_mark == DecimalMark::Point || c.has_marks || !has_plain_point.contains(&c.delimiter)
    });
    let mut candidates = candidates.into_iter();
    let (first, second) = (candidates.next(), candidates.next());
    match (first, second) {
        (Some(first), Some(second)) => {
            let same_delimiter = first.delimiter == second.delimiter;
            Err(ReadError::Ambiguous {
                place: place.clone(),
                first: in_words(&first),
                second: in_words(&second),
                key: if same_delimiter { "decimal_mark" } else { "delimiter" },
            })
        }
        (first, _) => Ok(first),
    }
}

fn in_words(candidate: &Candidate) -> String {
    format!(
        "{} columns parted by {} with decimal {}",
        candidate.is_text.len(),
        candidate.delimiter.plural(),
        candidate.decimal_mark.word()
    )
}

fn nothing_found(sample: &[SampleLine<'_>], place: &Place) -> ReadError {
    for SampleLine { line, .. } in sample {
        for delimiter in [Delimiter::Tab, Delimiter::Semicolon, Delimiter::Comma] {
            let cells = cells_of(line.text, delimiter);
            let grouped = cells.iter().position(|cell| has_grouped_digits(cell));
            if let (Some(index), true) = (grouped, cells.len() >= 2) {
                let text = cells.get(index).map_or(Box::default(), |cell| shortened(cell));
                let place = Place { line: line.number, column: index + 1, text, ..place.clone() };
                return ReadError::ThousandsSeparator { place };
            }
        }
    }
    let like_numbers = sample.iter().find(|sample_line| starts_like_numbers(&sample_line.line));
    let names = sample.iter().any(|line| crate::roles::names_a_column(line.line.text));
    if names && like_numbers.is_none() {
        return ReadError::HeaderOnly { place: place.clone() };
    }
    let first = like_numbers.or_else(|| sample.iter().find(|sample_line| !sample_line.line.is_blank()));
    let text = first.map_or(Box::default(), |sample_line| shortened(sample_line.line.text));
    let line = first.map_or(0, |sample_line| sample_line.line.number);
    ReadError::NoNumbers {
        place: Place { line, text, ..place.clone() },
        lines_looked_at: sample.len(),
        cure: "Accepted: lines of a potential and a current parted by comma, semicolon, tab or blanks; \
               a longer header needs header_lines in [reading]",
    }
}

/// `1,234` (or `1.234`) everywhere may be 1.234 or 1234: one cell that can only be a decimal settles it.
fn refuse_groups_of_three(text: &str, frame: &Frame<'_>, place: &Place) -> Result<(), ReadError> {
    let mut seen: Option<Place> = None;
    let mark = frame.decimal_mark.byte();
    for line in Lines::starting_at(text, frame.body_offset, frame.header.len()) {
        for (index, cell) in cells_of(line.text, frame.delimiter).iter().enumerate() {
            let unsigned = cell.trim_start_matches(['-', '+', '\u{2212}', '\u{2013}']);
            let Some((whole, decimals)) = unsigned.split_once(char::from(mark)) else { continue };
            let all_digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
            let is_group = (1..=3).contains(&whole.len())
                && !whole.starts_with('0')
                && decimals.len() == 3
                && all_digits(whole)
                && all_digits(decimals);
            if !is_group && cell_from_text(cell, mark) != Cell::Text {
                return Ok(());
            }
            if is_group && seen.is_none() {
                let (text, column) = (shortened(cell), index + 1);
                seen = Some(Place { line: line.number, column, text, ..place.clone() });
            }
        }
    }
    match seen {
        None => Ok(()),
        Some(place) => Err(ReadError::Ambiguous {
            first: format!("\"{}\" with a decimal {}", place.text, frame.decimal_mark.word()),
            second: format!("\"{}\" as digits in groups of three", place.text),
            place,
            key: "decimal_mark",
        }),
    }
}

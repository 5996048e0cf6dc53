//! The text of a run sheet cut into cells, each with its exact place.
//!
//! Cells are separated by comma, semicolon or tab (whichever the header line uses) and may stand in
//! double quotes (RFC 4180). With semicolon or tab a decimal comma is understood.

use std::collections::BTreeMap;

use crate::problem::{Place, Problem, nearest, shortened};

/// One cell: its text and where it begins.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cell {
    pub(crate) text: String,
    pub(crate) line: usize,
    pub(crate) column: usize,
}

impl Cell {
    pub(crate) fn place(&self, file: &str) -> Place {
        Place { file: file.to_owned(), line: self.line, column: self.column, text: shortened(&self.text) }
    }
}

/// Where each known column stands; `first_line` is offered where a name is like none of them.
pub(crate) fn columns_by_name(
    file: &str,
    header: &[Cell],
    known: &[&'static str],
    first_line: &str,
    problems: &mut Vec<Problem>,
) -> BTreeMap<&'static str, usize> {
    let mut columns = BTreeMap::new();
    for (index, cell) in header.iter().enumerate().filter(|(_, cell)| !cell.text.is_empty()) {
        let Some(name) = known.iter().find(|name| **name == cell.text) else {
            let cure = nearest(&cell.text, known)
                .map_or_else(|| first_line.to_owned(), |hint| format!("did you mean `{hint}`?"));
            problems.push(Problem::new(cell.place(file), format!("unknown column `{}`", cell.text), cure));
            continue;
        };
        if columns.insert(*name, index).is_some() {
            let found = format!("column `{name}` stands twice");
            problems.push(Problem::new(cell.place(file), found, "keep one of them"));
        }
    }
    columns
}

/// The delimiter that the header line uses: the one that cuts it into most cells.
pub(crate) fn delimiter_of(text: &str) -> char {
    let header = text.lines().find(|line| !is_skipped(line)).unwrap_or("");
    let mut best = (1, ',');
    for candidate in [',', ';', '\t'] {
        let cells = header.matches(candidate).count() + 1;
        if cells > best.0 {
            best = (cells, candidate);
        }
    }
    best.1
}

fn is_skipped(line: &str) -> bool {
    line.trim().is_empty() || line.trim_start().starts_with('#')
}

/// The lines of the sheet, cut into trimmed cells; blank lines and lines that begin with `#` are left out.
///
/// A quote that is never closed ends with the file; the cell then says so by its text.
pub(crate) fn cut(text: &str, delimiter: char) -> Vec<Vec<Cell>> {
    // Quotes and lone carriage returns are rare.
    let is_plain = !text.contains('"') && text.matches('\r').count() == text.matches("\r\n").count();
    if is_plain { cut_plain(text, delimiter) } else { cut_character_by_character(text, delimiter) }
}

/// A text without quotes: every line end ends a line, every delimiter a cell.
fn cut_plain(text: &str, delimiter: char) -> Vec<Vec<Cell>> {
    let mut rows = Vec::new();
    let mut n_cells = 0;
    for (line, written) in (1..).zip(text.split('\n')) {
        let written = written.strip_suffix('\r').unwrap_or(written);
        if written.starts_with('#') || written.trim().is_empty() {
            continue;
        }
        let mut row = Vec::with_capacity(n_cells);
        let mut column = 1;
        for cell in written.split(delimiter) {
            let behind_blanks = cell.trim_start();
            let n_blanks = cell.chars().count() - behind_blanks.chars().count();
            row.push(Cell { text: behind_blanks.trim_end().to_owned(), line, column: column + n_blanks });
            column += cell.chars().count() + 1;
        }
        n_cells = row.len();
        if row.iter().any(|cell| !cell.text.is_empty()) {
            rows.push(row);
        }
    }
    rows
}

fn cut_character_by_character(text: &str, delimiter: char) -> Vec<Vec<Cell>> {
    let mut rows = Vec::new();
    let mut cutter = Cutter { line: 1, column: 1, row: Vec::new(), cell: None, quoted: false, closed: false };
    let mut characters = text.chars().peekable();
    let mut line_start = true;
    while let Some(c) = characters.next() {
        if line_start && !cutter.quoted && c == '#' {
            while characters.next_if(|next| *next != '\n').is_some() {}
            continue;
        }
        line_start = c == '\n' && !cutter.quoted;
        if cutter.quoted && c == '"' && characters.peek() == Some(&'"') {
            characters.next();
            cutter.push('"', 2);
        } else {
            cutter.take(c, delimiter, &mut rows);
        }
    }
    cutter.end_row(&mut rows);
    rows
}

struct Cutter {
    line: usize,
    column: usize,
    row: Vec<Cell>,
    cell: Option<Cell>,
    quoted: bool,
    closed: bool,
}

impl Cutter {
    fn take(&mut self, c: char, delimiter: char, rows: &mut Vec<Vec<Cell>>) {
        match c {
            '"' if self.quoted => {
                self.quoted = false;
                self.closed = true;
                self.column += 1;
            }
            '"' if self.cell.as_ref().is_none_or(|cell| cell.text.trim().is_empty()) && !self.closed => {
                self.quoted = true;
                self.cell = Some(Cell { text: String::new(), line: self.line, column: self.column });
                self.column += 1;
            }
            _ if self.quoted => self.push(c, 1),
            '\n' => self.end_row(rows),
            '\r' => {}
            _ if c == delimiter => self.end_cell(),
            _ => self.push(c, 1),
        }
    }

    fn push(&mut self, c: char, width: usize) {
        let (line, column) = (self.line, self.column);
        self.cell.get_or_insert_with(|| Cell { text: String::new(), line, column }).text.push(c);
        if c == '\n' {
            self.line += 1;
            self.column = 1;
        } else {
            self.column += width;
        }
    }

    fn end_cell(&mut self) {
        let (line, column) = (self.line, self.column);
        let mut cell = self.cell.take().unwrap_or(Cell { text: String::new(), line, column });
        cell.column += cell.text.chars().take_while(|c| c.is_whitespace()).count();
        cell.text = String::from(cell.text.trim());
        self.row.push(cell);
        self.column += 1;
        self.closed = false;
        self.quoted = false;
    }

    fn end_row(&mut self, rows: &mut Vec<Vec<Cell>>) {
        self.end_cell();
        let row = std::mem::take(&mut self.row);
        if row.iter().any(|cell| !cell.text.is_empty()) {
            rows.push(row);
        }
        self.line += 1;
        self.column = 1;
    }
}

/// A run sheet as a table of words, for whoever lets a person tidy it: nothing is judged here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetCells {
    /// Between two cells: comma, semicolon or tab. With the latter two a decimal comma is understood.
    pub delimiter: char,
    /// The columns by name.
    pub header: Vec<String>,
    /// The rows, each with one cell for every column.
    pub rows: Vec<Vec<String>>,
}

impl SheetCells {
    /// Cuts a run sheet. Blank lines and lines that begin with `#` are left out, short rows filled up with nothing.
    ///
    /// # Example
    /// ```
    /// use stillwell_method::SheetCells;
    /// let cells = SheetCells::of("file,scan,note\nw.csv,1,\"a, b\"\n");
    /// assert_eq!(cells.rows, [["w.csv", "1", "a, b"]]);
    /// assert_eq!(SheetCells::of(&cells.text()), cells);
    /// ```
    pub fn of(text: &str) -> Self {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let delimiter = delimiter_of(text);
        let mut all = cut(text, delimiter).into_iter();
        let words = |row: Vec<Cell>| row.into_iter().map(|cell| cell.text).collect::<Vec<_>>();
        let header = all.next().map(words).unwrap_or_default();
        let rows = all.map(|row| {
            let mut row = words(row);
            row.resize(row.len().max(header.len()), String::new());
            row
        });
        Self { delimiter, rows: rows.collect(), header }
    }

    /// The run sheet's text: the header in line 1, row `n` (from 0) in line `n + 2`.
    pub fn text(&self) -> String {
        let mut text = String::new();
        for row in std::iter::once(&self.header).chain(&self.rows) {
            for (place, cell) in row.iter().enumerate() {
                if place > 0 {
                    text.push(self.delimiter);
                }
                text.push_str(&self.written(cell, place == 0));
            }
            text.push('\n');
        }
        text
    }

    /// One line, in quotes where it must be: a line break in a cell would move all the rows behind it.
    fn written(&self, cell: &str, is_first: bool) -> String {
        let cell: String = cell.chars().map(|c| if c == '\n' || c == '\r' { ' ' } else { c }).collect();
        let needs_quotes = cell.contains([self.delimiter, '"']) || (is_first && cell.starts_with('#'));
        if needs_quotes { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_comes_back_from_its_cells() {
        for text in [
            "file,scan\n\"a,b.csv\",1\n",
            "file;scan;level\na.csv;1;2,5\n",
            "file\tscan\n\"#x\"\t\"1\"\"2\"\n",
        ] {
            let cells = SheetCells::of(text);
            assert_eq!(SheetCells::of(&cells.text()), cells, "{text}");
        }
        let broken =
            SheetCells { delimiter: ',', header: vec!["file".into()], rows: vec![vec!["a\nb".into()]] };
        assert_eq!(broken.text(), "file\na b\n");
    }

    fn texts(text: &str) -> Vec<Vec<String>> {
        cut(text, delimiter_of(text))
            .into_iter()
            .map(|row| row.into_iter().map(|cell| cell.text).collect())
            .collect()
    }

    #[test]
    fn cells_keep_their_place_behind_comments_and_quotes() {
        let text = "# a comment, with a comma\nfile,note\nw.csv, \"a, \"\"quoted\"\" b\"\n\nx.csv,\n";
        assert_eq!(texts(text), [vec!["file", "note"], vec!["w.csv", "a, \"quoted\" b"], vec!["x.csv", ""]]);
        let rows = cut(text, ',');
        assert_eq!((rows[1][0].line, rows[1][0].column), (3, 1));
        assert_eq!((rows[2][0].line, rows[2][0].column), (5, 1));
    }

    /// The quick way and the careful one agree wherever there are no quotes.
    #[test]
    fn both_ways_to_cut_agree() {
        let texts = [
            "file,note\n# a comment, with a comma\nw.csv,  µ a \n\n ,\nx.csv,\u{a0}b\u{a0},c,,\r\n #,d\r\n\r\n",
            "file;scan\n;\n\t;1\n#;2\nlast;3",
            "file\tscan\n \t1\nb\t \t\n",
            "",
            "\n\n",
            " ",
        ];
        for text in texts {
            let delimiter = delimiter_of(text);
            assert_eq!(cut_plain(text, delimiter), cut_character_by_character(text, delimiter), "{text:?}");
        }
        let lone = "a,b\rc,d\n";
        assert_eq!(cut(lone, ','), cut_character_by_character(lone, ','));
    }

    #[test]
    fn semicolons_and_tabs_are_told_from_the_header() {
        assert_eq!(delimiter_of("file;scan\na,b,c;1"), ';');
        assert_eq!(delimiter_of("file\tscan"), '\t');
        assert_eq!(texts("file;scan\r\nw.csv;1\r\n"), [["file", "scan"], ["w.csv", "1"]]);
    }

    #[test]
    fn a_quote_that_is_never_closed_ends_with_the_file() {
        assert_eq!(texts("file,note\nw.csv,\"open\n"), [vec!["file", "note"], vec!["w.csv", "open"]]);
    }
}

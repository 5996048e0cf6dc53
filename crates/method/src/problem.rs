//! What is wrong with something a person wrote: where it stands, what was found, what would be accepted.

use std::fmt;

/// A place in a text file: 1-based line and column, and the byte range it covers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// Name of the file as the user gave it.
    pub file: String,
    /// 1-based line.
    pub line: usize,
    /// 1-based column, counted in characters.
    pub column: usize,
    /// The offending text itself, shortened.
    pub text: String,
}

impl Place {
    /// The place that the byte range `start..end` of `source` covers.
    ///
    /// # Example
    /// ```
    /// let place = stillwell_method::Place::of_bytes("m.toml", "a = 1\nbee = 2\n", 6, 9);
    /// assert_eq!((place.line, place.column, place.text.as_str()), (2, 1, "bee"));
    /// ```
    pub fn of_bytes(file: &str, source: &str, start: usize, end: usize) -> Self {
        let before = source.get(..start).unwrap_or(source);
        let line = before.matches('\n').count() + 1;
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        let column = before.get(line_start..).map_or(0, |rest| rest.chars().count()) + 1;
        let text = source.get(start..end).unwrap_or("");
        Self { file: file.to_owned(), line, column, text: shortened(text) }
    }

    /// The whole file, where no single line is to blame.
    pub fn whole_file(file: &str) -> Self {
        Self { file: file.to_owned(), line: 0, column: 0, text: String::new() }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if self.line > 0 {
            write!(f, ":{}", self.line)?;
        }
        if self.line > 0 && self.column > 0 {
            write!(f, ":{}", self.column)?;
        }
        Ok(())
    }
}

/// One thing wrong with the input, with its cure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Where it stands.
    pub place: Place,
    /// What was found, in words.
    pub found: String,
    /// What would be accepted, or what to do.
    pub cure: String,
}

impl Problem {
    /// A problem at `place`.
    pub fn new(place: Place, found: impl Into<String>, cure: impl Into<String>) -> Self {
        Self { place, found: found.into(), cure: cure.into() }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.found)?;
        if !self.cure.is_empty() {
            write!(f, "\n  cure: {}", self.cure)?;
        }
        Ok(())
    }
}

/// Everything wrong with the input, reported at once. Never empty.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", listed(.problems))]
pub struct Problems {
    /// The problems in the order of the files.
    pub problems: Vec<Problem>,
}

impl Problems {
    /// `Ok(value)` when nothing was found wrong, otherwise all of it.
    pub(crate) fn or<T>(problems: Vec<Problem>, value: Option<T>) -> Result<T, Self> {
        match value {
            Some(value) if problems.is_empty() => Ok(value),
            _ => Err(Self { problems }),
        }
    }
}

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Self {
        Self { problems: vec![problem] }
    }
}

fn listed(problems: &[Problem]) -> String {
    problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

/// At most 60 characters of a stranger's text, control characters escaped.
pub(crate) fn shortened(text: &str) -> String {
    let mut out: String = text.chars().take(60).flat_map(escaped).collect();
    if text.chars().nth(60).is_some() {
        out.push('…');
    }
    out
}

fn escaped(c: char) -> Vec<char> {
    if c.is_control() { c.escape_default().collect() } else { vec![c] }
}

/// The known word nearest to `word`, if any is near enough to be meant.
pub fn nearest<'a>(word: &str, known: &[&'a str]) -> Option<&'a str> {
    known
        .iter()
        .map(|candidate| (strsim::damerau_levenshtein(&word.to_lowercase(), candidate), *candidate))
        .min()
        .filter(|(distance, candidate)| *distance <= 2.max(candidate.len() / 3))
        .map(|(_, candidate)| candidate)
}

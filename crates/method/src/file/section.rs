//! One table of a file that a person writes: typed keys with their place, and unknown keys named with the nearest known one.

use std::ops::Range;

use toml_edit::{Document, Item, TableLike, Value};

use crate::problem::{Place, Problem, Problems, nearest, shortened};

/// The text of a file and what has been found wrong with it so far.
#[derive(Debug)]
pub struct Reader<'a> {
    file_name: &'a str,
    source: &'a str,
    problems: Vec<Problem>,
}

impl<'a> Reader<'a> {
    /// Reads a whole file: `read` asks for every key; what it never asked for is unknown.
    ///
    /// # Errors
    /// Everything that is wrong, in the order of the file, each with its place and what would be accepted.
    ///
    /// # Example
    /// ```
    /// use stillwell_method::toml_file::{Bounds, Reader};
    /// let volume = |source| {
    ///     Reader::read("vial.toml", source, |reader, root| {
    ///         let mut vial = root.section(reader, "vial");
    ///         let volume_ml = vial.required_number(reader, "volume_ml", Bounds::POSITIVE);
    ///         vial.finish(reader);
    ///         volume_ml
    ///     })
    /// };
    /// assert_eq!(volume("[vial]\nvolume_ml = 20"), Ok(20.0));
    /// let problems = volume("[vial]\nvolume_ml = 20\nvolune_ml = 3").unwrap_err();
    /// assert!(problems.to_string().contains("did you mean `volume_ml`?"));
    /// ```
    pub fn read<T>(
        file_name: &'a str,
        source: &'a str,
        read: impl FnOnce(&mut Self, &mut Section<'_>) -> Option<T>,
    ) -> Result<T, Problems> {
        let document = Document::parse(source).map_err(|error| not_toml(file_name, source, &error))?;
        let mut reader = Self { file_name, source, problems: Vec::new() };
        let mut root = Section::root(document.as_table());
        let value = read(&mut reader, &mut root);
        root.finish(&mut reader);
        let mut problems = reader.problems;
        problems.sort_by_key(|problem| (problem.place.line, problem.place.column));
        Problems::or(problems, value)
    }

    /// The place of a stretch of the text, or the whole file.
    pub fn place(&self, span: Option<Range<usize>>) -> Place {
        span.map_or_else(
            || Place::whole_file(self.file_name),
            |span| Place::of_bytes(self.file_name, self.source, span.start, span.end),
        )
    }

    /// Whether anything has been found wrong so far.
    pub fn has_problems(&self) -> bool {
        !self.problems.is_empty()
    }

    /// Adds a problem at a stretch of the text.
    pub fn complain(
        &mut self,
        span: Option<Range<usize>>,
        found: impl Into<String>,
        cure: impl Into<String>,
    ) {
        let place = self.place(span);
        self.problems.push(Problem::new(place, found, cure));
    }
}

fn not_toml(file_name: &str, source: &str, error: &toml_edit::TomlError) -> Problem {
    let mut place = error.span().map_or_else(
        || Place::whole_file(file_name),
        |span| Place::of_bytes(file_name, source, span.start, span.end),
    );
    if place.text.trim().is_empty() {
        // A point between two characters says nothing by itself: its line is shown.
        let line = place.line.checked_sub(1).and_then(|above| source.lines().nth(above));
        place.text = shortened(line.unwrap_or("").trim());
    }
    Problem::new(place, format!("not TOML: {}", error.message()), "see https://toml.io for the syntax")
}

/// A table being read. Every key that is asked for becomes a known key.
pub struct Section<'t> {
    path: String,
    table: Option<&'t dyn TableLike>,
    span: Option<Range<usize>>,
    known: Vec<&'static str>,
}

impl<'t> Section<'t> {
    fn root(table: &'t dyn TableLike) -> Self {
        Self { path: String::new(), table: Some(table), span: None, known: Vec::new() }
    }

    /// The entry of an array of tables.
    fn entry(path: String, table: &'t dyn TableLike, span: Option<Range<usize>>) -> Self {
        Self { path, table: Some(table), span, known: Vec::new() }
    }

    /// The table itself; `None` when the file does not have it.
    pub fn table(&self) -> Option<&'t dyn TableLike> {
        self.table
    }

    /// Whether the file has this table.
    pub fn is_present(&self) -> bool {
        self.table.is_some()
    }

    /// Where it stands.
    pub fn span(&self) -> Option<Range<usize>> {
        self.span.clone()
    }

    fn item(&mut self, key: &'static str) -> Option<&'t Item> {
        if !self.known.contains(&key) {
            self.known.push(key);
        }
        self.table.and_then(|table| table.get(key))
    }

    fn full(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    /// Says that a key that must be there is not.
    pub fn missing(&self, reader: &mut Reader<'_>, key: &str, accepted: &str) {
        let found = format!("`{}` is missing", self.full(key));
        reader.complain(self.span.clone(), found, format!("add `{key} = {accepted}` under [{}]", self.path));
    }

    /// The table under `key`, or an absent one whose required keys will all be missed.
    #[must_use]
    pub fn section(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Section<'t> {
        let path = self.full(key);
        let item = self.item(key);
        let table = item.and_then(Item::as_table_like);
        if let (Some(item), None) = (item, table) {
            reader.complain(item.span(), format!("`{path}` is not a table"), format!("write [{path}]"));
        }
        Section { path, table, span: item.and_then(Item::span), known: Vec::new() }
    }

    /// The entries of the array of tables under `key`.
    pub fn entries(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Vec<Section<'t>> {
        let path = self.full(key);
        let Some(item) = self.item(key) else { return Vec::new() };
        let Some(array) = item.as_array_of_tables() else {
            reader.complain(
                item.span(),
                format!("`{path}` is not a list of tables"),
                format!("write [[{path}]] once for each entry"),
            );
            return Vec::new();
        };
        array.iter().map(|table| Section::entry(path.clone(), table, table.span())).collect()
    }

    /// A text, if given.
    pub fn text(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<String> {
        let item = self.item(key)?;
        match item.as_str() {
            Some(text) => Some(text.to_owned()),
            None => self.wrong(reader, key, item, "a text in quotes"),
        }
    }

    /// A text that must be there and not be blank.
    pub fn required_text(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<String> {
        match self.text(reader, key) {
            Some(text) if !text.trim().is_empty() => Some(text),
            Some(_) => {
                let item = self.table.and_then(|table| table.get(key))?;
                self.wrong(reader, key, item, "a text that is not blank")
            }
            None => {
                if self.table.and_then(|table| table.get(key)).is_none() {
                    self.missing(reader, key, "\"…\"");
                }
                None
            }
        }
    }

    /// A number within `accepted`, if given. Whole numbers are numbers.
    pub fn number(&mut self, reader: &mut Reader<'_>, key: &'static str, accepted: Bounds) -> Option<f64> {
        let item = self.item(key)?;
        match number_of(item.as_value()).filter(|value| accepted.hold(*value)) {
            Some(value) => Some(value),
            None => self.wrong(reader, key, item, accepted.words),
        }
    }

    /// A number that must be there.
    pub fn required_number(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
        accepted: Bounds,
    ) -> Option<f64> {
        let there = self.table.is_some_and(|table| table.contains_key(key));
        if !there {
            self.missing(reader, key, accepted.words);
        }
        self.number(reader, key, accepted)
    }

    /// A whole number from `low` to `high`, if given.
    pub fn count(&mut self, reader: &mut Reader<'_>, key: &'static str, low: u32, high: u32) -> Option<u32> {
        let item = self.item(key)?;
        let value = item.as_integer().and_then(|value| u32::try_from(value).ok());
        match value.filter(|value| (low..=high).contains(value)) {
            Some(value) => Some(value),
            None => self.wrong(reader, key, item, &format!("a whole number from {low} to {high}")),
        }
    }

    /// true or false, if given.
    pub fn flag(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<bool> {
        let item = self.item(key)?;
        match item.as_bool() {
            Some(value) => Some(value),
            None => self.wrong(reader, key, item, "true or false"),
        }
    }

    /// A list of finite numbers, if given.
    pub fn numbers(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<Vec<f64>> {
        let item = self.item(key)?;
        let values: Option<Vec<f64>> =
            item.as_array().and_then(|array| array.iter().map(|value| number_of(Some(value))).collect());
        match values.filter(|values| values.iter().all(|value| value.is_finite())) {
            Some(values) => Some(values),
            None => self.wrong(reader, key, item, "a list of numbers such as [0, 10, 25]"),
        }
    }

    /// Two different numbers, sorted, if given.
    pub fn span_of(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<[f64; 2]> {
        let values = self.numbers(reader, key)?;
        match values.as_slice() {
            [a, b] if a < b => Some([*a, *b]),
            [a, b] if b < a => Some([*b, *a]),
            _ => {
                let item = self.table.and_then(|table| table.get(key))?;
                self.wrong(reader, key, item, "two different numbers such as [-0.72, -0.50]")
            }
        }
    }

    /// A list of texts, if given.
    pub fn texts(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<Vec<String>> {
        let item = self.item(key)?;
        let values: Option<Vec<String>> =
            item.as_array().and_then(|array| array.iter().map(|v| v.as_str().map(str::to_owned)).collect());
        match values {
            Some(values) => Some(values),
            None => self.wrong(reader, key, item, "a list of texts such as [\"nitrate\"]"),
        }
    }

    /// One word out of a fixed set, if given.
    pub fn choice<T: Copy>(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
        choices: &[(&'static str, T)],
    ) -> Option<T> {
        let item = self.item(key)?;
        let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
        let found = item.as_str().and_then(|text| choices.iter().find(|(word, _)| *word == text));
        if let Some((_, value)) = found {
            return Some(*value);
        }
        let hint = item.as_str().and_then(|text| nearest(text, &words));
        let mut accepted = format!("one of {}", words.join(", "));
        if let Some(hint) = hint {
            accepted = format!("{accepted}; did you mean \"{hint}\"?");
        }
        self.wrong(reader, key, item, &accepted)
    }

    /// The raw item with its place, for keys of more than one form.
    pub fn raw(&mut self, key: &'static str) -> Option<&'t Item> {
        self.item(key)
    }

    /// Complains of the value under `key`; always `None`, so that a reading can end with it.
    pub fn wrong<T>(&self, reader: &mut Reader<'_>, key: &str, item: &Item, accepted: &str) -> Option<T> {
        let place = reader.place(item.span());
        let found = format!("`{}` is {}", self.full(key), place.text);
        reader.problems.push(Problem::new(place, found, format!("accepted: {accepted}")));
        None
    }

    /// Complains of every key that was never asked for.
    pub fn finish(&self, reader: &mut Reader<'_>) {
        let Some(table) = self.table else { return };
        for (key, item) in table.iter() {
            if self.known.contains(&key) {
                continue;
            }
            let span = table.key(key).and_then(toml_edit::Key::span).or_else(|| item.span());
            let cure = nearest(key, &self.known).map_or_else(
                || format!("known here: {}", self.known.join(", ")),
                |hint| format!("did you mean `{hint}`?"),
            );
            reader.complain(span, format!("unknown key `{}`", self.full(key)), cure);
        }
    }
}

fn number_of(value: Option<&Value>) -> Option<f64> {
    let value = value?;
    // A method file's whole numbers are small: the conversion is exact.
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64))
}

/// The accepted range of a number, with its words.
#[derive(Debug, Clone, Copy)]
pub struct Bounds {
    low: f64,
    high: f64,
    open_low: bool,
    words: &'static str,
}

impl Bounds {
    /// Any number but infinity and not-a-number.
    pub const ANY: Self = Self { low: f64::MIN, high: f64::MAX, open_low: false, words: "a finite number" };
    /// Above 0.
    pub const POSITIVE: Self = Self { low: 0.0, high: f64::MAX, open_low: true, words: "a number above 0" };
    /// 0 or more.
    pub const NOT_NEGATIVE: Self =
        Self { low: 0.0, high: f64::MAX, open_low: false, words: "a number not below 0" };
    /// 3 or more.
    pub const THREE_OR_MORE: Self =
        Self { low: 3.0, high: f64::MAX, open_low: false, words: "a number not below 3" };
    /// A potential that some cell has, V.
    pub const POTENTIAL_V: Self =
        Self { low: -10.0, high: 10.0, open_low: false, words: "a potential in V between -10 and 10" };
    /// A relative standard uncertainty that standards can have.
    pub const RELATIVE_U: Self = Self {
        low: 0.0,
        high: 0.2,
        open_low: false,
        words: "a relative standard uncertainty from 0 to 0.2, as a fraction: 1 % is written 0.01",
    };
    /// A relative change of sensitivity, 1/K.
    pub const COEFFICIENT_PER_K: Self = Self {
        low: -0.1,
        high: 0.1,
        open_low: false,
        words: "a fraction per kelvin from -0.1 to 0.1: 1.8 % per K is written 0.018",
    };
    /// Its standard uncertainty, 1/K.
    pub const COEFFICIENT_U_PER_K: Self = Self {
        low: 0.0,
        high: 0.1,
        open_low: false,
        words: "a fraction per kelvin from 0 to 0.1: 0.3 % per K is written 0.003",
    };
    /// An amplitude that a pulse technique has, V.
    pub const AMPLITUDE_V: Self = Self {
        low: 0.0,
        high: 1.0,
        open_low: true,
        words: "an amplitude in V above 0 and at most 1: 25 mV is written 0.025",
    };
    /// A noise that leaves a peak to see, A.
    pub const NOISE_A: Self = Self {
        low: 0.0,
        high: 1e-3,
        open_low: true,
        words: "a current in A above 0 and at most 1e-3: 0.1 µA is written 0.1e-6",
    };
    /// A probability of error.
    pub const PROBABILITY: Self =
        Self { low: 0.0, high: 0.5, open_low: true, words: "a probability above 0 and at most 0.5" };
    /// A coverage probability.
    pub const COVERAGE: Self =
        Self { low: 0.5, high: 0.9999, open_low: true, words: "a coverage above 0.5 and at most 0.9999" };
    /// A share that is not nothing.
    pub const FRACTION: Self =
        Self { low: 0.0, high: 1.0, open_low: true, words: "a number above 0 and at most 1" };

    fn hold(&self, value: f64) -> bool {
        value.is_finite() && value <= self.high && (value > self.low || (!self.open_low && value >= self.low))
    }
}

//! `[reading]`: how the text of the raw files is read, once inferred and agreed.

use stillwell_scan::{
    ColumnChoice, CurrentUnit, DecimalMark, Delimiter, Encoding, Layout, PotentialUnit, ReadingPin,
    ReductionCurrent,
};
use toml_edit::{Item, Value};

use super::section::{Reader, Section};

pub(super) fn reading(reader: &mut Reader<'_>, root: &mut Section<'_>) -> ReadingPin {
    let mut section = root.section(reader, "reading");
    let pin = ReadingPin {
        encoding: word(reader, &mut section, "encoding", Encoding::WORDS, Encoding::from_word),
        delimiter: word(reader, &mut section, "delimiter", Delimiter::WORDS, Delimiter::from_word),
        decimal_mark: word(reader, &mut section, "decimal_mark", DecimalMark::WORDS, DecimalMark::from_word),
        header_lines: section.count(reader, "header_lines", 0, 100_000).map(|count| count as usize),
        layout: word(reader, &mut section, "layout", Layout::WORDS, Layout::from_word),
        potential_column: column(reader, &mut section, "potential_column"),
        current_columns: columns(reader, &mut section, "current_columns"),
        forward_column: column(reader, &mut section, "forward_column"),
        reverse_column: column(reader, &mut section, "reverse_column"),
        time_column: column(reader, &mut section, "time_column"),
        potential_unit: word(
            reader,
            &mut section,
            "potential_unit",
            PotentialUnit::WORDS,
            PotentialUnit::from_word,
        ),
        current_unit: current_unit(reader, &mut section),
        reduction_current: word(
            reader,
            &mut section,
            "reduction_current",
            ReductionCurrent::WORDS,
            ReductionCurrent::from_word,
        ),
    };
    section.finish(reader);
    pin
}

fn word<T: Copy>(
    reader: &mut Reader<'_>,
    section: &mut Section<'_>,
    key: &'static str,
    words: &'static [&'static str],
    from_word: fn(&str) -> Option<T>,
) -> Option<T> {
    let choices: Vec<(&'static str, T)> =
        words.iter().filter_map(|word| from_word(word).map(|value| (*word, value))).collect();
    section.choice(reader, key, &choices)
}

/// `uA` is accepted for `µA`, with either of the two micro signs.
fn current_unit(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<CurrentUnit> {
    let spelled =
        section.raw("current_unit").and_then(Item::as_str).map(|text| text.replace(['u', 'μ'], "µ"));
    if let Some(unit) = spelled.as_deref().and_then(CurrentUnit::from_word) {
        return Some(unit);
    }
    word(reader, section, "current_unit", CurrentUnit::WORDS, CurrentUnit::from_word)
}

fn column(reader: &mut Reader<'_>, section: &mut Section<'_>, key: &'static str) -> Option<ColumnChoice> {
    let item = section.raw(key)?;
    match item.as_value().and_then(choice_of) {
        Some(choice) => Some(choice),
        None => section.wrong(reader, key, item, "a column's number from 1, or its header text"),
    }
}

fn columns(
    reader: &mut Reader<'_>,
    section: &mut Section<'_>,
    key: &'static str,
) -> Option<Vec<ColumnChoice>> {
    let item = section.raw(key)?;
    let choices: Option<Vec<ColumnChoice>> =
        item.as_array().and_then(|array| array.iter().map(choice_of).collect());
    match choices.filter(|choices| !choices.is_empty()) {
        Some(choices) => Some(choices),
        None => section.wrong(reader, key, item, "a list of columns such as [2, 3] or [\"i / µA\"]"),
    }
}

fn choice_of(value: &Value) -> Option<ColumnChoice> {
    if let Some(text) = value.as_str() {
        return Some(ColumnChoice::Header(text.to_owned()));
    }
    let number = usize::try_from(value.as_integer()?).ok()?;
    (number >= 1).then_some(ColumnChoice::Number(number))
}

//! Settings and comment lines of a text.

use crate::cells::{Cell, Line, cell_from_text, cells_of};
use crate::pin::Delimiter;
use crate::scan::Setting;
use crate::units::{CurrentUnit, PotentialUnit, UnitWord, unit_from_text};

const COMMENT_MARKS: [&str; 6] = ["#", "%", "//", "!", "--", "*"];

/// The text of a line without its comment mark, and whether it had one.
pub(crate) fn without_comment_mark(text: &str) -> (&str, bool) {
    let trimmed = text.trim();
    for mark in COMMENT_MARKS {
        if let Some(rest) = trimmed.strip_prefix(mark) {
            return (rest.trim_start_matches(['#', '%', '/', '!', '-', '*']).trim(), true);
        }
    }
    match trimmed.strip_prefix(';') {
        Some(rest) if !rest.contains(';') => (rest.trim(), true),
        _ => (trimmed, false),
    }
}

/// `key = value`, `key: value`, or two cells of which the first is text.
pub(crate) fn setting_from_line(line: &Line<'_>, delimiter: Delimiter) -> Option<Setting> {
    let (text, _) = without_comment_mark(line.text);
    let text = text.trim_end_matches([',', ';', '\t', ' ']);
    let setting = |key: &str, value: &str| {
        let key = key.trim().trim_matches('"').trim();
        let value = value.trim().trim_matches('"').trim();
        let is_word = key.chars().any(char::is_alphabetic) && key.len() <= 80;
        is_word.then(|| Setting {
            key: key.trim_end_matches([':', '=']).trim().to_owned(),
            value: value.to_owned(),
            line: line.number,
        })
    };
    if let Some(parted) = key_and_value(text).and_then(|(key, value)| setting(key, value)) {
        return Some(parted);
    }
    let tried = [Delimiter::Tab, Delimiter::Semicolon, Delimiter::Comma];
    let delimiters = tried.into_iter().filter(|d| delimiter == Delimiter::Blank || *d == delimiter);
    for delimiter in delimiters {
        let cells = cells_of(text, delimiter);
        if let [key, value] = cells.as_slice()
            && cell_from_text(key, b'.') == Cell::Text
            && !value.is_empty()
        {
            return setting(key, value);
        }
    }
    None
}

/// A setting with a mark of its own whose key starts with a letter: no broken line of numbers looks so.
pub(crate) fn is_explicit_setting(line: &Line<'_>) -> bool {
    let (text, _) = without_comment_mark(line.text);
    key_and_value(text)
        .is_some_and(|(key, _)| key.trim_start_matches(['"', ' ', '\t']).starts_with(char::is_alphabetic))
}

/// Whether a line starts as a line of numbers does, behind a comment mark or not, and is no date.
pub(crate) fn starts_like_numbers(line: &Line<'_>) -> bool {
    let (text, _) = without_comment_mark(line.text);
    let text = text.trim_start_matches(['"', ' ', '\t', ',', ';', '=', ':']);
    let unsigned = text.trim_start_matches(['-', '+', '\u{2212}', '.']);
    unsigned.starts_with(|c: char| c.is_ascii_digit()) && !starts_with_date(text)
}

/// A quotation mark that nothing closes swallows the cells behind it.
pub(crate) fn has_open_quote(line: &Line<'_>) -> bool {
    line.text.bytes().filter(|byte| *byte == b'"').count() % 2 == 1
}

/// `2026-11-25`, `25.11.2026`, `25/11/26`, `10:18:44`.
fn starts_with_date(text: &str) -> bool {
    let first = text.split([' ', '\t', ',', ';', 'T']).next().unwrap_or_default();
    ['-', '/', '.', ':'].into_iter().any(|mark| {
        let parts: Vec<&str> = first.split(mark).collect();
        parts.len() == 3
            && parts
                .iter()
                .all(|part| (1..=4).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit()))
    })
}

/// Parts at the first `=`, else at the first `:` that is not within a clock time.
fn key_and_value(text: &str) -> Option<(&str, &str)> {
    if let Some((key, value)) = text.split_once('=') {
        return Some((key.trim_end_matches([',', ';', '\t']), value.trim_start_matches([',', ';', '\t'])));
    }
    let at = text.find(':')?;
    let (key, value) = text.split_at(at);
    let value = value.strip_prefix(':')?;
    let is_clock =
        key.ends_with(|c: char| c.is_ascii_digit()) && value.starts_with(|c: char| c.is_ascii_digit());
    let key = key.trim_end_matches([',', ';', '\t']);
    (!is_clock).then_some((key, value.trim_start_matches([',', ';', '\t'])))
}

/// The unit of current that a settings line such as `current unit: uA` or `units = V, nA` states.
pub(crate) fn stated_current_unit(settings: &[Setting]) -> Option<CurrentUnit> {
    one_unit(settings, |word| match word {
        UnitWord::Current(unit) => Some(unit),
        _ => None,
    })
}

/// The unit of potential that a settings line states.
pub(crate) fn stated_potential_unit(settings: &[Setting]) -> Option<PotentialUnit> {
    one_unit(settings, |word| match word {
        UnitWord::Potential(unit) => Some(unit),
        _ => None,
    })
}

fn one_unit<U: PartialEq + Copy>(settings: &[Setting], wanted: impl Fn(UnitWord) -> Option<U>) -> Option<U> {
    let mut found = None;
    for setting in settings.iter().filter(|s| s.key.to_lowercase().contains("unit")) {
        for word in setting.value.split([',', ';', ' ', '\t', '|']) {
            if let Some(unit) = unit_from_text(word).and_then(&wanted) {
                if found.is_some_and(|earlier| earlier != unit) {
                    return None;
                }
                found = Some(unit);
            }
        }
    }
    found
}

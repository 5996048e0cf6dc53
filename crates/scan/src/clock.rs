//! Dates and clocks in settings lines: kept as found, flagged when they cannot be right.

use crate::error::shortened;
use crate::note::ReadNote;
use crate::scan::Setting;

/// A day of the (proleptic Gregorian) calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct CalendarDate {
    /// Year, such as 2026.
    pub year: u16,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month, from 1.
    pub day: u8,
}

/// Scans recorded with a computer did not lie in text files before this year; an unset clock shows 1970, 1980 or so.
const FIRST_PLAUSIBLE_YEAR: u16 = 2000;

pub(crate) fn note_if_too_early(setting: &Setting) -> Option<ReadNote> {
    let is_early = years(setting).any(|year| year < FIRST_PLAUSIBLE_YEAR);
    is_early.then(|| implausible(setting, "the year lies before 2000"))
}

/// Only whole years are compared unless the date is written year first: day and month cannot be told apart otherwise.
pub(crate) fn note_if_after(setting: &Setting, not_after: CalendarDate) -> Option<ReadNote> {
    let is_after = match written_year_first(setting) {
        Some(date) => date > not_after,
        None => years(setting).any(|year| year > not_after.year),
    };
    is_after.then(|| implausible(setting, "the date lies in the future"))
}

fn implausible(setting: &Setting, reason: &'static str) -> ReadNote {
    let text = shortened(&format!("{}: {}", setting.key, setting.value));
    ReadNote::ClockImplausible { line: setting.line, text, reason: reason.into() }
}

/// Four-digit years in the value of a setting whose key speaks of a date.
fn years(setting: &Setting) -> impl Iterator<Item = u16> + '_ {
    let key = setting.key.to_lowercase();
    let speaks_of_date = ["date", "datum", "time", "clock", "recorded", "measured", "created", "start"]
        .iter()
        .any(|word| key.contains(word));
    setting
        .value
        .split(['-', '/', '.', ' ', 'T', ','])
        .filter(move |_| speaks_of_date && has_date_form(&setting.value))
        .filter(|part| part.len() == 4)
        .filter_map(|part| part.parse().ok())
        .filter(|year| (1900..=2200).contains(year))
}

/// At least three groups of digits, as in 2005-03-01 or 1.3.2005, or a month's name and two groups.
fn has_date_form(value: &str) -> bool {
    let groups = value.split(|c: char| !c.is_ascii_digit()).filter(|part| !part.is_empty()).count();
    groups >= 3 || (groups == 2 && value.chars().any(char::is_alphabetic))
}

fn written_year_first(setting: &Setting) -> Option<CalendarDate> {
    years(setting).next()?;
    let mut parts = setting.value.split(['-', '/', '.', ' ', 'T']).filter(|part| !part.is_empty());
    let year = parts.next().filter(|part| part.len() == 4)?.parse().ok()?;
    let month = parts.next()?.parse().ok()?;
    let day = parts.next()?.parse().ok()?;
    ((1..=12).contains(&month) && (1..=31).contains(&day)).then_some(CalendarDate { year, month, day })
}

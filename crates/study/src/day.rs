//! Days and moments as people write them: `2026-05-12`, or `2026-05-12T08:30:00Z`.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::error::StudyError;

/// The day that a text begins with, if it does.
pub(crate) fn day_of(text: &str) -> Option<Date> {
    text.trim().get(..10)?.parse().ok()
}

/// A day as it stands in the ledger.
pub(crate) fn day(what: &'static str, text: &str) -> Result<String, StudyError> {
    text.trim().parse::<Date>().map(|day| day.to_string()).map_err(|_not_a_day| StudyError::Unsayable {
        what,
        found: format!("\"{text}\" is not a day"),
        cure: "a day such as 2026-05-12",
    })
}

/// The first and the last moment that a text may mean: a whole moment means itself, a mere day all of it in UTC.
pub(crate) fn moments_of(text: &str) -> Option<[Timestamp; 2]> {
    let text = text.trim();
    if let Ok(moment) = text.parse() {
        return Some([moment, moment]);
    }
    // Only the day and nothing behind it: `2026-05-12T25:00:00Z` is no way to write a day.
    let day: Date = if text.len() == 10 { text.parse().ok()? } else { return None };
    let at = |day: Date| TimeZone::UTC.to_timestamp(day.at(0, 0, 0, 0)).ok();
    Some([at(day)?, at(day.tomorrow().ok()?)?])
}

/// Hours from one moment to another.
pub(crate) fn hours_between(from: Timestamp, to: Timestamp) -> f64 {
    (to.as_millisecond() - from.as_millisecond()) as f64 / 3.6e6
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_moments_are_told_from_other_texts() {
        assert_eq!(day("last day", " 2026-02-28 ").unwrap(), "2026-02-28");
        for bad in ["2026-02-30", "tomorrow", "", "28.02.2026"] {
            assert!(day("last day", bad).is_err(), "{bad}");
        }
        let [first, last] = moments_of("2026-05-12").unwrap();
        assert!((hours_between(first, last) - 24.0).abs() < 1e-9);
        let [moment, same] = moments_of("2026-05-12T08:30:00Z").unwrap();
        assert_eq!(moment, same);
        assert!((hours_between(first, moment) - 8.5).abs() < 1e-9);
        for bad in
            ["soon", "2026-05-12T25:00:00Z", "2026-05-12T99:99:99Z", "2026-05-01garbage", "2026-05-14 11"]
        {
            assert_eq!(moments_of(bad), None, "{bad}");
        }
    }
}

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

/// The moment of a text; of a mere day its first.
pub(crate) fn moment_of(text: &str) -> Option<Timestamp> {
    text.trim().parse().ok().or_else(|| TimeZone::UTC.to_timestamp(day_of(text)?.at(0, 0, 0, 0)).ok())
}

/// Hours from one text's moment to the other's.
pub(crate) fn hours_between(from: &str, to: &str) -> Option<f64> {
    Some((moment_of(to)?.as_millisecond() - moment_of(from)?.as_millisecond()) as f64 / 3.6e6)
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
        assert_eq!(hours_between("2026-05-12T08:30:00Z", "2026-05-13"), Some(15.5));
        assert_eq!(hours_between("2026-05-12", "2026-05-14 11:00"), Some(48.0));
        assert_eq!(hours_between("soon", "2026-05-14"), None);
    }
}

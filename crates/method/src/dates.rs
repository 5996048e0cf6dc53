//! The dates of a sample and of its calibration against each other. This room knows no clock: it cannot tell a day to come.

use crate::check::Check;
use crate::finding::{Effect, Finding};
use crate::link::{CalibrationLink, ScanLink};
use crate::run_sheet::Role;

/// Days after which a calibration is no longer believed to hold without a word (common practice, no source: a year).
const LONGEST_DAYS: i64 = 366;

/// A sample dated before its calibration, or so long after it that the date or the use must be wrong. None where dates are not
/// stated.
pub(crate) fn date_finding(
    sample: &[&ScanLink],
    calibration: &CalibrationLink,
    scans: &[ScanLink],
) -> Option<Finding> {
    let standards = calibration.standards.iter().filter_map(|place| scans.get(*place));
    let calibrated = standards.filter(|link| link.usable(Role::Standard)).filter_map(dated).min()?;
    let (first, last) =
        (sample.iter().copied().filter_map(dated).min()?, sample.iter().copied().filter_map(dated).max()?);
    let words = if first.0 < calibrated.0 {
        format!(
            "dated {}, {} days before its calibration of {}",
            first.1,
            calibrated.0 - first.0,
            calibrated.1
        )
    } else if last.0 - calibrated.0 > LONGEST_DAYS {
        let days = last.0 - calibrated.0;
        format!(
            "dated {}, {days} days after its calibration of {}; limit {LONGEST_DAYS} days",
            last.1, calibrated.1
        )
    } else {
        return None;
    };
    let name = sample.first().map_or("", |link| link.row.sample.as_str());
    Some(Finding::new(Check::ClockImplausible, Effect::Warned, name, words))
}

/// The day of a scan: counted, and as written.
fn dated(link: &ScanLink) -> Option<(i64, &str)> {
    let text = link.row.date.get(..10)?;
    let number = |range: std::ops::Range<usize>| text.get(range)?.parse::<i64>().ok();
    let (year, month, day) = (number(0..4)?, number(5..7)?, number(8..10)?);
    ((1..=12).contains(&month) && (1..=31).contains(&day)).then(|| (day_number(year, month, day), text))
}

/// Days of the Gregorian calendar since the start of the year 0; the year begins in March, so that the leap day ends it.
fn day_number(year: i64, month: i64, day: i64) -> i64 {
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let leap_days = year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400);
    // Months from March on: 31, 30, 31, 30, 31 days, again and again.
    let before_month = (month * 153 + 2) / 5;
    year * 365 + leap_days + before_month + day
}

#[cfg(test)]
mod tests {
    use super::day_number;

    #[test]
    fn days_are_counted_over_leap_years() {
        let between =
            |[y, m, d]: [i64; 3], [yy, mm, dd]: [i64; 3]| day_number(yy, mm, dd) - day_number(y, m, d);
        assert_eq!(between([2026, 1, 1], [2027, 1, 1]), 365);
        assert_eq!(between([2024, 2, 28], [2024, 3, 1]), 2);
        assert_eq!(between([2023, 2, 28], [2023, 3, 1]), 1);
        assert_eq!(between([2026, 7, 31], [2026, 8, 1]), 1);
        assert_eq!(between([1970, 1, 1], [2000, 1, 1]), 10_957);
    }
}

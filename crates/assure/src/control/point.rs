//! What is charted, and one point of it.

/// Which quantity a chart follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Charted {
    /// Reading of a blank or a zero standard, before it is called "less than".
    Blank,
    /// Recovery of a check standard, in %.
    CheckStandard,
    /// Difference of two determinations of one sample, in % of their mean.
    Duplicate,
    /// Recovery of what was added to a sample, in %.
    Spike,
    /// Potential of the peak of a known solution.
    PeakPotential,
    /// Width of the peak of a known solution.
    PeakWidth,
}

/// What was found at one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PointValue {
    /// A number.
    Found(f64),
    /// Only known to be less than this. It is never taken for zero or for a half.
    LessThan(f64),
    /// Only known to be more than this.
    MoreThan(f64),
    /// Measured, but refused or lost.
    Missing,
}

impl PointValue {
    /// The number, if it is one and finite.
    pub fn number(self) -> Option<f64> {
        match self {
            Self::Found(value) if value.is_finite() => Some(value),
            _ => None,
        }
    }
}

/// One point of a chart.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartPoint {
    /// How it is named to people: batch and date.
    pub label: String,
    /// Day on which it was measured, counted from any fixed day; none where the run sheet has no date.
    pub day: Option<i32>,
    /// What was found.
    pub value: PointValue,
    /// Why it is left out of training and judgement, if it is: a cause that was found and removed.
    pub excluded: Option<String>,
}

impl ChartPoint {
    /// A point that was measured.
    pub fn found(label: impl Into<String>, day: Option<i32>, value: f64) -> Self {
        Self { label: label.into(), day, value: PointValue::Found(value), excluded: None }
    }
}

/// Recovery of a known level, in %.
///
/// # Units
/// Both in one unit; none where the level is not above zero: a zero has no recovery.
///
/// # Source
/// `100 × found / level`: Nordtest TR 569, section 5 (from memory).
pub fn recovery_percent(found: f64, level: f64) -> Option<f64> {
    (level > 0.0 && found.is_finite()).then(|| 100.0 * found / level)
}

/// Recovery of a known addition, in %: what was found more, over what was added.
///
/// # Units
/// All in one unit.
///
/// # Source
/// `100 × (with − without) / added`: Nordtest TR 569, section 5 (from memory).
pub fn spike_recovery_percent(without: f64, with: f64, added: f64) -> Option<f64> {
    recovery_percent(with - without, added)
}

/// First minus second of two determinations, in % of their mean; none where the mean is not above zero.
///
/// # Units
/// Both in one unit.
///
/// # Source
/// Nordtest TR 537, section 4.3 (there without sign; the sign shows a second strip that always reads lower).
pub fn relative_difference_percent(first: f64, second: f64) -> Option<f64> {
    recovery_percent(first - second, 0.5 * (first + second))
}

/// The day of a date such as 2026-03-31, counted from 1970-01-01; none for anything else.
///
/// # Source
/// Gregorian calendar, ISO 8601-1:2019 calendar dates; years begin in March while counting, so that the leap day comes last.
///
/// # Example
/// ```
/// use stillwell_assure::control::day_of;
/// assert_eq!(day_of("2026-03-01").unwrap() - day_of("2026-02-28").unwrap(), 1);
/// assert_eq!((day_of("1970-01-01"), day_of("31.03.2026"), day_of("2026-02-30")), (Some(0), None, None));
/// ```
pub fn day_of(date: &str) -> Option<i32> {
    // A time of day may follow.
    let date = date.trim().split(['T', ' ']).next()?;
    let mut parts = date.split('-').map(str::parse::<i32>);
    let (year, month, day) = (parts.next()?.ok()?, parts.next()?.ok()?, parts.next()?.ok()?);
    let is_leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let n_days = match month {
        2 if is_leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return None,
    };
    if !(1..=9999).contains(&year) || !(1..=n_days).contains(&day) || parts.next().is_some() {
        return None;
    }
    let (y, m) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    Some(365 * y + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + day - 719_469)
}

/// The date of a day counted from 1970-01-01, such as 2026-03-31: what [`day_of`] undoes.
///
/// # Source
/// As [`day_of`].
///
/// # Example
/// ```
/// use stillwell_assure::control::{date_of, day_of};
/// assert_eq!((date_of(0), date_of(day_of("2024-02-29").unwrap())), ("1970-01-01".to_owned(), "2024-02-29".to_owned()));
/// ```
pub fn date_of(day: i32) -> String {
    // Days since 1 March of the year 0, in cycles of 400 years.
    let days = i64::from(day) + 719_468;
    let (cycle, of_cycle) = (days.div_euclid(146_097), days.rem_euclid(146_097));
    let year_of_cycle = (of_cycle - of_cycle / 1460 + of_cycle / 36_524 - of_cycle / 146_096) / 365;
    let of_year = of_cycle - (365 * year_of_cycle + year_of_cycle / 4 - year_of_cycle / 100);
    let month_from_march = (5 * of_year + 2) / 153;
    let day_of_month = of_year - (153 * month_from_march + 2) / 5 + 1;
    let (month, next) =
        if month_from_march < 10 { (month_from_march + 3, 0) } else { (month_from_march - 9, 1) };
    format!("{:04}-{month:02}-{day_of_month:02}", 400 * cycle + year_of_cycle + next)
}

//! A station's series of daily readings, and how often a limit was exceeded.

use crate::NamedLimit;
use crate::QualityError;
use crate::control::PointValue;

/// One day of a station's series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesReading {
    /// Day, counted from any fixed day.
    pub day: i32,
    /// Reading, in the unit and form of the series; [`PointValue::Missing`] where the day has a line and no number.
    pub value: PointValue,
}

impl SeriesReading {
    /// Whether the day says anything: a number or a bound.
    pub(super) const fn is_known(&self) -> bool {
        !matches!(self.value, PointValue::Missing)
    }
}

/// How often a limit was exceeded.
#[derive(Debug, Clone, PartialEq)]
pub struct Exceedances {
    /// Name of the limit.
    pub limit: String,
    /// The limit in the unit and form of the series.
    pub limit_in_series: f64,
    /// Days above it.
    pub n_above: usize,
    /// Days that are known to lie on one side of it.
    pub n_days: usize,
    /// Days only known as a bound on the other side of it, such as "less than" twice the limit: they may lie on either side.
    pub n_undecided: usize,
    /// Days from the first to the last that says anything.
    pub n_span: usize,
    /// Days of the longest stretch above it without a break; days that say nothing end it.
    pub longest_run: usize,
    /// Whether nitrate and nitrite were read together for a limit on nitrate, which can only err upwards.
    pub is_together: bool,
    /// The days above it, rising.
    pub days_above: Vec<i32>,
}

/// Days on which a series of one unit and form lies above a limit. A "less than" counts as below only where its bound does, and is never
/// taken for zero or a half.
///
/// # Units
/// Values in `kind`, the unit and form of the series; the limit is converted to it.
///
/// # Errors
/// [`crate::AssureError`] where the limit cannot be brought to the series' unit and form, or is about another substance: a sum of nitrate
/// and nitrite says nothing of how often nitrite alone exceeded its limit.
///
/// # Source
/// Counting; a value equal to the limit is not above it. No uncertainty enters: a count is no verdict.
pub fn exceedances(
    readings: &[SeriesReading],
    kind: &stillwell_quantity::QuantityKind,
    limit: &NamedLimit,
) -> Result<Exceedances, crate::AssureError> {
    let is_together = crate::decide::counts_together(kind.species.analyte(), limit)?;
    let limit_in_series = crate::decide::limit_in_kind(limit, kind)?;
    let known: Vec<(i32, Option<bool>)> = readings
        .iter()
        .filter(|reading| reading.is_known())
        .map(|reading| (reading.day, is_above(reading.value, limit_in_series)))
        .collect();
    let above: Vec<i32> =
        known.iter().filter(|(_, above)| *above == Some(true)).map(|(day, _)| *day).collect();
    let (mut run, mut longest_run, mut before) = (0, 0, None);
    for (day, above) in &known {
        let goes_on = before == Some(day - 1);
        run = match (*above == Some(true), goes_on) {
            (true, true) => run + 1,
            (true, false) => 1,
            (false, _) => 0,
        };
        longest_run = usize::max(longest_run, run);
        before = Some(*day);
    }
    let span = known.first().zip(known.last()).map_or(0, |(first, last)| last.0 - first.0 + 1);
    let n_undecided = known.iter().filter(|(_, above)| above.is_none()).count();
    Ok(Exceedances {
        limit: limit.name().to_owned(),
        limit_in_series,
        n_above: above.len(),
        n_days: known.len() - n_undecided,
        n_undecided,
        n_span: usize::try_from(span).unwrap_or(0),
        longest_run,
        is_together,
        days_above: above,
    })
}

/// On which side of a limit a reading lies, as far as it is known.
fn is_above(value: PointValue, limit: f64) -> Option<bool> {
    match value {
        PointValue::Found(value) => Some(value > limit),
        PointValue::LessThan(bound) => (bound <= limit).then_some(false),
        PointValue::MoreThan(bound) => (bound >= limit).then_some(true),
        PointValue::Missing => None,
    }
}

impl Exceedances {
    /// The count in a sentence.
    pub fn words(&self, unit: &str) -> String {
        super::wording::exceedances(self, unit)
    }
}

/// Refuses a series whose days do not rise.
pub(super) fn must_rise(readings: &[SeriesReading]) -> Result<(), QualityError> {
    match readings.windows(2).position(|pair| pair[1].day <= pair[0].day) {
        Some(at) => Err(QualityError::TimesNotRising { what: "the series", place: at + 2 }),
        None => Ok(()),
    }
}

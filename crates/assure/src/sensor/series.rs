//! A station's series of daily readings, and how often a limit was exceeded.

use crate::NamedLimit;
use crate::QualityError;

/// One day of a station's series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesReading {
    /// Day, counted from any fixed day.
    pub day: i32,
    /// Reading, in the unit and form of the series; none where the day has a line and no number.
    pub value: Option<f64>,
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
    /// Days with a number.
    pub n_days: usize,
    /// Days from the first to the last with a number.
    pub n_span: usize,
    /// Days of the longest stretch above it without a break; days without a number end it.
    pub longest_run: usize,
    /// The first and the last day above it.
    pub first_and_last: Option<[i32; 2]>,
}

/// Days on which a series of one unit and form lies above a limit.
///
/// # Units
/// Values in `kind`, the unit and form of the series; the limit is converted to it.
///
/// # Errors
/// [`crate::AssureError`] where the limit cannot be brought to the series' unit and form.
///
/// # Source
/// Counting; a value equal to the limit is not above it. No uncertainty enters: a count is no verdict.
pub fn exceedances(
    readings: &[SeriesReading],
    kind: &stillwell_quantity::QuantityKind,
    limit: &NamedLimit,
) -> Result<Exceedances, crate::AssureError> {
    let limit_in_series = crate::decide::limit_in_kind(limit, kind)?;
    let numbers: Vec<(i32, f64)> =
        readings.iter().filter_map(|reading| Some((reading.day, reading.value?))).collect();
    let is_above = |value: f64| value > limit_in_series;
    let above: Vec<i32> = numbers.iter().filter(|(_, value)| is_above(*value)).map(|(day, _)| *day).collect();
    let (mut run, mut longest_run, mut before) = (0, 0, None);
    for (day, value) in &numbers {
        let goes_on = before == Some(day - 1);
        run = match (is_above(*value), goes_on) {
            (true, true) => run + 1,
            (true, false) => 1,
            (false, _) => 0,
        };
        longest_run = usize::max(longest_run, run);
        before = Some(*day);
    }
    let span = numbers.first().zip(numbers.last()).map_or(0, |(first, last)| last.0 - first.0 + 1);
    Ok(Exceedances {
        limit: limit.name().to_owned(),
        limit_in_series,
        n_above: above.len(),
        n_days: numbers.len(),
        n_span: usize::try_from(span).unwrap_or(0),
        longest_run,
        first_and_last: above.first().zip(above.last()).map(|(first, last)| [*first, *last]),
    })
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

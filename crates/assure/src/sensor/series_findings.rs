//! What a station's series shows by itself: gaps, a stuck reading, readings that stand alone, stretches far from all the rest.

use stillwell_stats::robust::median_and_spread;

use super::series::{SeriesReading, must_rise};
use super::wording;
use crate::QualityError;
use crate::quality_error::must_have;

/// What counts as a finding. All of them are advice, and common practice without source unless said otherwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesSettings {
    /// Fewest equal readings on days in a row that can be called stuck.
    pub fewest_stuck: usize,
    /// A stretch of equal readings is called stuck when chance would give fewer than this many of its length in the whole series, from
    /// how often neighbours are equal elsewhere in it.
    pub stuck_by_chance: f64,
    /// A reading stands alone when it lies so many robust standard deviations from its neighbours on both sides.
    pub alone_sigmas: f64,
    /// A reading is far from the rest when its logarithm lies so many robust standard deviations from the median.
    pub far_sigmas: f64,
}

impl Default for SeriesSettings {
    fn default() -> Self {
        Self { fewest_stuck: 4, stuck_by_chance: 0.05, alone_sigmas: 12.0, far_sigmas: 5.0 }
    }
}

/// Something in a series that somebody should look at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SeriesFinding {
    /// Days that say nothing. A day with a bound such as "less than" is none.
    Gap {
        /// First missing day.
        from: i32,
        /// Last missing day.
        to: i32,
    },
    /// The same number day after day.
    Stuck {
        /// First day.
        from: i32,
        /// Last day.
        to: i32,
        /// The number.
        value: f64,
        /// Days.
        n: usize,
        /// How many such stretches chance would give in this series.
        by_chance: f64,
    },
    /// One reading unlike its neighbours.
    StandsAlone(StandsAlone),
    /// Readings in a row that are far from all others.
    FarFromRest {
        /// First day.
        from: i32,
        /// Last day.
        to: i32,
        /// Readings.
        n: usize,
        /// The one farthest away.
        extreme: f64,
        /// Median of the series.
        median: f64,
    },
    /// A reading at or below zero where logarithms are needed.
    NotPositive {
        /// Its day.
        day: i32,
        /// The reading.
        value: f64,
    },
}

/// One reading unlike its neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandsAlone {
    /// Its day.
    pub day: i32,
    /// The reading.
    pub value: f64,
    /// What lies between its neighbours.
    pub expected: f64,
    /// Distance over the usual distance, in robust standard deviations.
    pub sigmas: f64,
}

/// Looks a series over. Nothing is changed or left out; a reading that is no finite number counts as missing, and bounds take part
/// in no comparison of numbers.
///
/// # Units
/// Readings in any one unit and form, days rising, one line a day.
///
/// # Errors
/// [`QualityError::TimesNotRising`] for a day that comes twice or out of order, [`QualityError::TooFew`] below 20 numbers.
///
/// # Source
/// Median and MAD: ISO 13528:2022, annex C. Limits: [`SeriesSettings`].
pub fn look_over(
    readings: &[SeriesReading],
    settings: SeriesSettings,
) -> Result<Vec<SeriesFinding>, QualityError> {
    must_rise(readings)?;
    let numbers: Vec<(i32, f64)> =
        readings.iter().filter_map(|reading| Some((reading.day, reading.value.number()?))).collect();
    must_have("days with a number", numbers.len(), 20)?;
    let known: Vec<i32> =
        readings.iter().filter(|reading| reading.is_known()).map(|reading| reading.day).collect();
    let mut findings = gaps(&known);
    findings.extend(stuck(&numbers, &settings));
    findings.extend(standing_alone(&numbers, &settings));
    let alone: Vec<i32> = findings
        .iter()
        .filter(|found| matches!(found, SeriesFinding::StandsAlone(_)))
        .map(SeriesFinding::day)
        .collect();
    // A single reading that stands alone is told once.
    let is_told = |found: &SeriesFinding| matches!(found, SeriesFinding::FarFromRest { from, n: 1, .. } if alone.contains(from));
    findings.extend(far_from_rest(&numbers, &settings).into_iter().filter(|found| !is_told(found)));
    findings.sort_by_key(SeriesFinding::day);
    Ok(findings)
}

impl SeriesFinding {
    /// The day on which it begins.
    pub const fn day(&self) -> i32 {
        match self {
            Self::Gap { from, .. } | Self::Stuck { from, .. } | Self::FarFromRest { from, .. } => *from,
            Self::StandsAlone(found) => found.day,
            Self::NotPositive { day, .. } => *day,
        }
    }

    /// The finding in a sentence; `date` writes a day.
    pub fn words(&self, unit: &str, date: impl Fn(i32) -> String) -> String {
        wording::finding(self, unit, &date)
    }
}

fn gaps(known: &[i32]) -> Vec<SeriesFinding> {
    known
        .windows(2)
        .filter(|pair| pair[1] - pair[0] > 1)
        .map(|pair| SeriesFinding::Gap { from: pair[0] + 1, to: pair[1] - 1 })
        .collect()
}

/// Stretches of neighbouring days with one number, as first and last place.
fn equal_stretches(numbers: &[(i32, f64)]) -> Vec<(usize, usize)> {
    let mut stretches = Vec::new();
    let mut first = 0;
    for at in 1..=numbers.len() {
        let goes_on = numbers.get(at).is_some_and(|(day, value)| {
            let (before, same) = numbers[at - 1];
            *day == before + 1 && value.to_bits() == same.to_bits()
        });
        if !goes_on {
            stretches.push((first, at - 1));
            first = at;
        }
    }
    stretches
}

fn stuck(numbers: &[(i32, f64)], settings: &SeriesSettings) -> Vec<SeriesFinding> {
    let stretches = equal_stretches(numbers);
    let n_pairs = numbers.windows(2).filter(|pair| pair[1].0 == pair[0].0 + 1).count();
    let n_equal: usize = stretches.iter().map(|(first, last)| last - first).sum();
    let mut found = Vec::new();
    for (first, last) in stretches {
        let steps = last - first;
        if steps + 1 < settings.fewest_stuck.max(2) {
            continue;
        }
        // How often neighbours are equal elsewhere; one is added so that it is never taken for impossible.
        let elsewhere = (n_equal - steps + 1) as f64 / (n_pairs - steps + 2) as f64;
        let by_chance = n_pairs as f64 * (1.0 - elsewhere) * libm::pow(elsewhere, steps as f64);
        if by_chance < settings.stuck_by_chance {
            let ((from, value), (to, _)) = (numbers[first], numbers[last]);
            found.push(SeriesFinding::Stuck { from, to, value, n: steps + 1, by_chance });
        }
    }
    found
}

/// Median and robust standard deviation; none where more than half of the values are one.
fn centre_and_spread(values: &[f64]) -> Option<(f64, f64)> {
    let found = median_and_spread(values).ok()?;
    (found.robust_sd > 0.0).then_some((found.median, found.robust_sd))
}

fn standing_alone(numbers: &[(i32, f64)], settings: &SeriesSettings) -> Vec<SeriesFinding> {
    // The distance of a reading from the line between its neighbours, where these are close in time.
    let distances: Vec<(i32, f64, f64, f64)> = numbers
        .windows(3)
        .filter(|three| three[2].0 - three[0].0 <= 4)
        .map(|three| {
            let share = f64::from(three[1].0 - three[0].0) / f64::from(three[2].0 - three[0].0);
            let expected = three[0].1 + share * (three[2].1 - three[0].1);
            (three[1].0, three[1].1, expected, (three[2].1 - three[0].1).abs())
        })
        .collect();
    let residuals: Vec<f64> = distances.iter().map(|(_, value, expected, _)| value - expected).collect();
    let Some((_, spread)) = centre_and_spread(&residuals) else { return Vec::new() };
    distances
        .into_iter()
        .filter_map(|(day, value, expected, apart)| {
            let sigmas = (value - expected).abs() / spread;
            // Neighbours that differ as much themselves tell of an event, not of one bad reading.
            let is_alone = sigmas > settings.alone_sigmas && apart < 0.25 * (value - expected).abs();
            is_alone.then_some(SeriesFinding::StandsAlone(StandsAlone { day, value, expected, sigmas }))
        })
        .collect()
}

fn far_from_rest(numbers: &[(i32, f64)], settings: &SeriesSettings) -> Vec<SeriesFinding> {
    let mut found: Vec<SeriesFinding> = numbers
        .iter()
        .filter(|(_, value)| *value <= 0.0)
        .map(|(day, value)| SeriesFinding::NotPositive { day: *day, value: *value })
        .collect();
    let positive: Vec<(i32, f64)> = numbers.iter().filter(|(_, value)| *value > 0.0).copied().collect();
    let logarithms: Vec<f64> = positive.iter().map(|(_, value)| libm::log(*value)).collect();
    let Some((centre, spread)) = centre_and_spread(&logarithms) else { return found };
    let distance = |at: usize| (logarithms[at] - centre) / spread;
    let mut last = None;
    for (at, (day, value)) in positive.iter().enumerate() {
        if distance(at).abs() <= settings.far_sigmas {
            continue;
        }
        let goes_on = last == Some(at.wrapping_sub(1));
        last = Some(at);
        match found.last_mut() {
            Some(SeriesFinding::FarFromRest { to, n, extreme, median, .. }) if goes_on => {
                *to = *day;
                *n += 1;
                let is_farther = libm::log(*value / *median).abs() > libm::log(*extreme / *median).abs();
                if is_farther {
                    *extreme = *value;
                }
            }
            _ => found.push(SeriesFinding::FarFromRest {
                from: *day,
                to: *day,
                n: 1,
                extreme: *value,
                median: libm::exp(centre),
            }),
        }
    }
    found
}

//! What a series comes to: how many readings of which kind, their median and their mean, with bounds carried as bounds.

use stillwell_stats::censored::{Observation, Shape, kaplan_meier, order_regression};
use stillwell_stats::{mean, robust::median};

use super::series::SeriesReading;
use super::wording;
use crate::QualityError;
use crate::control::PointValue;

/// Plotting constant of Blom for normal scores.
const BLOM: f64 = 0.375;

/// Fewest numbers for a line through their scores: common practice, no source; with fewer it means little.
const FEWEST_FOR_REGRESSION: usize = 8;

/// The mean of a series, as far as its readings determine it.
#[derive(Debug, Clone, PartialEq)]
pub enum SeriesMean {
    /// Every reading is a number.
    Plain(f64),
    /// Some are "less than" something.
    Censored {
        /// If all below the lowest number were zero.
        at_least: f64,
        /// If all below the lowest number lay at their bounds.
        at_most: f64,
        /// By regression on order statistics, where eight numbers or more, and as many as bounds, carry it, none is zero or below, and it lies between.
        by_regression: Option<f64>,
    },
    /// None can be stated.
    NotStated(QualityError),
}

/// A series in short.
#[derive(Debug, Clone, PartialEq)]
pub struct SeriesSummary {
    /// Days with a number.
    pub n_numbers: usize,
    /// Days only known as a bound.
    pub n_bounds: usize,
    /// Days from the first to the last that says anything.
    pub n_span: usize,
    /// The first and the last day that says anything.
    pub first_and_last: Option<[i32; 2]>,
    /// The largest number.
    pub largest: Option<f64>,
    /// The median: a bound where half of the readings lie below one.
    pub median: Option<PointValue>,
    /// The mean.
    pub mean: SeriesMean,
}

/// Counts and centre of a series.
///
/// # Units
/// Readings in any one unit and form.
///
/// # Source
/// With bounds: Kaplan–Meier ([`kaplan_meier`]), between zero and the bounds for what lies below the lowest number, and beside it
/// regression on order statistics, log-normal ([`order_regression`]); Helsel 2012, ch. 6. A bound is never taken for zero or a half.
///
/// # Example
/// ```
/// use stillwell_assure::control::PointValue::{Found, LessThan};
/// use stillwell_assure::sensor::{SeriesMean, SeriesReading, series_summary};
/// let values = [Found(1.4), LessThan(0.99), Found(1.8), Found(1.1)];
/// let readings: Vec<SeriesReading> = (0..).zip(values).map(|(day, value)| SeriesReading { day, value }).collect();
/// let found = series_summary(&readings);
/// let SeriesMean::Censored { at_least, at_most, .. } = found.mean else { panic!("censored") };
/// assert!((at_least - 4.3 / 4.0).abs() < 1e-12 && (at_most - 5.29 / 4.0).abs() < 1e-12);
/// ```
pub fn series_summary(readings: &[SeriesReading]) -> SeriesSummary {
    let known: Vec<&SeriesReading> = readings.iter().filter(|reading| reading.is_known()).collect();
    let observations: Vec<Observation> = known.iter().filter_map(|reading| seen(reading.value)).collect();
    let numbers: Vec<f64> = known.iter().filter_map(|reading| reading.value.number()).collect();
    let ends = known.first().zip(known.last()).map(|(first, last)| [first.day, last.day]);
    SeriesSummary {
        n_numbers: numbers.len(),
        n_bounds: observations.len() - numbers.len(),
        n_span: ends.map_or(0, |[first, last]| usize::try_from(last - first + 1).unwrap_or(0)),
        first_and_last: ends,
        largest: numbers.iter().copied().reduce(f64::max),
        median: centre(&observations, &numbers),
        mean: mean_of(&observations, &numbers),
    }
}

fn seen(value: PointValue) -> Option<Observation> {
    match value {
        PointValue::Found(value) => Some(Observation::Found(value)),
        PointValue::LessThan(bound) => Some(Observation::Below(bound)),
        PointValue::MoreThan(bound) => Some(Observation::Above(bound)),
        PointValue::Missing => None,
    }
}

fn centre(observations: &[Observation], numbers: &[f64]) -> Option<PointValue> {
    if numbers.len() == observations.len() {
        return median(numbers).ok().map(PointValue::Found);
    }
    Some(match kaplan_meier(observations).ok()?.percentile(0.5).ok()? {
        Observation::Found(value) => PointValue::Found(value),
        Observation::Below(bound) => PointValue::LessThan(bound),
        Observation::Above(bound) => PointValue::MoreThan(bound),
    })
}

fn mean_of(observations: &[Observation], numbers: &[f64]) -> SeriesMean {
    if numbers.len() == observations.len() {
        return mean(numbers).map_or_else(|error| SeriesMean::NotStated(error.into()), SeriesMean::Plain);
    }
    match kaplan_meier(observations).map(|estimate| estimate.mean()) {
        Err(error) => SeriesMean::NotStated(error.into()),
        Ok(between) => {
            let line = order_regression(observations, Shape::LogNormal, BLOM).ok();
            let has_enough =
                numbers.len() >= FEWEST_FOR_REGRESSION && 2 * numbers.len() >= observations.len();
            // Beyond what the bounds allow, the shape is wrong.
            let is_possible = |mean: &f64| (between.at_least..=between.at_most).contains(mean);
            SeriesMean::Censored {
                at_least: between.at_least,
                at_most: between.at_most,
                by_regression: line.filter(|_| has_enough).map(|line| line.mean).filter(is_possible),
            }
        }
    }
}

impl SeriesSummary {
    /// How many readings there are, and their median.
    pub fn count_words(&self, unit: &str) -> String {
        wording::counts(self, unit)
    }

    /// The series in a sentence.
    pub fn words(&self, unit: &str) -> String {
        wording::summary(self, unit)
    }
}

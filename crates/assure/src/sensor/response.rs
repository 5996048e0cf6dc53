//! How a reading follows an abrupt change: delay, response, rise or fall.

use crate::QualityError;
use crate::quality_error::{must_be_finite, must_have, must_lie_between};

/// The abrupt change that was made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// When it was made, s.
    pub at_s: f64,
    /// Reading before it, as it had settled.
    pub from: f64,
    /// Reading after it, as it settled.
    pub to: f64,
}

/// How the reading followed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Response {
    /// From the change until the reading has moved by 10 % of it for the first time, s.
    pub delay_s: f64,
    /// Whether the first reading after the change had moved by as much already: the delay is shorter than stated.
    pub delay_is_bound: bool,
    /// From the change until the reading stays between 90 % and 110 % of it, s; none where it does not come to stay within the
    /// record.
    pub response_s: Option<f64>,
    /// Response less delay, s: rise time of a change upwards, fall time of one downwards.
    pub rise_or_fall_s: Option<f64>,
    /// Largest share of the change that was reached: above 1.1 is an overshoot that delays the response.
    pub largest_share: f64,
    /// From the change to the last reading, s.
    pub watched_s: f64,
}

/// Delay and response to an abrupt change, by lines between the readings.
///
/// # Units
/// Times in s, rising; readings in any one unit.
///
/// # Errors
/// [`QualityError::LengthMismatch`], [`QualityError::TooFew`] below three readings, [`QualityError::NotFinite`],
/// [`QualityError::TimesNotRising`], and [`QualityError::Unusable`] for a step of no height or one of which the record shows nothing.
///
/// # Source
/// ISO 15839:2003, clause 3 (from memory): 10 % and the band of 90 % to 110 %; IUPAC Gold Book R05346 (90 %).
///
/// # Example
/// ```
/// use stillwell_assure::sensor::{Step, response};
/// let times: Vec<f64> = (0..=30).map(|i| 10.0 * f64::from(i)).collect();
/// let readings: Vec<f64> = times.iter().map(|t| 80.0 - 60.0 * libm::exp(-t / 30.0)).collect();
/// let found = response(&times, &readings, Step { at_s: 0.0, from: 20.0, to: 80.0 })?;
/// assert!((found.response_s.unwrap() - 69.1).abs() < 0.6);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn response(times_s: &[f64], readings: &[f64], step: Step) -> Result<Response, QualityError> {
    let what = "readings after the change";
    if times_s.len() != readings.len() {
        return Err(QualityError::LengthMismatch { what, found: readings.len(), expected: times_s.len() });
    }
    must_have(what, readings.len(), 3)?;
    must_be_finite("the times", times_s)?;
    must_be_finite(what, readings)?;
    must_be_finite("the change", &[step.at_s, step.from, step.to])?;
    if let Some(at) = times_s.windows(2).position(|pair| pair[1] <= pair[0]) {
        return Err(QualityError::TimesNotRising { what, place: at + 2 });
    }
    let height = step.to - step.from;
    must_lie_between(
        "the height of the change",
        height.abs(),
        (0.0, f64::INFINITY),
        "a change of some height",
    )?;
    let shares: Vec<(f64, f64)> = times_s
        .iter()
        .zip(readings)
        .filter(|(time, _)| **time >= step.at_s)
        .map(|(time, reading)| (time - step.at_s, (reading - step.from) / height))
        .collect();
    must_have("readings from the change on", shares.len(), 2)?;
    let delay_s = first_above(&shares, 0.1).ok_or(QualityError::Unusable {
        what: "the largest share of the change that any reading shows",
        found: shares.iter().map(|(_, share)| *share).fold(f64::NEG_INFINITY, f64::max),
        accepted: "a record that holds the change: more than 0.1",
    })?;
    let delay_is_bound = shares.first().is_some_and(|(_, share)| *share > 0.1);
    let response_s = stays_within(&shares, [0.9, 1.1]);
    Ok(Response {
        delay_s,
        delay_is_bound,
        response_s,
        rise_or_fall_s: response_s.map(|response| response - delay_s),
        largest_share: shares.iter().map(|(_, share)| *share).fold(f64::NEG_INFINITY, f64::max),
        watched_s: shares.last().map_or(0.0, |(time, _)| *time),
    })
}

fn between((t0, y0): (f64, f64), (t1, y1): (f64, f64), y: f64) -> f64 {
    if (y1 - y0).abs() > 0.0 { t0 + (t1 - t0) * (y - y0) / (y1 - y0) } else { t1 }
}

/// When the share first exceeds a line.
fn first_above(shares: &[(f64, f64)], line: f64) -> Option<f64> {
    let at = shares.iter().position(|(_, share)| *share > line)?;
    let here = shares[at];
    Some(at.checked_sub(1).map_or(here.0, |before| between(shares[before], here, line)))
}

/// When the share enters a band that it does not leave again.
fn stays_within(shares: &[(f64, f64)], [low, high]: [f64; 2]) -> Option<f64> {
    let is_out = |(_, share): &(f64, f64)| *share < low || *share > high;
    let Some(last_out) = shares.iter().rposition(is_out) else {
        return shares.first().map(|(time, _)| *time);
    };
    let next = shares.get(last_out + 1)?;
    let edge = if shares[last_out].1 < low { low } else { high };
    Some(between(shares[last_out], *next, edge))
}

impl Response {
    /// The figures in a sentence.
    pub fn words(&self) -> String {
        super::wording::response(self)
    }
}

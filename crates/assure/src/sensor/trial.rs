//! A sensor's trial: readings while it stands in solutions of known level, one after the other. From them come its figures.

use std::collections::BTreeMap;

use super::drift::{DayToDay, Drift, MemoryEffect, day_to_day, drift, memory_effect};
use super::near_zero::{NearZero, near_zero};
use super::response::{Response, Step, response};
use crate::QualityError;
use crate::quality_error::{must_be_finite, must_have};

/// One line of a trial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrialReading {
    /// When, s from any fixed time.
    pub at_s: f64,
    /// Level of the solution that the sensor stands in from now on.
    pub level: f64,
    /// What it reads; none marks the moment at which the solution was changed.
    pub reading: Option<f64>,
}

/// A change of the solution and how the reading followed.
#[derive(Debug, Clone, PartialEq)]
pub struct TriedStep {
    /// The change, with the readings before and after it as they had settled.
    pub step: Step,
    /// Levels before and after.
    pub levels: [f64; 2],
    /// Whether the trial states the moment of the change; else it is taken at the last reading before, and no time comes out too
    /// short.
    pub is_stated: bool,
    /// Times after the change and readings.
    pub followed: Vec<(f64, f64)>,
    /// How it followed, or why that cannot be said.
    pub response: Result<Response, QualityError>,
}

/// One level after two different ones.
#[derive(Debug, Clone, PartialEq)]
pub struct TriedMemory {
    /// The level.
    pub level: f64,
    /// The lowest and the highest level before it.
    pub before: [f64; 2],
    /// What the sensor remembers, or why that cannot be said.
    pub memory: Result<MemoryEffect, QualityError>,
}

/// A figure at one level.
#[derive(Debug, Clone, PartialEq)]
pub struct AtLevel<T> {
    /// The level.
    pub level: f64,
    /// The figure, or why there is none.
    pub found: Result<T, QualityError>,
}

/// Everything that a trial shows of a sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct SensorTrial {
    /// The working range that drift is related to, in the unit of the readings.
    pub working_range: Option<[f64; 2]>,
    /// Every change of the solution, in order of time.
    pub steps: Vec<TriedStep>,
    /// Every level that came after two different ones.
    pub memories: Vec<TriedMemory>,
    /// Every level that was watched for an hour or longer.
    pub drifts: Vec<AtLevel<Drift>>,
    /// Every level that was measured on several days.
    pub days: Vec<AtLevel<DayToDay>>,
    /// The solution of level zero.
    pub near_zero: Option<Result<NearZero, QualityError>>,
}

/// A stretch in one solution.
#[derive(Debug, Clone)]
struct Stretch {
    level: f64,
    /// When the solution was changed, where the trial says so.
    changed_s: Option<f64>,
    readings: Vec<(f64, f64)>,
}

/// A gap this many times as long as the one before ends a stretch: the sensor was elsewhere.
const LONG_GAP: f64 = 10.0;

/// Shortest watch from which a drift is stated, h.
const SHORTEST_WATCH_H: f64 = 1.0;

const SECONDS_OF_DAY: f64 = 86_400.0;

/// The figures of a trial.
///
/// A stretch ends where the level changes, at a line without a reading, and at a gap more than ten times as long as the one before. Its later half counts as
/// settled: common practice, no source; whether it had settled is for the reader, who is told how long it was watched.
///
/// # Units
/// Times in s, rising; readings in one unit; levels in one unit of their own. Without a stated `working_range` it is the span of the
/// settled readings at the lowest and the highest level.
///
/// # Errors
/// [`QualityError::TooFew`] below two readings, [`QualityError::NotFinite`], [`QualityError::TimesNotRising`]. What a single figure
/// lacks stands beside it.
///
/// # Source
/// ISO 15839:2003, clauses 3 and 5 (from memory); each figure's function names its own.
///
/// # Example
/// ```
/// use stillwell_assure::sensor::{TrialReading, sensor_trial};
/// let line = |at_s: f64, level: f64, reading| TrialReading { at_s, level, reading };
/// let mut lines = vec![line(0.0, 20.0, Some(20.1)), line(10.0, 20.0, Some(19.9)), line(11.0, 80.0, None)];
/// lines.extend((1..60).map(|i| {
///     let t = 5.0 * f64::from(i);
///     line(11.0 + t, 80.0, Some(80.0 - 60.0 * libm::exp(-t / 30.0)))
/// }));
/// let found = sensor_trial(&lines, None)?;
/// let response = found.steps[0].response.as_ref().unwrap();
/// assert!((response.response_s.unwrap() - 69.1).abs() < 1.0 && found.steps[0].is_stated);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn sensor_trial(
    lines: &[TrialReading],
    working_range: Option<[f64; 2]>,
) -> Result<SensorTrial, QualityError> {
    let times: Vec<f64> = lines.iter().map(|line| line.at_s).collect();
    must_be_finite("the times of the trial", &times)?;
    if let Some(at) = times.windows(2).position(|pair| pair[1] <= pair[0]) {
        return Err(QualityError::TimesNotRising { what: "the trial", place: at + 2 });
    }
    let numbers: Vec<f64> =
        lines.iter().flat_map(|line| [Some(line.level), line.reading]).flatten().collect();
    must_be_finite("the trial", &numbers)?;
    must_have("readings of the trial", lines.iter().filter(|line| line.reading.is_some()).count(), 2)?;
    let stretches = stretches(lines);
    let working_range = working_range.or_else(|| spanned(&stretches));
    Ok(SensorTrial {
        steps: steps(&stretches),
        memories: memories(&stretches),
        drifts: drifts(&stretches, working_range),
        days: days(&stretches),
        near_zero: at_zero(&stretches),
        working_range,
    })
}

fn stretches(lines: &[TrialReading]) -> Vec<Stretch> {
    let mut found: Vec<Stretch> = Vec::new();
    for line in lines {
        match (found.last_mut(), line.reading) {
            (Some(stretch), Some(reading)) if stretch.takes(line) => {
                stretch.readings.push((line.at_s, reading));
            }
            (_, reading) => found.push(Stretch {
                level: line.level,
                changed_s: reading.is_none().then_some(line.at_s),
                readings: reading.map(|reading| (line.at_s, reading)).into_iter().collect(),
            }),
        }
    }
    found.retain(|stretch| !stretch.readings.is_empty());
    found
}

impl Stretch {
    /// Whether a reading goes on with it: the same level, and no gap many times as long as the one before.
    fn takes(&self, line: &TrialReading) -> bool {
        let is_soon = match self.readings.as_slice() {
            [.., (before, _), (last, _)] => line.at_s - last <= LONG_GAP * (last - before),
            _ => true,
        };
        self.level.to_bits() == line.level.to_bits() && is_soon
    }

    /// The later half of its readings.
    fn settled(&self) -> &[(f64, f64)] {
        &self.readings[self.readings.len() / 2..]
    }

    fn settled_mean(&self) -> f64 {
        let settled = self.settled();
        settled.iter().map(|(_, reading)| reading).sum::<f64>() / settled.len().max(1) as f64
    }
}

fn spanned(stretches: &[Stretch]) -> Option<[f64; 2]> {
    let by_level = |a: &&Stretch, b: &&Stretch| a.level.total_cmp(&b.level);
    let low = stretches.iter().min_by(by_level)?;
    let high = stretches.iter().max_by(by_level)?;
    let ends = [low.settled_mean(), high.settled_mean()];
    (high.level > low.level).then_some(ends)
}

fn steps(stretches: &[Stretch]) -> Vec<TriedStep> {
    let changes = stretches.windows(2).filter(|pair| pair[0].level.to_bits() != pair[1].level.to_bits());
    changes
        .map(|pair| {
            let (from, to) = (&pair[0], &pair[1]);
            let last_before = from.readings.last().map_or(0.0, |(at, _)| *at);
            let at_s = to.changed_s.unwrap_or(last_before);
            let step = Step { at_s, from: from.settled_mean(), to: to.settled_mean() };
            let (times, readings): (Vec<f64>, Vec<f64>) = to.readings.iter().copied().unzip();
            TriedStep {
                step,
                levels: [from.level, to.level],
                is_stated: to.changed_s.is_some(),
                followed: to.readings.iter().map(|(at, reading)| (at - at_s, *reading)).collect(),
                response: response(&times, &readings, step),
            }
        })
        .collect()
}

/// The settled readings of each stretch, with the level before it, by level.
fn by_level(stretches: &[Stretch]) -> BTreeMap<u64, Vec<(Option<f64>, &Stretch)>> {
    let mut levels: BTreeMap<u64, Vec<(Option<f64>, &Stretch)>> = BTreeMap::new();
    for (at, stretch) in stretches.iter().enumerate() {
        let before = at.checked_sub(1).and_then(|at| stretches.get(at)).map(|before| before.level);
        let before = before.filter(|level| level.to_bits() != stretch.level.to_bits());
        levels.entry(stretch.level.to_bits()).or_default().push((before, stretch));
    }
    levels
}

fn memories(stretches: &[Stretch]) -> Vec<TriedMemory> {
    let mut found: Vec<TriedMemory> = Vec::new();
    for (level, of_level) in by_level(stretches) {
        let before = || of_level.iter().filter_map(|(before, _)| *before);
        let (Some(low), Some(high)) = (before().reduce(f64::min), before().reduce(f64::max)) else {
            continue;
        };
        if low >= high {
            continue;
        }
        let settled = |wanted: f64| -> Vec<f64> {
            let meant = of_level
                .iter()
                .filter(|(before, _)| before.is_some_and(|level| level.to_bits() == wanted.to_bits()));
            meant.flat_map(|(_, stretch)| stretch.settled()).map(|(_, reading)| *reading).collect()
        };
        let reading_at = |level: f64| {
            let stretch = stretches.iter().find(|stretch| stretch.level.to_bits() == level.to_bits());
            stretch.map(Stretch::settled_mean)
        };
        let step = reading_at(low).zip(reading_at(high)).map(|(low, high)| high - low);
        let memory = memory_effect(&settled(low), &settled(high), step);
        found.push(TriedMemory { level: f64::from_bits(level), before: [low, high], memory });
    }
    found
}

fn drifts(stretches: &[Stretch], working_range: Option<[f64; 2]>) -> Vec<AtLevel<Drift>> {
    let watched_h = |stretch: &Stretch| {
        let ends = stretch.settled().first().zip(stretch.settled().last());
        ends.map_or(0.0, |((first, _), (last, _))| (last - first) / 3600.0)
    };
    let mut found = Vec::new();
    for (level, of_level) in by_level(stretches) {
        let longest = of_level.iter().map(|(_, stretch)| *stretch);
        let longest = longest.max_by(|a, b| watched_h(a).total_cmp(&watched_h(b)));
        let Some(stretch) = longest.filter(|stretch| watched_h(stretch) >= SHORTEST_WATCH_H) else {
            continue;
        };
        let (hours, readings): (Vec<f64>, Vec<f64>) =
            stretch.settled().iter().map(|(at, reading)| (at / 3600.0, *reading)).unzip();
        let range = working_range.map_or(0.0, |[low, high]| (high - low).abs());
        found.push(AtLevel { level: f64::from_bits(level), found: drift(&hours, &readings, range) });
    }
    found
}

/// A level that came after another one is another question: the group of one level before with most days counts.
fn days(stretches: &[Stretch]) -> Vec<AtLevel<DayToDay>> {
    let mut found = Vec::new();
    for (level, of_level) in by_level(stretches) {
        let mut groups: BTreeMap<Option<u64>, BTreeMap<i64, Vec<f64>>> = BTreeMap::new();
        for (before, stretch) in of_level {
            let days = groups.entry(before.map(f64::to_bits)).or_default();
            for (at, reading) in stretch.settled() {
                #[expect(clippy::cast_possible_truncation, reason = "a count of days")]
                let day = libm::floor(at / SECONDS_OF_DAY) as i64;
                days.entry(day).or_default().push(*reading);
            }
        }
        let most = groups.into_values().max_by_key(BTreeMap::len);
        if let Some(days) = most.filter(|days| days.len() > 1) {
            let days: Vec<Vec<f64>> = days.into_values().collect();
            found.push(AtLevel { level: f64::from_bits(level), found: day_to_day(&days) });
        }
    }
    found
}

fn at_zero(stretches: &[Stretch]) -> Option<Result<NearZero, QualityError>> {
    let zeros = stretches.iter().filter(|stretch| stretch.level.abs() <= 0.0);
    let readings: Vec<f64> = zeros.flat_map(Stretch::settled).map(|(_, reading)| *reading).collect();
    (!readings.is_empty()).then(|| near_zero(&readings))
}

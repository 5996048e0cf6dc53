//! What a station's readings show: a series with its findings and exceedances, or the figures of a sensor's trial.

use stillwell_assure::sensor::{
    Drift, Exceedances, MemoryEffect, SensorTrial, SeriesFinding, SeriesReading, SeriesSettings,
    SeriesSummary, exceedances, look_over, sensor_trial, series_summary,
};
use stillwell_assure::{AssureError, NamedLimit, QualityError, shipped_limits};

use crate::station_file::{Station, StationReadings, StationUnit};

/// What a person asks.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StationAsked {
    /// Limits to count exceedances of; without any, every shipped one of the same substance.
    pub limits: Vec<NamedLimit>,
    /// The working range that drift is related to, in the unit of the readings; without it, the span of the trial.
    pub working_range: Option<[f64; 2]>,
}

/// A station's series of daily readings.
#[derive(Debug, Clone, PartialEq)]
pub struct SeriesReview {
    /// The readings.
    pub readings: Vec<SeriesReading>,
    /// Counts and centre.
    pub summary: SeriesSummary,
    /// Gaps, stuck stretches, readings that stand alone or far; or why nothing can be looked for.
    pub findings: Result<Vec<SeriesFinding>, QualityError>,
    /// How often each limit was exceeded, with its identity; none for a signal that is no concentration.
    pub exceedances: Vec<(String, Exceedances)>,
}

/// What kind of readings, and what they show.
#[derive(Debug, Clone, PartialEq)]
pub enum StationFound {
    /// Of a series.
    Series(SeriesReview),
    /// Of a trial, or why there is nothing.
    Trial(Result<SensorTrial, QualityError>),
}

/// One station.
#[derive(Debug, Clone, PartialEq)]
pub struct StationReview {
    /// Its name; empty where not stated.
    pub name: String,
    /// What it reads: the substance, or a signal.
    pub quantity: String,
    /// The unit of its readings, as it is shown.
    pub unit: String,
    /// The unit of a trial's levels.
    pub level_unit: String,
    /// What was found.
    pub found: StationFound,
}

/// Reviews a station.
///
/// # Units
/// Those of the station's readings.
///
/// # Errors
/// [`AssureError`] where a limit that was asked for cannot be brought to the unit and species of the readings.
///
/// # Source
/// [`series_summary`], [`look_over`], [`exceedances`], [`sensor_trial`].
pub fn station_review(station: &Station, asked: &StationAsked) -> Result<StationReview, AssureError> {
    let found = match &station.readings {
        StationReadings::Trial(lines) => StationFound::Trial(sensor_trial(lines, asked.working_range)),
        StationReadings::Series(readings) => StationFound::Series(SeriesReview {
            summary: series_summary(readings),
            findings: look_over(readings, SeriesSettings::default()),
            exceedances: counted(station, readings, &asked.limits)?,
            readings: readings.clone(),
        }),
    };
    Ok(StationReview {
        name: station.name.clone(),
        quantity: match &station.unit {
            StationUnit::Concentration(kind) => kind.species.analyte().name().to_owned(),
            StationUnit::Signal(_) => "signal".to_owned(),
        },
        unit: station.unit.to_string(),
        level_unit: station.level_unit.clone(),
        found,
    })
}

fn counted(
    station: &Station,
    readings: &[SeriesReading],
    limits: &[NamedLimit],
) -> Result<Vec<(String, Exceedances)>, AssureError> {
    let StationUnit::Concentration(kind) = &station.unit else { return Ok(Vec::new()) };
    let one = |limit: &NamedLimit| Ok((limit.id().to_owned(), exceedances(readings, kind, limit)?));
    if !limits.is_empty() {
        return limits.iter().map(one).collect();
    }
    // Of the shipped limits those of another substance do not apply.
    Ok(shipped_limits().iter().filter_map(|limit| one(limit).ok()).collect())
}

impl StationReview {
    /// Whether someone must look: an exceedance or one that cannot be excluded, a finding other than a gap, too few readings to look
    /// for any, a sensor that drifts, remembers, or does not settle.
    pub fn needs_attention(&self) -> bool {
        match &self.found {
            StationFound::Series(review) => {
                let is_more = |found: &SeriesFinding| !matches!(found, SeriesFinding::Gap { .. });
                review.findings.as_ref().map_or(true, |all| all.iter().any(is_more))
                    || review.exceedances.iter().any(|(_, found)| found.n_above + found.n_undecided > 0)
            }
            StationFound::Trial(Err(_)) => true,
            StationFound::Trial(Ok(trial)) => {
                let is_slow = trial.steps.iter().any(|tried| {
                    tried.response.as_ref().map_or(true, |response| response.response_s.is_none())
                });
                let drifts = trial.drifts.iter().filter_map(|one| one.found.as_ref().ok());
                let memories = trial.memories.iter().filter_map(|one| one.memory.as_ref().ok());
                is_slow
                    || drifts.into_iter().any(Drift::is_seen)
                    || memories.into_iter().any(MemoryEffect::is_seen)
            }
        }
    }
}

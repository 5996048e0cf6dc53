//! Sensors that stay in the water: how fast they follow, what they remember, how they drift, and what is wrong with their series.
//!
//! In: readings against time. Out: of a trial in known solutions the figures of ISO 15839 ([`sensor_trial`], from [`response`],
//! [`memory_effect`], [`drift`], [`day_to_day`], [`near_zero`]); of a station's series of years its mean and median with bounds carried as
//! bounds ([`series_summary`]), gaps, stuck stretches, readings that stand alone, and how often a limit was exceeded ([`look_over`],
//! [`exceedances`]). Nothing is mended or left out: findings are told, and the reader decides.

mod drift;
mod near_zero;
mod response;
mod series;
mod series_findings;
mod summary;
mod trial;
mod wording;

pub use drift::{DayToDay, Drift, MemoryEffect, day_to_day, drift, memory_effect};
pub use near_zero::{NearZero, near_zero};
pub use response::{Response, Step, response};
pub use series::{Exceedances, SeriesReading, exceedances};
pub use series_findings::{SeriesFinding, SeriesSettings, StandsAlone, look_over};
pub use summary::{SeriesMean, SeriesSummary, series_summary};
pub use trial::{AtLevel, SensorTrial, TrialReading, TriedMemory, TriedStep, sensor_trial};

//! Potentials of an ion-selective electrode: line against log activity, bend at low levels, other ions, settling.
//!
//! In go [`IonReading`]s of **one** electrode, each a settled potential (see [`plateau`]); electrodes differ by millivolts in
//! their constant, so each has its own line. Start with [`log_line`]; [`low_level_bend`] and [`intersection_limit`] say how far
//! down it holds, [`nikolsky_eisenman`] what other ions do. Activities are in mol/L; where ionic strength is held the same in all
//! solutions, concentrations may stand in their place, and results are then concentrations too.
//!
//! # Source
//! IUPAC Recommendations 1994 (Buck & Lindner, Pure Appl. Chem. 66, 2527) and 1976 (Pure Appl. Chem. 48, 127).

mod error;
mod intersection_limit;
mod log_line;
mod low_level_bend;
mod nernst;
mod nikolsky_eisenman;
mod plateau;
mod response;

pub use error::PotentiometryError;
pub use intersection_limit::{IntersectionLimit, intersection_limit};
pub use log_line::{IonActivity, LogLine, log_line};
pub use low_level_bend::{LowLevelBend, low_level_bend};
pub use nernst::{
    NernstComparison, NernstConditions, NernstVerdict, compare_with_nernst, nernst_slope_v_per_decade,
};
pub use nikolsky_eisenman::{
    Interferent, NikolskyEisenman, Selectivity, SelectivityFit, fixed_interference_selectivity,
    nikolsky_eisenman,
};
pub use plateau::{Plateau, PlateauSettings, PlateauVerdict, plateau};

use stillwell_stats::distributions::student_t_quantile;

/// One settled potential of the electrode in one solution.
#[derive(Debug, Clone, PartialEq)]
pub struct IonReading {
    /// Which reading, for messages.
    pub label: String,
    /// Activity of the ion that the electrode is for, mol/L.
    pub activity: f64,
    /// Activities of the other ions that count, mol/L, in the order of the fit's interferents; empty for a line.
    pub interferents: Vec<f64>,
    /// Against the same reference electrode throughout, V.
    pub potential_v: f64,
}

/// An estimate with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IntervalEstimate {
    /// The estimate.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl IntervalEstimate {
    fn of(value: f64, standard_error: f64, t: f64) -> Self {
        let half_width = t * standard_error;
        Self { value, standard_error, low: value - half_width, high: value + half_width }
    }
}

/// Below this the residuals are the rounding of the potentials themselves.
const SMALLEST_SCATTER_V: f64 = 1e-12;

fn require_scatter(residual_sd_v: f64) -> Result<(), PotentiometryError> {
    if residual_sd_v > SMALLEST_SCATTER_V {
        return Ok(());
    }
    Err(PotentiometryError::NoScatter { residual_sd_v })
}

fn require_coverage(found: f64) -> Result<(), PotentiometryError> {
    if (0.5..=0.9999).contains(&found) {
        return Ok(());
    }
    Err(PotentiometryError::CoverageNotUsable { found })
}

fn two_sided_t(coverage: f64, degrees_of_freedom: f64) -> f64 {
    student_t_quantile(0.5 * (1.0 + coverage), degrees_of_freedom)
}

/// Finite potentials, positive activities, as many interferents as the fit has.
fn require_usable(readings: &[IonReading], n_interferents: usize) -> Result<(), PotentiometryError> {
    let not_usable = |reading: &IonReading, what, found, accepted| {
        Err(PotentiometryError::NotUsable { label: reading.label.clone(), what, found, accepted })
    };
    for reading in readings {
        if !reading.potential_v.is_finite() {
            return not_usable(reading, "potential", reading.potential_v, "a finite number");
        }
        if !(reading.activity > 0.0 && reading.activity.is_finite()) {
            return not_usable(reading, "activity", reading.activity, "a number above 0");
        }
        if reading.interferents.len() != n_interferents {
            let (label, found) = (reading.label.clone(), reading.interferents.len());
            return Err(PotentiometryError::InterferentsMissing { label, found, expected: n_interferents });
        }
        if let Some(&found) = reading.interferents.iter().find(|a| !(**a >= 0.0 && a.is_finite())) {
            return not_usable(reading, "activity of another ion", found, "a number from 0");
        }
    }
    Ok(())
}

fn require_different_activities(readings: &[IonReading], needed: usize) -> Result<(), PotentiometryError> {
    let mut activities: Vec<f64> = readings.iter().map(|r| r.activity).collect();
    activities.sort_by(f64::total_cmp);
    activities.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * *b);
    let (what, found) = ("different activities", activities.len());
    if found < needed { Err(PotentiometryError::TooFewReadings { what, found, needed }) } else { Ok(()) }
}

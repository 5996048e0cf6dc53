//! Components of variance: what is known of electrodes, scans, lots and standards.

use super::error::PlanError;
use crate::calibration::Calibration;
use stillwell_stats::distributions::chi_squared_quantile;

/// How a lot of electrodes comes into a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LotUse {
    /// Each lot has its own calibration: what a lot has in common cancels.
    CalibratedEach,
    /// One calibration, made on some lots, serves further ones.
    CalibratedOnce {
        /// Lots in the calibration.
        lots: u32,
    },
}

/// Components of variance, in level units (signal over slope). Variances are polynomials `v0 + v1 x + v2 x²` of level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpreadComponents {
    /// Between electrodes of one lot.
    pub electrode_variance: [f64; 3],
    /// Between scans of one electrode.
    pub scan_variance: [f64; 3],
    /// Relative standard deviation of sensitivity between lots.
    pub lot_relative_sd: f64,
    /// How lots come in.
    pub lot_use: LotUse,
    /// Relative standard uncertainty of the standards' levels, common to them.
    pub standards_relative_u: f64,
    /// Relative standard uncertainties of further corrections: temperature, dilution, recovery.
    pub further_relative_u: f64,
}

impl SpreadComponents {
    /// Components from calibrations at hand: the median of each over them; lots and relative parts are stated by the caller.
    ///
    /// Each calibration's variances are those that it gives to samples: a variance function fitted to few electrodes widens
    /// them, as it will in the calibration that is planned. A promise from the true variances would be too small by 11 to 17 %.
    /// The median, freed of the part in it that every estimated variance has (that of χ² over its degrees of freedom), since the
    /// promise is a median too.
    ///
    /// # Units
    /// Level units of the calibrations.
    ///
    /// # Errors
    /// [`PlanError::ElectrodesUnknown`] where no level of any calibration has two electrodes.
    ///
    /// # Source
    /// [`crate::ElectrodeComponents`] at unit weight times the curve's variance function, over the slope at the mean level. What
    /// the promise is then worth is measured by simulation in this room's tests: 0.96 to 1.03 of what studies then state; up to 1.11
    /// where the spread at level zero is a hundredth of that at the top, which a fitted function does not grant.
    pub fn from_calibrations(
        calibrations: &[&Calibration],
        lot_relative_sd: f64,
        lot_use: LotUse,
        standards_relative_u: f64,
        further_relative_u: f64,
    ) -> Result<Self, PlanError> {
        let telling = |calibration: &&&Calibration| calibration.components.electrode_degrees_of_freedom > 0;
        let telling: Vec<&Calibration> = calibrations.iter().filter(telling).copied().collect();
        if telling.is_empty() {
            return Err(PlanError::ElectrodesUnknown);
        }
        let median_of = |variance_and_df: fn(&Calibration) -> (f64, usize)| {
            [0, 1, 2].map(|place: usize| {
                median(telling.iter().map(|calibration| {
                    let (variance_a2, df) = variance_and_df(calibration);
                    let slope = calibration.statistics.sensitivity_a_per_level;
                    let share = calibration.curve.relative_variance.get(place).copied().unwrap_or(0.0);
                    share * freed_of_chance(variance_a2, df) / (slope * slope)
                }))
            })
        };
        Ok(Self {
            electrode_variance: median_of(|made| {
                (made.components.electrode_variance_a2, made.components.electrode_degrees_of_freedom)
            }),
            scan_variance: median_of(|made| {
                (made.components.scan_variance_a2, made.components.scan_degrees_of_freedom)
            }),
            lot_relative_sd,
            lot_use,
            standards_relative_u,
            further_relative_u,
        })
    }

    /// Electrodes of one sample that count: one calibration for all lots counts a lot once, however many of its electrodes
    /// are measured.
    pub(super) fn counted_electrodes(&self, sample_electrodes: u32) -> f64 {
        match self.lot_use {
            LotUse::CalibratedEach => f64::from(sample_electrodes),
            LotUse::CalibratedOnce { .. } => 1.0,
        }
    }

    pub(super) fn electrode_variance_at(&self, level: f64) -> f64 {
        polynomial(self.electrode_variance, level)
    }

    pub(super) fn scan_variance_at(&self, level: f64) -> f64 {
        polynomial(self.scan_variance, level)
    }

    pub(super) fn electrode_mean_variance(&self, level: f64, scans: u32) -> f64 {
        self.electrode_variance_at(level) + self.scan_variance_at(level) / f64::from(scans)
    }

    /// Relative standard uncertainty from lots: of the sample's lot, and of the mean of the calibration's.
    pub(super) fn lot_u(&self) -> f64 {
        match self.lot_use {
            LotUse::CalibratedEach => 0.0,
            LotUse::CalibratedOnce { lots } => self.lot_relative_sd * libm::sqrt(1.0 + 1.0 / f64::from(lots)),
        }
    }

    pub(super) fn check(&self, lowest_level: f64) -> Result<(), PlanError> {
        let refused = |what, found, accepted| Err(PlanError::NotUsable { what, found, accepted });
        let all = self.electrode_variance.into_iter().chain(self.scan_variance);
        if let Some(found) = all.clone().find(|v| !(v.is_finite() && *v >= 0.0)) {
            return refused("a component of variance", found, "a number of 0 or more");
        }
        let lowest = self.electrode_mean_variance(lowest_level, 1);
        if lowest <= 0.0 {
            return refused(
                "the variance at the lowest level",
                lowest,
                "a number above 0: no electrode is exact",
            );
        }
        let relative = [self.lot_relative_sd, self.standards_relative_u, self.further_relative_u];
        if let Some(found) = relative.into_iter().find(|u| !(u.is_finite() && *u >= 0.0)) {
            return refused("a relative uncertainty", found, "a number of 0 or more");
        }
        match self.lot_use {
            LotUse::CalibratedOnce { lots: 0 } => {
                refused("the number of lots in the calibration", 0.0, "1 or more")
            }
            _ => Ok(()),
        }
    }
}

/// An estimated variance lies below the true one more often than above; this is what it is to have the true one as median.
fn freed_of_chance(variance: f64, degrees_of_freedom: usize) -> f64 {
    match degrees_of_freedom {
        0 => variance,
        df => variance * df as f64 / chi_squared_quantile(0.5, df as f64),
    }
}

/// Of an even number the mean of the middle two.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let at = |place: usize| sorted.get(place).copied().unwrap_or(0.0);
    let n = sorted.len();
    if n % 2 == 1 { at(n / 2) } else { 0.5 * (at((n / 2).saturating_sub(1)) + at(n / 2)) }
}

fn polynomial([v0, v1, v2]: [f64; 3], level: f64) -> f64 {
    v0 + level * (v1 + level * v2)
}

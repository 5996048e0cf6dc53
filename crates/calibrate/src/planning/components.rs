//! Components of variance: what is known of electrodes, scans, lots and standards.

use super::error::PlanError;
use crate::calibration::Calibration;

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
    /// Components from a calibration at hand; lots and relative parts are stated by the caller.
    ///
    /// # Units
    /// Level units of the calibration.
    ///
    /// # Errors
    /// [`PlanError::ElectrodesUnknown`] where no level has two electrodes.
    ///
    /// # Source
    /// [`crate::ElectrodeComponents`] at unit weight times the curve's variance function, over the slope at the mean level.
    pub fn from_calibration(
        calibration: &Calibration,
        lot_relative_sd: f64,
        lot_use: LotUse,
        standards_relative_u: f64,
        further_relative_u: f64,
    ) -> Result<Self, PlanError> {
        let found = &calibration.components;
        if found.electrode_degrees_of_freedom == 0 {
            return Err(PlanError::ElectrodesUnknown);
        }
        let slope = calibration.statistics.sensitivity_a_per_level;
        let in_levels = |variance_a2: f64| {
            calibration.curve.relative_variance.map(|share| share * variance_a2 / (slope * slope))
        };
        Ok(Self {
            electrode_variance: in_levels(found.electrode_variance_a2),
            scan_variance: in_levels(found.scan_variance_a2),
            lot_relative_sd,
            lot_use,
            standards_relative_u,
            further_relative_u,
        })
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

    pub(super) fn check(&self) -> Result<(), PlanError> {
        let refused = |what, found, accepted| Err(PlanError::NotUsable { what, found, accepted });
        let all = self.electrode_variance.into_iter().chain(self.scan_variance);
        if let Some(found) = all.clone().find(|v| !(v.is_finite() && *v >= 0.0)) {
            return refused("a component of variance", found, "a number of 0 or more");
        }
        let [at_zero, ..] = self.electrode_variance;
        let [of_scans, ..] = self.scan_variance;
        if at_zero + of_scans <= 0.0 {
            return refused(
                "the variance at level zero",
                at_zero + of_scans,
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

fn polynomial([v0, v1, v2]: [f64; 3], level: f64) -> f64 {
    v0 + level * (v1 + level * v2)
}

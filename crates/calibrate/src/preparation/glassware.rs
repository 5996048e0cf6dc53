//! Flasks, pipettes and balances with what they may be off by; tables of class A tolerances.

use super::error::PreparationError;

/// A flask with one mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flask {
    /// Nominal volume.
    pub volume_ml: f64,
    /// Half width of the tolerance of its calibration.
    pub tolerance_ml: f64,
    /// Standard deviation of filling to the mark.
    pub filling_sd_ml: f64,
}

/// A glass pipette of one volume.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pipette {
    /// Nominal volume.
    pub volume_ml: f64,
    /// Half width of the tolerance of its calibration.
    pub tolerance_ml: f64,
    /// Standard deviation of one delivery.
    pub delivery_sd_ml: f64,
}

/// An adjustable pipette with a piston.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PistonPipette {
    /// Smallest volume that can be set.
    pub from_ml: f64,
    /// Largest volume that can be set: the nominal one.
    pub to_ml: f64,
    /// Step in which the volume is set.
    pub step_ml: f64,
    /// Half width of the systematic error, the same over the range.
    pub systematic_ml: f64,
    /// Standard deviation of one delivery, the same over the range.
    pub random_ml: f64,
}

/// A balance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// Last digit.
    pub readability_mg: f64,
    /// Half width of the linearity, counted once for the tare and once for the gross weight.
    pub linearity_mg: f64,
    /// Standard deviation of a difference of two weighings.
    pub repeatability_mg: f64,
    /// Smallest amount that is weighed on it.
    pub smallest_mass_mg: f64,
}

/// What stands on the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    /// Flasks, each counted as one piece of glass that is used again.
    pub flasks: Vec<Flask>,
    /// Glass pipettes.
    pub pipettes: Vec<Pipette>,
    /// Adjustable pipettes.
    pub piston_pipettes: Vec<PistonPipette>,
    /// The balance.
    pub balance: Balance,
}

/// Volume and tolerance of class A flasks, mL.
///
/// # Source
/// ISO 1042:1998, table of maximum permissible errors; from memory. The 100 mL flask agrees with EURACHEM QUAM:2012, A1.
pub const CLASS_A_FLASKS_ML: [(f64, f64); 11] = [
    (5.0, 0.025),
    (10.0, 0.025),
    (20.0, 0.04),
    (25.0, 0.04),
    (50.0, 0.06),
    (100.0, 0.10),
    (200.0, 0.15),
    (250.0, 0.15),
    (500.0, 0.25),
    (1000.0, 0.40),
    (2000.0, 0.60),
];

/// Volume and tolerance of class A pipettes with one mark, mL.
///
/// # Source
/// ISO 648:2008, table of maximum permissible errors; from memory.
pub const CLASS_A_PIPETTES_ML: [(f64, f64); 10] = [
    (0.5, 0.005),
    (1.0, 0.008),
    (2.0, 0.010),
    (5.0, 0.015),
    (10.0, 0.020),
    (15.0, 0.025),
    (20.0, 0.030),
    (25.0, 0.030),
    (50.0, 0.050),
    (100.0, 0.080),
];

/// Nominal volume, systematic and random limit of adjustable pipettes, mL; both hold over the whole range.
///
/// # Source
/// ISO 8655-2, maximum permissible errors of air-displacement pipettes. Those of 1 mL (8 µL and 3 µL) were read in an article that quotes
/// them; the others from memory.
pub const PISTON_PIPETTES_ML: [(f64, f64, f64); 7] = [
    (0.02, 0.0002, 0.0001),
    (0.1, 0.0008, 0.0003),
    (0.2, 0.0016, 0.0006),
    (0.5, 0.004, 0.0015),
    (1.0, 0.008, 0.003),
    (5.0, 0.040, 0.015),
    (10.0, 0.060, 0.030),
];

/// Filling and delivery repeat within a fifth of the tolerance.
///
/// For the flask of 100 mL this is the 0.02 mL of EURACHEM QUAM:2012, A1; for other volumes common practice, no source.
const REPEATABILITY_PER_TOLERANCE: f64 = 0.2;

/// An adjustable pipette is set from a tenth of its nominal volume, in steps of a thousandth: common practice, no source.
const PISTON_RANGE: f64 = 0.1;
const PISTON_STEP: f64 = 0.001;

impl Flask {
    /// The class A flask of this volume.
    ///
    /// # Units
    /// mL.
    ///
    /// # Errors
    /// [`PreparationError::NotInTable`].
    ///
    /// # Source
    /// [`CLASS_A_FLASKS_ML`].
    ///
    /// # Example
    /// ```
    /// assert_eq!(stillwell_calibrate::Flask::class_a(100.0)?.tolerance_ml, 0.10);
    /// # Ok::<(), stillwell_calibrate::PreparationError>(())
    /// ```
    pub fn class_a(volume_ml: f64) -> Result<Self, PreparationError> {
        let tolerance_ml = look_up("flask", volume_ml, &CLASS_A_FLASKS_ML)?;
        Ok(Self { volume_ml, tolerance_ml, filling_sd_ml: REPEATABILITY_PER_TOLERANCE * tolerance_ml })
    }
}

impl Pipette {
    /// The class A pipette of this volume.
    ///
    /// # Units
    /// mL.
    ///
    /// # Errors
    /// [`PreparationError::NotInTable`].
    ///
    /// # Source
    /// [`CLASS_A_PIPETTES_ML`].
    pub fn class_a(volume_ml: f64) -> Result<Self, PreparationError> {
        let tolerance_ml = look_up("pipette", volume_ml, &CLASS_A_PIPETTES_ML)?;
        Ok(Self { volume_ml, tolerance_ml, delivery_sd_ml: REPEATABILITY_PER_TOLERANCE * tolerance_ml })
    }
}

impl PistonPipette {
    /// The adjustable pipette of this nominal volume within the limits of ISO 8655-2.
    ///
    /// # Units
    /// mL.
    ///
    /// # Errors
    /// [`PreparationError::NotInTable`].
    ///
    /// # Source
    /// [`PISTON_PIPETTES_ML`].
    pub fn within_iso_8655(to_ml: f64) -> Result<Self, PreparationError> {
        let pairs = PISTON_PIPETTES_ML.map(|(volume, systematic, _)| (volume, systematic));
        let systematic_ml = look_up("adjustable pipette", to_ml, &pairs)?;
        let random_ml =
            PISTON_PIPETTES_ML.iter().find(|(v, ..)| is_near(*v, to_ml)).map_or(f64::NAN, |row| row.2);
        Ok(Self {
            from_ml: PISTON_RANGE * to_ml,
            to_ml,
            step_ml: PISTON_STEP * to_ml,
            systematic_ml,
            random_ml,
        })
    }
}

impl Balance {
    /// Standard uncertainty of a weighed mass: repeatability, and twice (tare and gross) linearity and rounding, both rectangular.
    ///
    /// # Units
    /// mg.
    ///
    /// # Source
    /// EURACHEM QUAM:2012, A2 (linearity counted twice).
    ///
    /// # Example
    /// ```
    /// let balance = stillwell_calibrate::Balance {
    ///     readability_mg: 0.0, linearity_mg: 0.15, repeatability_mg: 0.0, smallest_mass_mg: 20.0,
    /// };
    /// assert!((balance.standard_u_mg() - 0.1225).abs() < 1e-4);
    /// ```
    pub fn standard_u_mg(&self) -> f64 {
        let linearity = self.linearity_mg * self.linearity_mg / 3.0;
        let rounding = self.readability_mg * self.readability_mg / 12.0;
        libm::sqrt(self.repeatability_mg * self.repeatability_mg + 2.0 * linearity + 2.0 * rounding)
    }
}

fn is_near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs()
}

fn look_up(what: &'static str, volume_ml: f64, table: &[(f64, f64)]) -> Result<f64, PreparationError> {
    table.iter().find(|(volume, _)| is_near(*volume, volume_ml)).map(|(_, tolerance)| *tolerance).ok_or_else(
        || {
            let known = table.iter().map(|(volume, _)| volume.to_string()).collect::<Vec<_>>().join(", ");
            PreparationError::NotInTable { what, volume_ml, known }
        },
    )
}

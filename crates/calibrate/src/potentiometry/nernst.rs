//! What theory expects of a slope, and whether a measured one keeps it.

use super::{IntervalEstimate, PotentiometryError};

/// Faraday constant, C/mol, and molar gas constant, J/(mol K): CODATA 2022, exact.
const FARADAY_C_PER_MOL: f64 = 96485.33212331001;
const GAS_CONSTANT_J_PER_MOL_K: f64 = 8.31446261815324;

/// The Nernst slope `R T ln 10 / (z F)`, V a decade: positive for cations, negative for anions.
///
/// # Errors
/// [`PotentiometryError::SettingNotUsable`] for a temperature outside 250 to 400 K or a charge outside ±1 to ±4.
///
/// # Source
/// IUPAC 1994 (Pure Appl. Chem. 66, 2527), Nernst equation; constants of CODATA 2022.
///
/// # Example
/// ```
/// let nitrate = stillwell_calibrate::nernst_slope_v_per_decade(298.15, -1)?;
/// assert!((nitrate + 0.05916).abs() < 1e-5);
/// # Ok::<(), stillwell_calibrate::PotentiometryError>(())
/// ```
pub fn nernst_slope_v_per_decade(temperature_k: f64, charge: i8) -> Result<f64, PotentiometryError> {
    if !(250.0..=400.0).contains(&temperature_k) {
        let accepted = "a temperature of liquid water in kelvin (250 to 400)";
        return Err(PotentiometryError::SettingNotUsable {
            setting: "the temperature",
            found: temperature_k,
            accepted,
        });
    }
    require_charge(charge)?;
    Ok(GAS_CONSTANT_J_PER_MOL_K * temperature_k * core::f64::consts::LN_10
        / (f64::from(charge) * FARADAY_C_PER_MOL))
}

pub(super) fn require_charge(charge: i8) -> Result<(), PotentiometryError> {
    if charge != 0 && charge.unsigned_abs() <= 4 {
        return Ok(());
    }
    let (found, accepted) = (f64::from(charge), "a charge from -4 to 4, not 0");
    Err(PotentiometryError::SettingNotUsable { setting: "the charge", found, accepted })
}

/// What a slope is held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NernstConditions {
    /// Temperature of the solutions, K.
    pub temperature_k: f64,
    /// Charge of the ion, with its sign.
    pub charge: i8,
    /// Smallest share of the theoretical slope that is accepted, %; 90 is common practice, no source.
    pub lowest_percent: f64,
    /// Largest share, %; 105 is common practice, no source.
    pub highest_percent: f64,
}

/// A measured slope beside the theoretical one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NernstComparison {
    /// `R T ln 10 / (z F)`.
    pub theoretical_v_per_decade: f64,
    /// The measured slope in % of it, with its interval; its standard error likewise.
    pub percent: IntervalEstimate,
    /// What that says.
    pub verdict: NernstVerdict,
}

/// Whether a slope keeps what is demanded; decided by the whole interval, not by the estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NernstVerdict {
    /// The whole interval lies within the demands.
    AsDemanded,
    /// The whole interval lies below the smallest share demanded.
    TooFlat,
    /// The whole interval lies above the largest share demanded.
    TooSteep,
    /// The slope has the sign of an ion of the other charge.
    WrongSign,
    /// The interval reaches over a demand, so neither keeping nor breaking it is shown.
    NotShown,
}

impl NernstVerdict {
    /// What the verdict means, and what to do.
    pub fn words(self) -> &'static str {
        match self {
            Self::AsDemanded => "The slope is what theory and the demands ask for.",
            Self::TooFlat => {
                "The slope is too flat: the membrane is worn or poisoned, the range reaches into the bend at low levels, or another ion answers. Renew the electrode or shorten the range."
            }
            Self::TooSteep => {
                "The slope is steeper than theory allows: the solutions differ in ionic strength or temperature, a standard is wrong, or the electrode had not settled."
            }
            Self::WrongSign => {
                "The slope has the wrong sign for this ion: look for exchanged leads, a wrong charge in the method, or exchanged standards."
            }
            Self::NotShown => {
                "The slope is not known well enough to say whether it keeps its demands: measure more solutions, over more decades."
            }
        }
    }
}

/// Holds a slope and its interval against the theoretical one.
///
/// # Units
/// `slope` in V a decade of activity.
///
/// # Errors
/// [`PotentiometryError::SettingNotUsable`] for an unusable temperature, charge or demand.
///
/// # Source
/// Equivalence by interval inclusion (Schuirmann 1987); the accepted shares are the caller's.
///
/// # Example
/// ```
/// use stillwell_calibrate::{IntervalEstimate, NernstConditions, NernstVerdict, compare_with_nernst};
/// let slope = IntervalEstimate { value: -0.0571, standard_error: 0.0004, low: -0.0581, high: -0.0561 };
/// let conditions = NernstConditions { temperature_k: 298.15, charge: -1, lowest_percent: 90.0, highest_percent: 105.0 };
/// let found = compare_with_nernst(&slope, &conditions)?;
/// assert!((found.percent.value - 96.52).abs() < 0.01 && found.verdict == NernstVerdict::AsDemanded);
/// # Ok::<(), stillwell_calibrate::PotentiometryError>(())
/// ```
pub fn compare_with_nernst(
    slope: &IntervalEstimate,
    conditions: &NernstConditions,
) -> Result<NernstComparison, PotentiometryError> {
    let NernstConditions { temperature_k, charge, lowest_percent, highest_percent } = *conditions;
    let theoretical = nernst_slope_v_per_decade(temperature_k, charge)?;
    if !(lowest_percent > 0.0 && lowest_percent < highest_percent && highest_percent.is_finite()) {
        return Err(PotentiometryError::SettingNotUsable {
            setting: "the smallest accepted share of the slope",
            found: lowest_percent,
            accepted: "a number above 0 and below the largest",
        });
    }
    let percent = |v: f64| 100.0 * v / theoretical;
    let (a, b) = (percent(slope.low), percent(slope.high));
    let percent = IntervalEstimate {
        value: percent(slope.value),
        standard_error: percent(slope.standard_error).abs(),
        low: a.min(b),
        high: a.max(b),
    };
    let verdict = if percent.high < 0.0 {
        NernstVerdict::WrongSign
    } else if percent.high < lowest_percent {
        NernstVerdict::TooFlat
    } else if percent.low > highest_percent {
        NernstVerdict::TooSteep
    } else if percent.low >= lowest_percent && percent.high <= highest_percent {
        NernstVerdict::AsDemanded
    } else {
        NernstVerdict::NotShown
    };
    Ok(NernstComparison { theoretical_v_per_decade: theoretical, percent, verdict })
}

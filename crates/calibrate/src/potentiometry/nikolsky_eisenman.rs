//! What other ions do to the potential: the Nikolsky–Eisenman equation, forwards and fitted.

use super::nernst::require_charge;
use super::response::Response;
use super::{IntervalEstimate, IonReading, PotentiometryError, require_coverage, require_usable};

/// An ion that the electrode answers to though it should not.
#[derive(Debug, Clone, PartialEq)]
pub struct Interferent {
    /// Its name, for messages.
    pub name: String,
    /// Its charge, with its sign: that of the ion the electrode is for.
    pub charge: i8,
}

/// How strongly an electrode answers to another ion.
#[derive(Debug, Clone, PartialEq)]
pub struct Selectivity {
    /// The other ion.
    pub interferent: Interferent,
    /// log₁₀ of its selectivity coefficient `K`; tables state it so.
    pub log10_coefficient: f64,
}

/// `E = E° + S log₁₀(a + Σ Kⱼ aⱼ^(z/zⱼ))` of one electrode.
#[derive(Debug, Clone, PartialEq)]
pub struct NikolskyEisenman {
    /// `E°`, V.
    pub standard_potential_v: f64,
    /// `S`, V a decade; negative for anions.
    pub slope_v_per_decade: f64,
    /// Charge `z` of the ion that the electrode is for.
    pub charge: i8,
    /// The other ions.
    pub selectivities: Vec<Selectivity>,
}

impl NikolskyEisenman {
    /// The potential in a solution, V. An activity of 0 is allowed where another ion carries the potential.
    ///
    /// # Units
    /// Activities in mol/L, those of the other ions in the order of `selectivities`.
    ///
    /// # Errors
    /// [`PotentiometryError::InterferentsMissing`] or [`PotentiometryError::NotUsable`] for unusable activities,
    /// [`PotentiometryError::SettingNotUsable`] for unusable charges.
    ///
    /// # Source
    /// IUPAC 1994 (Pure Appl. Chem. 66, 2527), Nikolsky–Eisenman equation.
    ///
    /// # Example
    /// ```
    /// use stillwell_calibrate::{Interferent, NikolskyEisenman, Selectivity};
    /// let chloride = Interferent { name: "chloride".into(), charge: -1 };
    /// let electrode = NikolskyEisenman { standard_potential_v: 0.1, slope_v_per_decade: -0.0592, charge: -1,
    ///     selectivities: vec![Selectivity { interferent: chloride, log10_coefficient: -2.3 }] };
    /// let pure = electrode.potential_v(1e-4, &[0.0])?;
    /// assert!(electrode.potential_v(1e-4, &[0.01])? < pure - 0.01); // chloride passes for nitrate
    /// # Ok::<(), stillwell_calibrate::PotentiometryError>(())
    /// ```
    pub fn potential_v(&self, activity: f64, interferents: &[f64]) -> Result<f64, PotentiometryError> {
        let label = || "the solution".to_owned();
        let (found, expected) = (interferents.len(), self.selectivities.len());
        if found != expected {
            return Err(PotentiometryError::InterferentsMissing { label: label(), found, expected });
        }
        let mut total = activity;
        for (selectivity, &other) in self.selectivities.iter().zip(interferents) {
            let term = selectivity.interferent.term(self.charge, other)?;
            total += libm::pow(10.0, selectivity.log10_coefficient) * term;
        }
        if !(total > 0.0 && total.is_finite() && activity >= 0.0) {
            let accepted = "activities from 0, one of them above";
            let what = "activity that counts";
            return Err(PotentiometryError::NotUsable { label: label(), what, found: total, accepted });
        }
        Ok(self.standard_potential_v + self.slope_v_per_decade * libm::log10(total))
    }
}

impl Interferent {
    /// `aⱼ^(z/zⱼ)`, which the selectivity coefficient multiplies.
    fn term(&self, charge: i8, activity: f64) -> Result<f64, PotentiometryError> {
        require_charge(charge)?;
        require_charge(self.charge)?;
        if (charge > 0) != (self.charge > 0) {
            return Err(PotentiometryError::SettingNotUsable {
                setting: "the charge of an interfering ion",
                found: f64::from(self.charge),
                accepted: "a charge of the sign of the ion that the electrode is for",
            });
        }
        if !(activity >= 0.0 && activity.is_finite()) {
            let (label, what, accepted) = (self.name.clone(), "activity", "a number from 0");
            return Err(PotentiometryError::NotUsable { label, what, found: activity, accepted });
        }
        Ok(libm::pow(activity, f64::from(charge) / f64::from(self.charge)))
    }
}

/// A fitted equation with what is known of its coefficients.
#[derive(Debug, Clone, PartialEq)]
pub struct SelectivityFit {
    /// The equation, with the estimates in it.
    pub equation: NikolskyEisenman,
    /// `E°`, V.
    pub standard_potential_v: IntervalEstimate,
    /// `S`, V a decade.
    pub slope_v_per_decade: IntervalEstimate,
    /// log₁₀ of the selectivity coefficients, in the order of the interferents.
    pub log10_coefficients: Vec<IntervalEstimate>,
    /// Standard deviation of a potential about the curve, V.
    pub residual_sd_v: f64,
    /// Readings minus coefficients.
    pub degrees_of_freedom: usize,
}

/// Fits `E°`, `S` and the selectivity coefficients to potentials in solutions with known activities of all ions.
///
/// The coefficients are searched on the logarithm, where they stay positive and their intervals, which are first-order ones, fit
/// best. An ion whose contribution drowns in the scatter is refused, not given a coefficient.
///
/// # Units
/// Activities in mol/L, potentials in V.
///
/// # Errors
/// [`PotentiometryError`] for unusable readings or charges, too few readings, or a coefficient that they do not determine.
///
/// # Source
/// IUPAC 1994 (Pure Appl. Chem. 66, 2527), Nikolsky–Eisenman equation; nonlinear least squares with normal errors of the potential.
///
/// # Example
/// ```
/// use stillwell_calibrate::{Interferent, IonReading, nikolsky_eisenman};
/// let chloride = Interferent { name: "chloride".into(), charge: -1 };
/// // Nitrate from 1e-5 to 1e-2 mol/L in 0.01 mol/L chloride.
/// let readings: Vec<IonReading> = [(1e-5, 0.34985), (1e-4, 0.32610), (1e-3, 0.27635), (1e-2, 0.21810), (3e-2, 0.19010)].iter()
///     .map(|&(activity, potential_v)| IonReading { label: format!("{activity}"), activity, interferents: vec![0.01], potential_v })
///     .collect();
/// let fit = nikolsky_eisenman(&readings, -1, &[chloride], 0.95)?;
/// assert!((fit.log10_coefficients[0].value + 2.3).abs() < 0.02);
/// # Ok::<(), stillwell_calibrate::PotentiometryError>(())
/// ```
pub fn nikolsky_eisenman(
    readings: &[IonReading],
    charge: i8,
    interferents: &[Interferent],
    coverage: f64,
) -> Result<SelectivityFit, PotentiometryError> {
    require_coverage(coverage)?;
    require_usable(readings, interferents.len())?;
    if interferents.is_empty() {
        return Err(PotentiometryError::TooFewReadings { what: "other ions", found: 0, needed: 1 });
    }
    let terms_of = |reading: &IonReading| -> Result<Vec<f64>, PotentiometryError> {
        interferents.iter().zip(&reading.interferents).map(|(ion, &a)| ion.term(charge, a)).collect()
    };
    let response = Response {
        activities: readings.iter().map(|r| r.activity).collect(),
        terms: readings.iter().map(terms_of).collect::<Result<_, _>>()?,
        potentials_v: readings.iter().map(|r| r.potential_v).collect(),
    };
    let names: Vec<String> =
        interferents.iter().map(|ion| format!("the selectivity coefficient of {}", ion.name)).collect();
    let fit = response.fit(coverage, &names)?;
    let selectivities = interferents
        .iter()
        .zip(&fit.logs)
        .map(|(ion, log)| Selectivity { interferent: ion.clone(), log10_coefficient: log.value });
    Ok(SelectivityFit {
        equation: NikolskyEisenman {
            standard_potential_v: fit.standard_potential_v.value,
            slope_v_per_decade: fit.slope_v_per_decade.value,
            charge,
            selectivities: selectivities.collect(),
        },
        standard_potential_v: fit.standard_potential_v,
        slope_v_per_decade: fit.slope_v_per_decade,
        log10_coefficients: fit.logs,
        residual_sd_v: fit.residual_sd_v,
        degrees_of_freedom: fit.degrees_of_freedom,
    })
}

/// Selectivity coefficient by the fixed interference method: `K = a / aⱼ^(z/zⱼ)`, where `a` is the activity at which line and plateau
/// meet when the other ion is held at `aⱼ` throughout ([`super::intersection_limit`] of such readings).
///
/// # Units
/// Activities in mol/L.
///
/// # Errors
/// [`PotentiometryError::NotUsable`] or [`PotentiometryError::SettingNotUsable`] for unusable activities or charges.
///
/// # Source
/// IUPAC 1994 (Pure Appl. Chem. 66, 2527), fixed interference method.
///
/// # Example
/// ```
/// use stillwell_calibrate::{Interferent, fixed_interference_selectivity};
/// let chloride = Interferent { name: "chloride".into(), charge: -1 };
/// assert!((fixed_interference_selectivity(5e-5, -1, &chloride, 0.01)? - 0.005).abs() < 1e-15);
/// # Ok::<(), stillwell_calibrate::PotentiometryError>(())
/// ```
pub fn fixed_interference_selectivity(
    intersection: f64,
    charge: i8,
    interferent: &Interferent,
    interferent_activity: f64,
) -> Result<f64, PotentiometryError> {
    let term = interferent.term(charge, interferent_activity)?;
    let coefficient = intersection / term;
    if coefficient > 0.0 && coefficient.is_finite() {
        return Ok(coefficient);
    }
    let (label, what) = (interferent.name.clone(), "selectivity coefficient");
    Err(PotentiometryError::NotUsable { label, what, found: coefficient, accepted: "activities above 0" })
}

//! An input quantity of a measurement: its estimate, what is known of its spread, where that comes from.

use crate::BudgetError;

/// What a component of uncertainty is about; budgets are grouped by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Component {
    /// The calibration curve: the scatter of the standards about it.
    Calibration,
    /// The blank that is subtracted.
    Blank,
    /// Preparation of the standards: purity, balance, glassware.
    StandardsPreparation,
    /// Scans of one electrode.
    Repeatability,
    /// Electrode to electrode within a lot.
    BetweenElectrodes,
    /// Lot to lot.
    BetweenLots,
    /// Temperature of the measured solution.
    Temperature,
    /// Drift between calibration and sample.
    Drift,
    /// Recovery, or the bias that check standards show.
    Recovery,
    /// Dilution of the sample.
    Dilution,
    /// Anything else.
    Other,
}

/// How the standard uncertainty was evaluated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Evaluation {
    /// By statistics of repeated observations.
    TypeA,
    /// By other means: certificate, tolerance, experience.
    TypeB,
}

/// How well the standard uncertainty itself is known.
#[derive(Debug, Clone, PartialEq)]
pub enum DegreesOfFreedom {
    /// Taken as exactly known.
    Infinite,
    /// From observations of this quantity alone.
    Own(f64),
    /// From one spread that several quantities share, such as the residual standard deviation of a fit: they are wrong
    /// together.
    Pooled {
        /// Name of that spread; equal names mean the same spread.
        spread: String,
        /// Its degrees of freedom.
        degrees_of_freedom: f64,
    },
}

impl DegreesOfFreedom {
    /// Degrees of freedom of a type B uncertainty that is itself thought to be known within a fraction.
    ///
    /// # Units
    /// `relative_doubt` is the relative uncertainty of the uncertainty: 0.25 for "good to a quarter".
    ///
    /// # Source
    /// JCGM 100:2008, equation G.3: ν ≈ ½ (Δu/u)⁻².
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::DegreesOfFreedom;
    /// assert_eq!(DegreesOfFreedom::of_doubt(0.25), DegreesOfFreedom::Own(8.0));
    /// ```
    pub fn of_doubt(relative_doubt: f64) -> Self {
        Self::Own(0.5 / (relative_doubt * relative_doubt))
    }

    /// The number; infinite where nothing is doubted.
    pub const fn number(&self) -> f64 {
        match self {
            Self::Infinite => f64::INFINITY,
            Self::Own(degrees_of_freedom) | Self::Pooled { degrees_of_freedom, .. } => *degrees_of_freedom,
        }
    }
}

/// What is known of a quantity.
///
/// # Source
/// JCGM 101:2008, 6.4 (table 1); standard uncertainties of limits: JCGM 100:2008, 4.3.7 and 4.3.9.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Distribution {
    /// Normal. With finite degrees of freedom Monte Carlo draws from Student's t scaled by the standard uncertainty.
    Normal {
        /// Estimate.
        mean: f64,
        /// Standard uncertainty.
        standard_uncertainty: f64,
    },
    /// Anywhere between two limits.
    Rectangular {
        /// Lower limit.
        low: f64,
        /// Upper limit.
        high: f64,
    },
    /// Between two limits, the middle most likely.
    Triangular {
        /// Lower limit.
        low: f64,
        /// Upper limit.
        high: f64,
    },
    /// Swinging as a sine between two limits.
    ArcSine {
        /// Lower limit.
        low: f64,
        /// Upper limit.
        high: f64,
    },
    /// Anywhere between two limits that are themselves known only within ± `inexactness`.
    InexactLimits {
        /// Lower limit.
        low: f64,
        /// Upper limit.
        high: f64,
        /// Half width of the doubt about each limit.
        inexactness: f64,
    },
    /// Positive and skewed: its logarithm is normal.
    LogNormal {
        /// Mean of the quantity itself.
        mean: f64,
        /// Standard uncertainty of the quantity itself.
        standard_uncertainty: f64,
    },
}

impl Distribution {
    /// Rectangular, `half_width` to both sides.
    ///
    /// # Source
    /// JCGM 100:2008, 4.3.7.
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::Distribution;
    /// let flask_ml = Distribution::rectangular_about(100.0, 0.1);
    /// assert!((flask_ml.standard_uncertainty() - 0.0577).abs() < 1e-4);
    /// ```
    pub fn rectangular_about(middle: f64, half_width: f64) -> Self {
        Self::Rectangular { low: middle - half_width, high: middle + half_width }
    }

    /// Triangular, `half_width` to both sides.
    ///
    /// # Source
    /// JCGM 100:2008, 4.3.9.
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::Distribution;
    /// let flask_ml = Distribution::triangular_about(100.0, 0.1);
    /// assert!((flask_ml.standard_uncertainty() - 0.0408).abs() < 1e-4);
    /// ```
    pub fn triangular_about(middle: f64, half_width: f64) -> Self {
        Self::Triangular { low: middle - half_width, high: middle + half_width }
    }

    /// The estimate: the mean of the distribution.
    pub fn mean(&self) -> f64 {
        match *self {
            Self::Normal { mean, .. } | Self::LogNormal { mean, .. } => mean,
            Self::Rectangular { low, high }
            | Self::Triangular { low, high }
            | Self::ArcSine { low, high }
            | Self::InexactLimits { low, high, .. } => f64::midpoint(low, high),
        }
    }

    /// The standard uncertainty that goes into the law of propagation.
    ///
    /// # Source
    /// JCGM 101:2008, 6.4: a/√3, a/√6, a/√2 for half width a; √(a²/3 + d²/9) for limits inexact by d.
    pub fn standard_uncertainty(&self) -> f64 {
        let half = |low: f64, high: f64| 0.5 * (high - low);
        match *self {
            Self::Normal { standard_uncertainty, .. } | Self::LogNormal { standard_uncertainty, .. } => {
                standard_uncertainty
            }
            Self::Rectangular { low, high } => half(low, high) / libm::sqrt(3.0),
            Self::Triangular { low, high } => half(low, high) / libm::sqrt(6.0),
            Self::ArcSine { low, high } => half(low, high) / libm::sqrt(2.0),
            Self::InexactLimits { low, high, inexactness } => {
                libm::sqrt(half(low, high) * half(low, high) / 3.0 + inexactness * inexactness / 9.0)
            }
        }
    }

    fn check(&self, name: &str) -> Result<(), BudgetError> {
        let (mean, standard_uncertainty) = (self.mean(), self.standard_uncertainty());
        if !(mean.is_finite() && standard_uncertainty.is_finite()) {
            return Err(BudgetError::InputNotFinite { name: name.to_owned() });
        }
        let in_order = match *self {
            Self::InexactLimits { low, high, inexactness } => {
                inexactness >= 0.0 && 2.0 * inexactness <= high - low
            }
            Self::LogNormal { mean, .. } => mean > 0.0,
            _ => true,
        };
        if !(standard_uncertainty > 0.0 && in_order) {
            return Err(BudgetError::SpreadUnusable { name: name.to_owned(), distribution: *self });
        }
        Ok(())
    }
}

/// One input quantity with everything a reader needs to question it.
#[derive(Debug, Clone, PartialEq)]
pub struct InputQuantity {
    pub(crate) name: String,
    pub(crate) component: Component,
    pub(crate) distribution: Distribution,
    pub(crate) evaluation: Evaluation,
    pub(crate) degrees_of_freedom: DegreesOfFreedom,
    pub(crate) source: String,
    pub(crate) remedy: Option<String>,
}

impl InputQuantity {
    /// A type B quantity whose standard uncertainty is taken as known.
    ///
    /// # Units
    /// Those of the distribution.
    ///
    /// # Errors
    /// [`BudgetError::InputNotFinite`], [`BudgetError::SpreadUnusable`] (no spread at all is a constant, and belongs into
    /// the model), [`BudgetError::SourceMissing`].
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::{Component, Distribution, InputQuantity};
    /// let flask = InputQuantity::new(
    ///     "100 mL flask", Component::Dilution, Distribution::triangular_about(100.0, 0.1), "class A tolerance, ISO 1042",
    /// )?;
    /// assert!((flask.standard_uncertainty() - 0.0408).abs() < 1e-4);
    /// # Ok::<(), stillwell_assure::BudgetError>(())
    /// ```
    pub fn new(
        name: &str,
        component: Component,
        distribution: Distribution,
        source: &str,
    ) -> Result<Self, BudgetError> {
        distribution.check(name)?;
        if source.trim().is_empty() {
            return Err(BudgetError::SourceMissing { name: name.to_owned() });
        }
        Ok(Self {
            name: name.to_owned(),
            component,
            distribution,
            evaluation: Evaluation::TypeB,
            degrees_of_freedom: DegreesOfFreedom::Infinite,
            source: source.to_owned(),
            remedy: None,
        })
    }

    /// The same, evaluated from observations (type A).
    ///
    /// # Errors
    /// [`BudgetError::DegreesOfFreedomUnusable`] unless they are above zero.
    pub fn observed(self, degrees_of_freedom: DegreesOfFreedom) -> Result<Self, BudgetError> {
        Ok(Self { evaluation: Evaluation::TypeA, ..self.with_degrees_of_freedom(degrees_of_freedom)? })
    }

    /// The same, its standard uncertainty in doubt (type B). Monte Carlo takes this into account for normal quantities
    /// only; limits in doubt are [`Distribution::InexactLimits`].
    ///
    /// # Errors
    /// [`BudgetError::DegreesOfFreedomUnusable`] unless they are above zero.
    pub fn with_degrees_of_freedom(
        mut self,
        degrees_of_freedom: DegreesOfFreedom,
    ) -> Result<Self, BudgetError> {
        let number = degrees_of_freedom.number();
        if number.is_nan() || number <= 0.0 {
            return Err(BudgetError::DegreesOfFreedomUnusable { name: self.name, found: number });
        }
        self.degrees_of_freedom = degrees_of_freedom;
        Ok(self)
    }

    /// The same, with its own words on how to shrink it instead of those of its component.
    #[must_use]
    pub fn shrunk_by(mut self, remedy: &str) -> Self {
        self.remedy = Some(remedy.to_owned());
        self
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its estimate.
    pub fn estimate(&self) -> f64 {
        self.distribution.mean()
    }

    /// Its standard uncertainty.
    pub fn standard_uncertainty(&self) -> f64 {
        self.distribution.standard_uncertainty()
    }
}

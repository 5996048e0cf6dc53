//! What a determination found: an interval, a bound on one side, or nothing.

use stillwell_quantity::{Concentration, QuantityKind};

use crate::AssureError;

/// What a determination found, with the risk that the truth lies beyond its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    kind: QuantityKind,
    found: Found,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Found {
    Interval { low: f64, value: f64, high: f64, risk: f64 },
    Above { bound: f64, risk: f64 },
    LessThan { bound: f64, risk: f64 },
    Refused,
}

impl Estimate {
    /// A value with its coverage interval; ends may be negative and the interval may lie unevenly around the value.
    ///
    /// # Units
    /// `low`, `value` and `high` in `kind`; `coverage` is a probability (0.95), its complement shared evenly between
    /// the two ends.
    ///
    /// # Errors
    /// [`AssureError::IntervalUnusable`], [`AssureError::CoverageUnusable`].
    pub fn interval(
        kind: QuantityKind,
        low: f64,
        value: f64,
        high: f64,
        coverage: f64,
    ) -> Result<Self, AssureError> {
        let finite = low.is_finite() && value.is_finite() && high.is_finite();
        if !(finite && low <= value && value <= high) {
            return Err(AssureError::IntervalUnusable { low, value, high });
        }
        if !(coverage > 0.5 && coverage < 1.0) {
            return Err(AssureError::CoverageUnusable { coverage });
        }
        let risk = (1.0 - coverage) / 2.0;
        Ok(Self { kind, found: Found::Interval { low, value, high, risk } })
    }

    /// Above the calibrated range: the truth lies above `bound`, wrongly so with probability `risk`.
    ///
    /// # Units
    /// `bound` in `kind`; `risk` is a probability.
    ///
    /// # Errors
    /// [`AssureError::BoundUnusable`], [`AssureError::RiskUnusable`].
    pub fn above(kind: QuantityKind, bound: f64, risk: f64) -> Result<Self, AssureError> {
        check_bound(bound, risk)?;
        Ok(Self { kind, found: Found::Above { bound, risk } })
    }

    /// Not detected or not quantified: the truth lies at or below `bound`, wrongly so with probability `risk`.
    ///
    /// # Units
    /// `bound` in `kind`; `risk` is a probability.
    ///
    /// # Errors
    /// [`AssureError::BoundUnusable`], [`AssureError::RiskUnusable`].
    pub fn less_than(kind: QuantityKind, bound: f64, risk: f64) -> Result<Self, AssureError> {
        check_bound(bound, risk)?;
        Ok(Self { kind, found: Found::LessThan { bound, risk } })
    }

    /// The determination was refused: nothing is known.
    pub const fn refused(kind: QuantityKind) -> Self {
        Self { kind, found: Found::Refused }
    }

    /// Unit and species.
    pub const fn kind(&self) -> &QuantityKind {
        &self.kind
    }

    /// The same finding in another unit or form of the same analyte.
    pub(crate) fn in_kind(&self, kind: &QuantityKind) -> Result<Found, AssureError> {
        let convert = |value: f64| -> Result<f64, AssureError> {
            Ok(Concentration::of_kind(value, self.kind.clone())?.to_kind(kind)?.value())
        };
        Ok(match self.found {
            Found::Interval { low, value, high, risk } => {
                Found::Interval { low: convert(low)?, value: convert(value)?, high: convert(high)?, risk }
            }
            Found::Above { bound, risk } => Found::Above { bound: convert(bound)?, risk },
            Found::LessThan { bound, risk } => Found::LessThan { bound: convert(bound)?, risk },
            Found::Refused => {
                convert(0.0)?;
                Found::Refused
            }
        })
    }
}

impl Found {
    /// The same finding with every number divided by `divisor`, which is positive.
    pub(crate) fn divided_by(self, divisor: f64) -> Self {
        match self {
            Self::Interval { low, value, high, risk } => {
                Self::Interval { low: low / divisor, value: value / divisor, high: high / divisor, risk }
            }
            Self::Above { bound, risk } => Self::Above { bound: bound / divisor, risk },
            Self::LessThan { bound, risk } => Self::LessThan { bound: bound / divisor, risk },
            Self::Refused => Self::Refused,
        }
    }
}

fn check_bound(bound: f64, risk: f64) -> Result<(), AssureError> {
    if !bound.is_finite() {
        return Err(AssureError::BoundUnusable { bound });
    }
    if !(risk > 0.0 && risk < 0.25) {
        return Err(AssureError::RiskUnusable { risk });
    }
    Ok(())
}

//! One observation: a value, or what is known of it.

use core::cmp::Ordering;

use crate::error::StatsError;

/// What is known of one observation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Observation {
    /// The value itself.
    Found(f64),
    /// "< limit": the value lies below this limit.
    Below(f64),
    /// "> limit": the value lies above this limit.
    Above(f64),
}

/// What the values, or their logarithms, are supposed to follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// The values are normal.
    Normal,
    /// Their natural logarithms are normal; all values and limits must be positive.
    LogNormal,
}

impl Observation {
    /// The value or the limit.
    pub fn number(&self) -> f64 {
        match *self {
            Self::Found(value) | Self::Below(value) | Self::Above(value) => value,
        }
    }

    /// By the lowest that each can be: those below a limit come first.
    pub(crate) fn compare_lowest(&self, other: &Self) -> Ordering {
        let class = |o: &Self| i32::from(!matches!(o, Self::Below(_)));
        class(self).cmp(&class(other)).then(self.number().total_cmp(&other.number()))
    }

    /// By the highest that each can be: those above a limit come last.
    pub(crate) fn compare_highest(&self, other: &Self) -> Ordering {
        let class = |o: &Self| i32::from(matches!(o, Self::Above(_)));
        class(self).cmp(&class(other)).then(self.number().total_cmp(&other.number()))
    }

    pub(crate) fn require_finite(observations: &[Self]) -> Result<(), StatsError> {
        for (row, observation) in observations.iter().enumerate() {
            let value = observation.number();
            if !value.is_finite() {
                return Err(StatsError::NotFinite { what: "the observation", row, value });
            }
        }
        Ok(())
    }

    /// Refuses values above a limit, for statistics that cannot take them.
    pub(crate) fn require_none_above(
        observations: &[Self],
        statistic: &'static str,
    ) -> Result<(), StatsError> {
        match observations.iter().enumerate().find(|(_, o)| matches!(o, Self::Above(_))) {
            Some((row, above)) => Err(StatsError::CensoredAbove { row, limit: above.number(), statistic }),
            None => Ok(()),
        }
    }

    /// On the scale on which they are supposed to be normal.
    pub(crate) fn on_scale(observations: &[Self], shape: Shape) -> Result<Vec<Self>, StatsError> {
        Self::require_finite(observations)?;
        if shape == Shape::Normal {
            return Ok(observations.to_vec());
        }
        let mut logarithms = Vec::with_capacity(observations.len());
        for (row, observation) in observations.iter().enumerate() {
            let value = observation.number();
            if value <= 0.0 {
                return Err(StatsError::NotPositive { what: "the observation", row, value });
            }
            let logarithm = libm::log(value);
            logarithms.push(match observation {
                Self::Found(_) => Self::Found(logarithm),
                Self::Below(_) => Self::Below(logarithm),
                Self::Above(_) => Self::Above(logarithm),
            });
        }
        Ok(logarithms)
    }

    pub(crate) fn found(observations: &[Self]) -> Vec<f64> {
        observations.iter().filter_map(|o| if let Self::Found(v) = *o { Some(v) } else { None }).collect()
    }
}

impl Shape {
    /// From the scale of normality back to the scale of the observations.
    pub(crate) fn back(self, scaled: f64) -> f64 {
        match self {
            Self::Normal => scaled,
            Self::LogNormal => libm::exp(scaled),
        }
    }
}

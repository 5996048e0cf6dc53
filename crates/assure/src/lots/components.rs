//! How much strips of several lots scatter, and from where: lot, electrode, scan.

use stillwell_stats::components::{
    ComponentSettings, NestedComponents, USUAL_LEAST_MEMBERS, nested_components,
};

use super::wording;
use crate::QualityError;

/// Components of the scatter of single scans, relative to the mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LotScatter {
    /// The components, as variances in squared units of the values.
    pub components: NestedComponents,
    /// Coverage of their intervals.
    pub coverage: f64,
}

/// Components of scatter of `lots[lot][electrode] = scans`.
///
/// With fewer than six lots the lot's component is not stated; what would make it so is.
///
/// # Units
/// One known solution read on every strip, in any one unit.
///
/// # Errors
/// What [`nested_components`] refuses, and [`QualityError::Unusable`] for a mean that is not above zero.
///
/// # Source
/// [`nested_components`]; six lots: common practice, no source.
pub fn lot_scatter<L, E>(lots: &[L], coverage: f64) -> Result<LotScatter, QualityError>
where
    L: AsRef<[E]>,
    E: AsRef<[f64]>,
{
    let settings = ComponentSettings { coverage, least_members: USUAL_LEAST_MEMBERS };
    let components = nested_components(lots, settings)?;
    if components.mean > 0.0 {
        Ok(LotScatter { components, coverage })
    } else {
        Err(QualityError::Unusable {
            what: "the mean of all lots",
            found: components.mean,
            accepted: "a mean above zero, so that scatter can be told in % of it",
        })
    }
}

impl LotScatter {
    /// Each component in % of the mean with its interval, one sentence each; the lot's where it can be stated.
    pub fn words(&self) -> Vec<String> {
        wording::scatter(self)
    }
}

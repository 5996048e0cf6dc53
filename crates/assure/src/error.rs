//! Every refusal of this room and its wording.

use stillwell_quantity::QuantityError;
use thiserror::Error;

/// What can be wrong with a limit, an estimate or their combination.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum AssureError {
    /// Estimate and limit cannot be brought to one unit and species.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// The estimate counts something the limit is not about.
    #[error(
        "the limit {limit} is about {accepted}; a determination of {analyte} cannot be judged against it"
    )]
    AnalyteNotInLimit {
        /// The limit's id.
        limit: String,
        /// The analyte of the estimate.
        analyte: String,
        /// The analytes that can be judged.
        accepted: String,
    },
    /// A sum rule was given one of its parts twice.
    #[error("{analyte} is given twice to one sum rule; give each part once")]
    PartTwice {
        /// What is given twice.
        analyte: String,
    },
    /// An id cannot name a limit.
    #[error(
        "limit id \"{id}\" is not usable: 1 to 64 lower-case letters, digits and hyphens are needed, such as \"county-nitrate\""
    )]
    IdUnusable {
        /// The id as found.
        id: String,
    },
    /// An id belongs to a limit that is shipped.
    #[error(
        "limit id \"{id}\" belongs to a shipped limit; choose another, so that results cannot be confused"
    )]
    IdTaken {
        /// The id as found.
        id: String,
    },
    /// No shipped limit has this id.
    #[error("no limit is called \"{id}\"; shipped limits: {known}")]
    UnknownLimit {
        /// The id as found.
        id: String,
        /// The known ids.
        known: String,
    },
    /// A limit's value is not positive.
    #[error("limit \"{id}\" has the value {value}; a number above zero is needed")]
    LimitNotPositive {
        /// The limit's id.
        id: String,
        /// The value as found.
        value: f64,
    },
    /// A limit lacks its name or its document.
    #[error("limit \"{id}\" has no {field}; a limit without it cannot be checked by a reader")]
    LimitTextMissing {
        /// The limit's id.
        id: String,
        /// What is missing.
        field: &'static str,
    },
    /// The ends of an interval are not in order, or not finite.
    #[error(
        "interval {low} to {high} around {value} is not usable: low ≤ value ≤ high is needed, all finite"
    )]
    IntervalUnusable {
        /// Lower end.
        low: f64,
        /// Value.
        value: f64,
        /// Upper end.
        high: f64,
    },
    /// A bound is not a number.
    #[error("bound {bound} is not usable: a finite number is needed")]
    BoundUnusable {
        /// The bound as found.
        bound: f64,
    },
    /// A coverage is outside the usable range.
    #[error("coverage {coverage} is not usable: above 0.5 and below 1 is needed, such as 0.95")]
    CoverageUnusable {
        /// The coverage as found.
        coverage: f64,
    },
    /// A risk is outside the usable range.
    #[error("risk {risk} is not usable: above 0 and below 0.25 is needed, such as 0.025")]
    RiskUnusable {
        /// The risk as found.
        risk: f64,
    },
    /// A standard uncertainty is not positive.
    #[error(
        "standard uncertainty {standard_uncertainty} is not usable: a finite number above zero is needed"
    )]
    UncertaintyUnusable {
        /// The uncertainty as found.
        standard_uncertainty: f64,
    },
    /// No performance is asked of methods for this limit.
    #[error(
        "no performance requirement is known for limit \"{limit}\"; those known are for eu-nitrate and eu-nitrite"
    )]
    NoPerformanceRequirement {
        /// The limit's id.
        limit: String,
    },
}

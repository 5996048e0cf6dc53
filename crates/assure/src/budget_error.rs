//! Every refusal about uncertainty, risks and replicates, and its wording.

use thiserror::Error;

use crate::Distribution;

/// Why an uncertainty, a risk or a retest was not computed.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum BudgetError {
    /// A model without inputs.
    #[error("the measurement model has no input quantity; at least one is needed")]
    NoInput,
    /// Two inputs of one name.
    #[error("two input quantities are called \"{name}\"; give each its own name")]
    NameTwice {
        /// The name.
        name: String,
    },
    /// No input of that name.
    #[error("no input quantity is called \"{name}\"")]
    UnknownInput {
        /// The name as found.
        name: String,
    },
    /// An estimate or a limit is no number.
    #[error("input quantity \"{name}\" has an estimate or a spread that is not finite")]
    InputNotFinite {
        /// The input.
        name: String,
    },
    /// A distribution without spread, or with parameters out of order.
    #[error(
        "input quantity \"{name}\" cannot be {distribution:?}: a spread above zero and limits in order are needed; a quantity without any spread is a constant of the model"
    )]
    SpreadUnusable {
        /// The input.
        name: String,
        /// Its distribution as found.
        distribution: Distribution,
    },
    /// An input that does not say where its uncertainty comes from.
    #[error(
        "input quantity \"{name}\" does not say where its uncertainty comes from; without a source nobody can check it"
    )]
    SourceMissing {
        /// The input.
        name: String,
    },
    /// Degrees of freedom that are none.
    #[error("input quantity \"{name}\" has {found} degrees of freedom; a number above zero is needed")]
    DegreesOfFreedomUnusable {
        /// The input.
        name: String,
        /// The number as found.
        found: f64,
    },
    /// One spread with two numbers of degrees of freedom.
    #[error(
        "the spread \"{spread}\" is given with {first} and with {second} degrees of freedom; one spread has one number"
    )]
    PoolAtOdds {
        /// The spread's name.
        spread: String,
        /// One number.
        first: f64,
        /// The other.
        second: f64,
    },
    /// A correlation that cannot be.
    #[error(
        "the correlation {coefficient} of \"{first}\" and \"{second}\" is not usable: two different quantities, each pair once, and −1 to 1 are needed"
    )]
    CorrelationUnusable {
        /// One input.
        first: String,
        /// The other.
        second: String,
        /// The coefficient as found.
        coefficient: f64,
    },
    /// Correlations that contradict each other.
    #[error(
        "the correlations contradict each other: no quantities can be correlated in this way (the matrix is not positive semi-definite)"
    )]
    CorrelationsImpossible,
    /// Monte Carlo draws correlated inputs from a joint normal distribution only.
    #[error(
        "input quantity \"{name}\" is correlated with another, but is not normal, or has degrees of freedom of its own; name the common cause as an input of its own, or let both share one spread"
    )]
    CorrelatedNotNormal {
        /// The input.
        name: String,
    },
    /// The second order is for independent inputs.
    #[error("second-order terms hold for independent inputs only, and some are correlated; use Monte Carlo")]
    SecondOrderCorrelated,
    /// The model has no value where one is needed.
    #[error("the measurement model gives no number {}", near.as_ref().map_or_else(
        || "at the estimates of its inputs".to_owned(),
        |name| format!("when \"{name}\" moves within its uncertainty: the estimate lies too near to the edge of what the model can do")
    ))]
    ModelNotFinite {
        /// The input that was moved; none at the estimates themselves.
        near: Option<String>,
    },
    /// First order sees nothing.
    #[error(
        "to first order no input moves the result, so the law of propagation would claim no uncertainty; use second-order terms or Monte Carlo"
    )]
    NoFirstOrderSpread,
    /// Fewer than one degree of freedom.
    #[error(
        "{found:.2} effective degrees of freedom support no interval; at least 1 is needed: observe the largest type A component more often"
    )]
    TooFewDegreesOfFreedom {
        /// The number as found.
        found: f64,
    },
    /// A coverage outside its range.
    #[error("coverage {coverage} is not usable: above 0.5 and below 1 is needed, such as 0.95")]
    CoverageUnusable {
        /// The coverage as found.
        coverage: f64,
    },
    /// Too few trials.
    #[error("{found} Monte Carlo trials are too few: at least {needed} are needed")]
    TrialsUnusable {
        /// Trials as asked for.
        found: u32,
        /// The least.
        needed: u32,
    },
    /// Digits that no standard uncertainty is given with.
    #[error("{found} digits of a standard uncertainty cannot be asked for: 1 or 2 are accepted")]
    DigitsUnusable {
        /// Digits as asked for.
        found: u8,
    },
    /// The model has no value for some of the draws.
    #[error(
        "{without} of {trials} Monte Carlo trials gave no number: some inputs reach beyond what the model can do, so its distribution is not defined"
    )]
    TrialsWithoutNumber {
        /// Trials without a number.
        without: u64,
        /// All of them.
        trials: u64,
    },
    /// Standards that make no calibration.
    #[error("the standards make no calibration line: {why}")]
    StandardsUnusable {
        /// Why.
        why: &'static str,
    },
    /// Too few results of a kind.
    #[error("{found} {what}; at least {needed} are needed")]
    TooFewResults {
        /// Of what.
        what: &'static str,
        /// Number as found.
        found: usize,
        /// The least.
        needed: usize,
    },
    /// Results that say nothing.
    #[error(
        "{what} cannot be used: finite numbers are needed, above zero where a percentage is formed, and some spread"
    )]
    ResultsUnusable {
        /// What.
        what: &'static str,
    },
    /// A risk outside its range.
    #[error("risk {risk} is not usable: above 0 and below 0.5 is needed, such as 0.05")]
    RiskUnusable {
        /// The risk as found.
        risk: f64,
    },
    /// An uncertainty so large that nothing shows an exceedance.
    #[error(
        "the guard band is {band_percent:.0} % of the value: no value, however large, would show that the limit is exceeded; a smaller uncertainty is needed"
    )]
    NoRejectionPossible {
        /// The guard band in % of the value.
        band_percent: f64,
    },
    /// A prior from nowhere.
    #[error(
        "a prior without a source: say where the knowledge of the water comes from, or state the risk of this one result instead"
    )]
    PriorWithoutSource,
    /// A prior without spread.
    #[error("the prior has no usable centre and spread: finite numbers and a spread above zero are needed")]
    PriorUnusable,
    /// A closed form that needs a normal prior.
    #[error("the posterior is computed for a normal prior only")]
    PriorNotNormal,
    /// More or fewer results than agreed.
    #[error(
        "{found} results, but the rule fixed beforehand says {agreed}: all of them count, none may be left out and none added"
    )]
    WrongNumberOfResults {
        /// Number as found.
        found: usize,
        /// Number agreed.
        agreed: u32,
    },
    /// A target that replicates cannot reach.
    #[error(
        "no number of replicates reaches a standard uncertainty of {target}: {shared} is shared by all replicates and does not shrink; the calibration, the standards or the lot must get better"
    )]
    TargetOutOfReach {
        /// The target.
        target: f64,
        /// The shared part.
        shared: f64,
    },
}

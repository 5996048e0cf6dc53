//! Every refusal of this room, with the numbers that caused it.

/// Why a statistic was not computed.
///
/// Rows, columns, groups and values are counted from 0, as in the slices handed in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StatsError {
    /// The design has no column, so there is nothing to fit.
    #[error("the design has no column; at least one is needed")]
    NoColumns,
    /// Fewer rows than the coefficients plus one degree of freedom.
    #[error("{found} rows cannot support this fit; at least {needed} are needed")]
    TooFewRows {
        /// Rows handed in.
        found: usize,
        /// Coefficients plus one.
        needed: usize,
    },
    /// Fewer values than the statistic needs.
    #[error("{found} values in {what}; at least {needed} are needed")]
    TooFewValues {
        /// What was counted.
        what: &'static str,
        /// Values handed in.
        found: usize,
        /// The least that makes sense.
        needed: usize,
    },
    /// Two inputs that must be equally long are not.
    #[error("{what} has {found} entries; {expected} are expected")]
    LengthMismatch {
        /// The input at fault.
        what: &'static str,
        /// Its length.
        found: usize,
        /// The length of its partner.
        expected: usize,
    },
    /// A design row is shorter or longer than the first.
    #[error("design row {row} has {found} columns; the first row has {expected}")]
    RaggedRow {
        /// The row.
        row: usize,
        /// Its columns.
        found: usize,
        /// The columns of row 0.
        expected: usize,
    },
    /// NaN or infinity in the input.
    #[error("{what} at row {row} is {value}; only finite numbers are accepted")]
    NotFinite {
        /// The input at fault.
        what: &'static str,
        /// Where it stands.
        row: usize,
        /// What stands there.
        value: f64,
    },
    /// A weight of zero or less.
    #[error("the weight of row {row} is {weight}; weights are positive (leave the row out instead)")]
    WeightNotPositive {
        /// The row.
        row: usize,
        /// Its weight.
        weight: f64,
    },
    /// A column is, within its own rounding, a combination of the columns before it.
    #[error(
        "design column {column} follows from the columns before it (only {independent_part:.1e} of it is independent); drop it or widen the levels"
    )]
    RankDeficient {
        /// The column.
        column: usize,
        /// Norm of the part that the earlier columns do not explain, relative to the column's norm.
        independent_part: f64,
    },
    /// The values do not vary, so a ratio to their spread has no meaning.
    #[error("{what} does not vary, so {statistic} is undefined")]
    NoVariation {
        /// What stays constant.
        what: &'static str,
        /// What cannot be computed.
        statistic: &'static str,
    },
    /// A significance or probability outside (0, 1).
    #[error("{what} is {value}; a probability between 0 and 1, both excluded, is accepted")]
    NotAProbability {
        /// The argument at fault.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// A nonlinear model has no finite value where its parameters start.
    #[error(
        "the model gives {value} for row {row} at the starting parameters; start where the model is finite in every row"
    )]
    ModelNotFinite {
        /// The row.
        row: usize,
        /// What the model gave.
        value: f64,
    },
    /// A nonlinear model has no finite derivative at a point that the search reached.
    #[error(
        "the derivative of row {row} by parameter {parameter} is {value}; the model must be smooth around the solution"
    )]
    GradientNotFinite {
        /// The row.
        row: usize,
        /// The parameter.
        parameter: usize,
        /// What was found.
        value: f64,
    },
    /// At the best point found, the data do not tell one parameter from the others.
    #[error(
        "the data do not determine parameter {parameter}: only {independent_part:.1e} of its effect is its own; fix it, drop it or measure where it matters"
    )]
    SingularJacobian {
        /// The parameter.
        parameter: usize,
        /// Norm of the part of its effect that the other parameters do not share, relative to the whole.
        independent_part: f64,
    },
    /// A parameter has run off to where it changes nothing.
    #[error(
        "parameter {parameter} stands at {value:.3e}, where it changes the model by less than its rounding: the data do not bound it; fix it, drop it or measure where it matters"
    )]
    ParameterWithoutEffect {
        /// The parameter.
        parameter: usize,
        /// Where it stands.
        value: f64,
    },
    /// The search ended away from any minimum.
    #[error(
        "no minimum was reached after {iterations} steps (distance left: {relative_offset:.1e} standard errors, at most {limit:.0e} is accepted); start nearer, or take a simpler model"
    )]
    NotConverged {
        /// Steps tried.
        iterations: usize,
        /// Length of the step that is left, in standard errors.
        relative_offset: f64,
        /// The largest that counts as converged.
        limit: f64,
    },
    /// A step-by-step estimate that does not come to rest.
    #[error("{what} did not come to rest within {n_steps} steps; look at the values one by one")]
    NotSettled {
        /// The estimate.
        what: &'static str,
        /// Steps tried.
        n_steps: usize,
    },
    /// A spread, weight or share below zero.
    #[error("{what} at row {row} is {value}; it cannot be negative")]
    Negative {
        /// The input at fault.
        what: &'static str,
        /// Where it stands.
        row: usize,
        /// What stands there.
        value: f64,
    },
    /// Zero or less where a logarithm or a ratio is to be taken.
    #[error("{what} at row {row} is {value}; only numbers above zero have a logarithm or a ratio")]
    NotPositive {
        /// The input at fault.
        what: &'static str,
        /// Where it stands.
        row: usize,
        /// What stands there.
        value: f64,
    },
    /// A setting that must be positive is not.
    #[error("{what} is {value}; a number above zero is accepted")]
    SettingNotPositive {
        /// The setting.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// A setting outside the range in which it has a meaning.
    #[error("{what} is {value}; {least} to {most} is accepted")]
    SettingOutside {
        /// The setting.
        what: &'static str,
        /// Its value.
        value: f64,
        /// The least that is accepted.
        least: f64,
        /// The most that is accepted.
        most: f64,
    },
    /// Two ends in the wrong order.
    #[error("{what} run from {lower} to {upper}; the lower must lie below the upper")]
    EndsReversed {
        /// What they bound.
        what: &'static str,
        /// The end called lower.
        lower: f64,
        /// The end called upper.
        upper: f64,
    },
    /// More values than the statistic can take in reasonable time and memory.
    #[error(
        "{found} values in {what}; at most {most} are accepted: summarise them first, for instance by month"
    )]
    TooManyValues {
        /// What was counted.
        what: &'static str,
        /// Values handed in.
        found: usize,
        /// The most that are accepted.
        most: usize,
    },
    /// A test whose critical values are known for certain sizes only.
    #[error("{test} with {n} values: its critical values are known for {from} to {to} values")]
    NotTabulated {
        /// The test.
        test: &'static str,
        /// Values handed in.
        n: usize,
        /// Fewest.
        from: usize,
        /// Most.
        to: usize,
    },
    /// A value known only to exceed a limit, where the statistic can take values below limits only.
    #[error(
        "row {row} is known only to lie above {limit}; {statistic} takes values found and values below a limit: dilute and measure again, or use the likelihood"
    )]
    CensoredAbove {
        /// The row.
        row: usize,
        /// What it exceeds.
        limit: f64,
        /// What was asked for.
        statistic: &'static str,
    },
    /// The result exceeds the range of a 64-bit float.
    #[error("{what} exceeds the range of a 64-bit float; rescale the input")]
    OutOfRange {
        /// The result that overflowed.
        what: &'static str,
    },
}

/// Refuses what is no probability strictly between 0 and 1.
pub(crate) fn require_probability(what: &'static str, value: f64) -> Result<(), StatsError> {
    if value > 0.0 && value < 1.0 { Ok(()) } else { Err(StatsError::NotAProbability { what, value }) }
}

/// Refuses results that have left the range of a float.
pub(crate) fn require_in_range(what: &'static str, results: &[f64]) -> Result<(), StatsError> {
    if results.iter().all(|v| v.is_finite()) { Ok(()) } else { Err(StatsError::OutOfRange { what }) }
}

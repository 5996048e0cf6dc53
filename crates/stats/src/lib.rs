//! Generic statistics: least squares, distributions, tests, limits, variance components, seeded randomness.
//!
//! In go plain slices of numbers; out come fits, probabilities, quantiles and components of variance, or a
//! [`StatsError`] that says which row, column or value was at fault. Start with [`least_squares`] and
//! [`distributions`]; [`nonlinear_least_squares`] searches where no linear solution exists.
//!
//! For quality over time: [`outliers`] and [`robust`] for odd values, [`censored`] and [`limits`] for "< x" and percentiles,
//! [`trend`] for series, [`comparison`] and [`equivalence`] for two ways or two lots, [`components`] and [`interlaboratory`] for
//! where scatter comes from. Tests advise; none removes a value.
//!
//! Sums of squares and fits are carried in double-double and rounded once; transcendental functions come from
//! `libm`. Results are therefore the same bits on every processor and for every number of threads.
//!
//! Never in this room: water, electrodes, units, files, clocks, threads, fused operations, std's `exp` and `ln`.

pub mod censored;
pub mod comparison;
pub mod components;
pub mod distributions;
mod double_double;
pub mod equivalence;
mod error;
mod homogeneity;
pub mod interlaboratory;
mod least_squares;
mod levenberg_marquardt;
pub mod limits;
mod nonlinear;
mod numerical_gradient;
mod order;
pub mod outliers;
mod qr;
pub mod random;
pub mod random_block;
pub mod robust;
mod spread;
mod straight_line;
mod tangent;
pub mod trend;

pub use error::StatsError;
pub use homogeneity::{CochranTest, cochran_critical, cochran_test, levene_test};
pub use least_squares::{Fit, TotalAbout, least_squares, polynomial_least_squares};
pub use nonlinear::{NonlinearFit, NonlinearModel, nonlinear_least_squares};
pub use order::{OrderTrend, lag_1_autocorrelation, trend_with_order};
pub use spread::{
    AnalysisOfVariance, analysis_of_variance, mean, nested_analysis_of_variance, pooled_standard_deviation,
    standard_deviation,
};

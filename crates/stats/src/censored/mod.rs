//! Series in which some values are known only as below (or above) a limit.
//!
//! A "< 5" carries what it says, no more: never zero, never half the limit. [`kaplan_meier`] supposes no distribution and
//! gives the mean as the range that the data leave open; [`order_regression`] fills in from a line through the normal
//! scores; [`likelihood_fit`] is the only one that also takes values above a limit.

mod kaplan_meier;
mod likelihood;
mod observation;
mod order_regression;

pub use kaplan_meier::{KaplanMeier, KaplanMeierMean, KaplanMeierStep, kaplan_meier};
pub use likelihood::{LikelihoodFit, likelihood_fit};
pub use observation::{Observation, Shape};
pub use order_regression::{OrderRegression, order_regression};

//! Distribution functions and quantiles, on `libm` alone, so that they have the same bits on every processor.
//!
//! An argument outside the domain (NaN, a probability outside [0, 1], degrees of freedom not above 0) gives NaN.
//! So do more than some 10⁸ degrees of freedom in chi-squared and F, where the sums would not end (t takes any number).
//! Where both tails matter there is a function for each: `1.0 - cdf` loses the digits of a small upper tail.

mod beta;
mod chi_squared;
mod fisher_f;
mod gamma;
mod noncentral_t;
mod normal;
mod quantile;
mod saddle_point;
mod student_t;
mod whole_student_t;

pub use beta::incomplete_beta;
pub use chi_squared::{chi_squared_cdf, chi_squared_quantile, chi_squared_sf};
pub use fisher_f::{f_cdf, f_quantile, f_sf};
pub use gamma::{incomplete_gamma, ln_gamma};
pub use noncentral_t::{noncentral_t_cdf, noncentral_t_quantile, noncentrality_delta};
pub use normal::{normal_cdf, normal_density, normal_quantile};
pub use student_t::{student_t_cdf, student_t_quantile, student_t_sf};

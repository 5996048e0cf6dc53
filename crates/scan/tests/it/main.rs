//! What the reading room promises, from outside.

#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::float_cmp,
    clippy::indexing_slicing,
    reason = "tests stop at the first surprise; expected values are exact"
)]

mod cases;
mod compare;
mod limits;
mod properties;
mod real_data;
mod written;

//! What the reading room promises, from outside.

mod cases;
mod compare;
mod limits;
mod properties;
mod real_data;

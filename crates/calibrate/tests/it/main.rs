//! One integration-test binary of this room.

mod checks;
mod coverage;
mod limits;
mod properties;
mod published;
mod refusals;
mod standards;

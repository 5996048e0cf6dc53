//! The twin married to the method: what a cell and a circuit would give, before they are built.
//!
//! In go a method, a [`CellModel`] and a [`CircuitModel`]; out come scans whose truth is known, already in the form of the
//! chain's one input, and what the chain makes of them: detection limit, bias, precision, coverage, refusals.
//!
//! The twin never sees the evaluation and the method never sees the twin: they meet here. Every number is a function of
//! a seed and its own numbers, so that threads change nothing. This room opens no file and draws nothing.
#![warn(clippy::indexing_slicing)]

mod cell_file;
mod circuit_file;
mod error;
mod judged;
mod model;

mod bench;
mod plan;
mod record;
mod sheet;

pub mod alder_vale;
pub mod alder_vale_addition;
mod outlook;
pub mod score;
mod scored;
mod trial;
mod vary;

mod grid;
mod known_truth;
mod limiting;
mod lots;

pub use bench::{Bench, Exposure};
pub use error::ForeseeError;
pub use grid::{Choice, Comparison, compared, grid};
pub use known_truth::KnownTruth;
pub use limiting::{LIMITS_FROM, Limiting, Share};
pub use model::{CellModel, CircuitModel};
pub use outlook::{LevelOutlook, Obstacle, Outlook, Question, Spread, tried_levels};
pub use plan::{Batch, Measurement, Water};
pub use record::{Recorded, Traces, simulate_plan};
pub use scored::{Came, Scored, scored};
pub use trial::{text_form, trial};
pub use vary::{CircuitKey, Varied, VaryError};

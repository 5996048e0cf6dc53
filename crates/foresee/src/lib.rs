//! The twin married to the method: what a cell and a circuit would give, before they are built.
//!
//! In go a method, a [`CellModel`] and a [`CircuitModel`]; out come scans whose truth is known, already in the form of the
//! chain's one input, and what the chain makes of them: detection limit, bias, precision, coverage, refusals.
//!
//! The twin never sees the evaluation and the method never sees the twin: they meet here. Every number is a function of
//! a seed and its own numbers, so that threads change nothing. This room opens no file and draws nothing.
//!
//! ```
//! use stillwell_foresee::{Bench, CellModel, CircuitModel, Exposure, alder_vale};
//! use stillwell_method::Method;
//! let method = Method::parse(alder_vale::METHOD_TEXT.name, alder_vale::METHOD_TEXT.text)?;
//! let cell = CellModel::parse(alder_vale::CELL_TEXT.name, alder_vale::CELL_TEXT.text)?;
//! let circuit = CircuitModel::parse(alder_vale::CIRCUIT_TEXT.name, alder_vale::CIRCUIT_TEXT.text)?;
//! let bench = Bench { cell: &cell, circuit: &circuit, technique: &method.technique, seed: 1 };
//! // 50 mg/L as NO3- on the first strip of lot 1.
//! let exposure = Exposure { analyte_mol_per_m3: 0.806, temperature_c: None, lot: 1, electrode: 1, scan: 1, faults: vec![] };
//! let scan = bench.read(&bench.trace(&exposure)?, &exposure, &circuit.circuit)?;
//! assert_eq!(scan.n_points(), 151);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
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
pub mod alder_vale_year;
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

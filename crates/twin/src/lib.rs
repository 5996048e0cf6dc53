//! The twin: physics of an electrode in its cell, for scans whose true answer is known.
//!
//! In go a [`Cell`] (geometry, species, couples, chemistry, double layer, resistance, temperature, reference), a
//! technique from `stillwell-scan` and a [`Recording`] (when the current is sampled, how finely time and space are
//! divided); out comes a [`Trace`]: the sampled currents of the technique and the analog current between them.
//! Start at [`simulate()`].
//!
//! Diffusion is one-dimensional, to a plane or a sphere; a disc means its plane, without the edge that a microdisc has.
//! No convection but a stirred layer during deposition, no migration, no adsorption but films.
//!
//! This room never evaluates a scan: it does not know how the answer will be found. It opens no file, starts no
//! thread, draws nothing at random in the physics; a calculation that does not converge is an error, never a scan.

mod cell;
mod diffusion;
mod error;
mod fault;
mod geometry;
mod instrument;
mod interface;
mod kinetics;
mod lots;
mod modes;
mod program;
mod recurrence;
mod reference;
mod simulate;
mod spectrum;
mod stages;
mod surface;
mod temperature;
mod time_steps;
mod trace;
mod transport;
mod validity;

pub use cell::{Cell, Couple, Edge, EdgeDirection, Medium, Reaction, Species};
pub use error::TwinError;
pub use fault::Fault;
pub use geometry::Geometry;
pub use instrument::{
    Circuit, Code, Converter, Mains, Overload, Part, SampleNoise, flicker_variance_a2, johnson_a2_per_hz,
    low_pass, measure, shot_a2_per_hz,
};
pub use kinetics::MAX_COUPLES;
pub use lots::{Population, Spread, Variation};
pub use program::{Recording, Resolution, Sweep};
pub use reference::Reference;
pub use simulate::simulate;
pub use surface::{Surface, Wear};
pub use temperature::{
    FARADAY_C_PER_MOL, GAS_CONSTANT_J_PER_MOL_K, REFERENCE_TEMPERATURE_K, arrhenius_factor, thermal_voltage_v,
};
pub use trace::{AnalogTrace, Reading, Trace, Window};

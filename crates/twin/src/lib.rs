//! The twin: physics of an electrode in its cell, for scans whose true answer is known.
//!
//! In go a [`Cell`] (geometry, species, couples, double layer, resistance, reference), a technique from `stillwell-scan` and
//! a [`Recording`]; out comes a [`Trace`]: the technique's currents and the analog current between them. Start at
//! [`simulate()`]. Diffusion is one-dimensional, to a plane or a sphere; a disc is its plane, without a microdisc's edge.
//!
//! [`measure()`] reads a trace as a [`Circuit`] would: noise, mains, pole, range, converter. A [`Population`] draws cells as
//! lots, electrodes and scans differ. A [`Fault`] spoils a scan in a known way, to see whether it is found out.
//!
//! This room never evaluates a scan: it does not know how the answer will be found. It opens no file and starts no thread;
//! all chance comes from a given stream, none is in the physics. What does not converge is an error, never a scan.

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

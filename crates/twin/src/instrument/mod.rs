//! The instrument: what its circuit makes of a current, and of the potentials that a technique asks for.

mod circuit;
mod converter;
mod filter;
mod measure;
mod noise;

pub use circuit::{Circuit, Mains, Overload, Part, SampleNoise};
pub use converter::{Code, Converter};
pub use filter::low_pass;
pub use measure::measure;
pub(crate) use measure::read_windows;
pub use noise::{flicker_variance_a2, johnson_a2_per_hz, shot_a2_per_hz};

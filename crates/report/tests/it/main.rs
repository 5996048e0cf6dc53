//! Figures: snapshots for the eye, properties for the rest.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod dossiers;
mod gallery;
mod hostile;
mod properties;
mod quality;
mod samples;
mod scenario;
mod snapshots;
mod truth;
mod well_formed;

//! Figures: snapshots for the eye, properties for the rest.

mod scenario;

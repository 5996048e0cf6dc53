//! Figures: what the chain found, drawn as SVG.
//!
//! In go the curves of a scan, a calibration or a table of numbers; out comes one text that a page, a dossier and the
//! command line show alike.
//!
//! This room never computes a signal, a curve or a limit: it only draws what other rooms have found.
#![warn(clippy::indexing_slicing)]

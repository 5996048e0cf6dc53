//! A folder of files becomes the chain's one in-memory input.
//!
//! In goes a path; out comes [`stillwell_method::Input`]. The folder holds `method.toml`, `run-sheet.csv` and the raw
//! files as the laboratory left them (`.csv`, `.txt`, `.tsv`, `.dat`, `.asc`, no ending, or any other that the run sheet
//! names). Start at [`open`].
//!
//! This is one of two rooms that touch files, and it only reads them. It holds no science: what a file means is
//! decided below.
#![warn(clippy::indexing_slicing)]

mod error;
mod open;

pub use error::FolderError;
pub use open::{COMPARISON_FILE, Listing, METHOD_FILE, RUN_SHEET_FILE, list, open, read_bytes};

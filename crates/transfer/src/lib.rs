//! The frozen method as C for a small device, with proof that it computes the same 64 bits.
//!
//! `c/kernel.h` and the C files beside it are written by hand, once; `c/lot.h` is the layout of a lot's record. In goes an
//! accepted calibration of a report ([`Frozen::of`]); out come `method.c` ([`Frozen::method_c`]), the lot's record
//! ([`Frozen::lot_record`]) and scans with the expected bits of every intermediate result ([`Vectors`]). What a device does not do
//! is a [`TransferError`] that names the alternatives.
//!
//! # What this room never does
//! No files, no formula: what the C computes, `stillwell_evaluate` computes.
#![warn(clippy::indexing_slicing)]

mod alternatives;
mod c_files;
mod constants;
mod crc;
mod error;
mod features;
mod frozen;
mod grid;
mod layout;
mod limits;
mod method_text;
mod stack;
mod vectors;

pub mod package;
pub mod wire;

pub use alternatives::{Alternative, Cost, alternatives};
pub use c_files::{C_FILES, CFile, KERNEL_SOURCES};
pub use constants::{LAYOUT, LOT_BYTES, LOT_CHECKSUM_AT, LOT_SIGNATURE_AT};
pub use crc::crc32;
pub use error::TransferError;
pub use frozen::{DEVICE_BASELINES, Frozen, LotTerms, MOST_POINTS};
pub use layout::exact_hexadecimal;
pub use limits::{MOST_LIMITS, frozen_limits};
pub use method_text::LotRecord;
pub use stack::{CallGraph, RUNTIME_STACK_BYTES, StackBound, StackError};
pub use vectors::{VECTORS_VERSION, Vectors, Word, run_sample, run_scan};

//! The record of one result on its way from the device: written there by `c/wire.c`, read here.
//!
//! Two forms of the same record: [`from_bytes`] reads the compact one (CBOR), [`from_line`] one line of text (SenML). Both
//! give a [`WireRecord`], in which no number stands without unit and species, and both are held against the checksum of the
//! compact form, so that a gateway may reformat the line but not change it.
//!
//! Start at `record.rs`; `keys.rs` is the table of fields.

mod basis;
mod compact;
mod error;
mod keys;
mod line;
mod record;
mod senml;

pub use basis::{basis_texts, kind_of};
pub use compact::{from_bytes, to_bytes};
pub use error::WireError;
pub use line::{from_line, to_line};
pub use record::{WireNumbers, WireOutcome, WireRecord, WireVerdict};
pub use senml::{SenmlRecord, SenmlValue, resolve};

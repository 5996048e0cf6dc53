//! Field mode: a result in untrained hands, or a plain refusal. One step at a time, at a well, with wet hands.
//!
//! In go the steps of a run as a device hands them in, late or twice if need be; out come the next step, or the end: one number
//! with its basis and one verdict, "not detected" with a living electrode control, or a refusal that says what to do. Start at
//! `run.rs`, the state machine; `strip.rs` is why no path leaves out a step, `desk.rs` how a step becomes a record.
//!
//! Time comes in as a value. Nothing is typed freely: codes are matched against an approved campaign. The numbers are the
//! study's own determinations, bit for bit. This room renders nothing, knows no network and reads no clock.
#![warn(clippy::indexing_slicing)]

mod run;
mod strip;

mod clocks;
mod laboratory;
mod refusal;
mod step;

mod campaign;
mod campaign_file;

mod chain;
mod desk;
mod in_force;
mod run_sheet;

mod label;
mod pick;

mod outcome;
mod prompt;
mod texts;

mod error;

pub use campaign::{Campaign, Known, Lot, SecondStrip, Strip, Timers, Water, Well, Whom};
pub use clocks::{Elapsed, Moment};
pub use desk::{Answered, Field, NotTaken};
pub use error::FieldError;
pub use label::{Label, LabelKind};
pub use laboratory::{Laboratory, World};
pub use outcome::{Basis, Outcome, Reading, Result, Verdict};
pub use pick::{Labels, Picked, Unpicked};
pub use prompt::{Prompt, Wait};
pub use refusal::Refusal;
pub use run::{End, Run, Stage, Why, Work};
pub use step::{AbandonReason, Handed, HandedIn, Step};
pub use strip::{Applied, Chosen, Living, Measured, Purpose, Rinsed, Started, Tempered};
pub use texts::{Language, Texts, Words};

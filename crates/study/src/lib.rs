//! The study: one file that remembers everything, and can show that nothing was changed.
//!
//! In go folders of raw scans with their run sheet, a laboratory's results, and acts: exclusions, approvals, withdrawals. Out
//! come the chain's input, as from a folder, and the ledger: who did what, when and why, and what every number came
//! from. Start at `study.rs`; `act.rs` lists everything that can be recorded, `schema.rs` the tables.
//!
//! Each record holds the hash of the one before, and names by hash the texts and numbers that it rests on, so that
//! [`Study::verify`] reaches every byte. `crates/study/limits.md` says what that proves and what it does not.
//!
//! This room computes no result, words no report, and knows no page. A name or text from a file is data here: never
//! SQL, never a path.
#![warn(clippy::indexing_slicing)]

mod study;

mod connection;
mod schema;

mod act;
mod ledger;
mod result;

mod add;
mod content;
mod delivery;
mod near;
mod reading;
mod taken_once;

mod beside;
mod borrow;
mod campaign;
mod chart_memory;
mod charts;
mod field_desk;
mod field_past;
mod field_step;
mod issue;
mod kin;
mod laboratory;
mod look;
mod numbered;
mod series;
mod standing;
mod surroundings;
mod validity;
mod walks;
mod withholding;

mod history;
mod overview;
mod shell_word;
mod shown;
mod verify;
mod verify_content;

mod archive;
mod bundle;
mod merge;
mod reevaluate;

mod approve;
mod custody;
mod key_file;
mod lot;
mod transfer;
mod undo;
mod withdraw;

mod claims;
mod clock;
mod day;
mod error;
mod hash;

pub use act::*;
pub use add::Added;
pub use archive::Archived;
pub use beside::Beside;
pub use campaign::CampaignAct;
pub use charts::ChartHold;
pub use claims::{CLAIMS, LIMITS};
pub use clock::Clock;
pub use delivery::Delivery;
pub use error::StudyError;
pub use field_desk::FieldDesk;
pub use field_past::FIELD_SERIES;
pub use field_step::{Deed, FieldStep, StepAnswer, StepFile, StepSeen, StepTime};
pub use hash::Digest;
pub use history::{HistoryEntry, Touched};
pub use issue::{Issued, IssuedDetermination};
pub use key_file::SigningPerson;
pub use laboratory::{LaboratoryAct, LaboratoryOnRecord, LaboratoryTaken, MOST_LABORATORY_BYTES};
pub use ledger::{By, Record};
pub use look::{LastIssued, Looked};
pub use lot::LotStatement;
pub use merge::Merged;
pub use numbered::Numbered;
pub use overview::{History, Overview};
pub use reevaluate::{Brief, Difference, Reevaluation, StaysWithdrawn};
pub use result::{
    CalibrationResult, Constants, DecisionText, DeterminationResult, FindingText, Numbers, ScanRef, ScanUsed,
};
pub use series::open_input;
pub use shell_word::{shell_path, shell_word};
pub use shown::Shown;
pub use standing::{Said, Standing};
pub use study::{Anchor, MethodRevision, Study};
pub use transfer::{Carriable, day_of_number, is_signed_by, today};
pub use verify::{
    Damage, Recompute, Recomputed, RecordName, Verification, VerifyRequest, is_study, verify, verify_telling,
};
pub use walks::WalkedStudy;

//! The evidence page: a study in the browser, for whoever asks "may I trust this number?".
//!
//! In go requests from one browser on this computer; out come pages that were made on the server and work without a script,
//! and the documents of `report::json` for programs. Start reading at `routes.rs`: every address there is, with its page or
//! act. `site.rs` is what all of them share: the study's file, the secrets of this launch, what was computed already.
//!
//! `guard/` decides who may ask at all, `layout/` is what every page has around its content, `pages/` holds one file a page,
//! `acts/` one file for what a person can do to the study, `api/` the documents and their description. `intake/` keeps files
//! that were sent until they are taken in with a run sheet, `placing/` tries peak and baseline windows and makes a revision
//! of them, `quality/` shows control, lots, validation and comparison, `jobs/` runs what takes long beside the pages, with
//! progress and a way to stop it.
//!
//! This room holds no science, no formula and no SQL: what it shows was computed, judged and recorded below. Every act is one
//! of `study`'s, with a person and a reason, and becomes a record of the ledger.
#![warn(clippy::indexing_slicing)]

mod acts;
mod api;
mod assets;
mod error;
mod field;
mod guard;
mod intake;
mod jobs;
mod layout;
mod pages;
mod placing;
mod quality;
mod routes;
mod server;
mod site;
mod trust;
mod view;
mod wording;

pub use error::ServeError;
pub use field::{
    FieldServing, FieldSite, LabelSheet, Said, SheetWanted, field_router, label_sheet, serve_field,
};
pub use routes::router;
pub use server::{Serving, serve};
pub use site::{Launch, Site};

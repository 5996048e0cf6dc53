//! Intake: files come to a staging beside the study, are seen as they were read, get their run sheet, and are then taken in.
//!
//! `desk.rs` keeps the stagings on disk, so that they outlive tab and server; `upload.rs` receives files; `check.rs` reads and
//! judges them with the rooms below; `page.rs` and `sheet_form.rs` show it; `acts.rs` tidies, takes in and discards. Nothing is
//! guessed: a scan without a role stays a problem until a person says what it is.

mod acts;
mod check;
mod desk;
mod name;
mod page;
mod sheet_form;
mod upload;

pub(crate) use check::Readings;
pub(crate) use desk::Desk;
pub(crate) use name::sanitized;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::{get, post};

use crate::site::Site;

/// A page of a run sheet, with every cell filled to its end.
const MAX_SHEET_BYTES: usize = 2 << 20;

/// Every address of the intake.
pub(crate) fn routes() -> Router<Site> {
    let files = Router::new()
        .route("/intake/files", post(upload::begin))
        .route("/intake/{staging}/files", post(upload::more))
        // Files are counted as they come; see `desk`.
        .layer(DefaultBodyLimit::disable());
    Router::new()
        .route("/intake", get(page::list))
        .route("/intake/{staging}", get(page::one))
        .route("/intake/{staging}/sheet", post(acts::save).layer(DefaultBodyLimit::max(MAX_SHEET_BYTES)))
        .route("/intake/{staging}/lines", post(acts::add_lines))
        .route("/intake/{staging}/set", post(acts::set))
        .route("/intake/{staging}/remove", post(acts::remove))
        .route("/intake/{staging}/take", post(acts::take))
        .route("/intake/{staging}/discard", post(acts::discard))
        .merge(files)
}

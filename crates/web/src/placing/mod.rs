//! Placing peak and baseline: moved on one scan, seen at once, kept for all of them as a revision of the method.
//!
//! `trial.rs` walks the chain by a method that nobody has recorded; `page.rs` shows it beside the figure, `proposal.rs` shows
//! what it would change in all of history and keeps it. A number placed by hand for one sample does not exist.

mod asked;
mod document;
mod form;
mod method_page;
mod page;
mod proposal;
mod trial;

pub(crate) use document::{Document, document};
pub(crate) use form::section;
pub(crate) use proposal::Proposals;
pub(crate) use trial::Trials;

use axum::Router;
use axum::routing::{get, post};

use crate::site::Site;

/// Every address of placing.
pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/series/{series}/scans/{place}/placing", get(page::page))
        .route("/method", get(method_page::page))
        .route("/method/look", post(proposal::look))
        .route("/method/proposals/{job}/keep", post(proposal::keep))
}

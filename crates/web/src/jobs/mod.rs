//! Long work that runs apart from the pages: it says how far it is, can be stopped, and outlives the tab that asked for it.
//!
//! A job records nothing before its last step, or only what the study keeps whole by itself; so one that is stopped, or whose
//! server ends, leaves nothing half done. Jobs live as long as the server does.

mod job;
mod live;
mod page;

pub(crate) use job::{Job, Jobs, Outcome};
pub(crate) use page::{address, under_way};

use axum::Router;
use axum::routing::{get, post};

use crate::site::Site;

/// Every address of long work.
pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/jobs", get(page::list))
        .route("/jobs/{job}", get(page::one))
        .route("/jobs/{job}/events", get(live::events))
        .route("/jobs/{job}/stop", post(page::stop))
}

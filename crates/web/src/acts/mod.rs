//! What a person can do to the study: one file a group of acts. Each takes a person and a reason, and becomes a record.

use axum::Router;

use crate::site::Site;

pub(crate) fn routes() -> Router<Site> {
    Router::new()
}

//! The documents for programs: the same contract as `--format json`, and its description.

use axum::Router;

use crate::site::Site;

pub(crate) fn routes() -> Router<Site> {
    Router::new()
}

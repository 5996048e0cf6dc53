//! The documents for programs: the same contract as `--format json`, and its description.
//!
//! One table (`operations.rs`) holds every address with its words, parameters and fields: the router and the `OpenAPI`
//! document are both made from it, so that neither can say what the other does not.

mod documents;
mod openapi;
mod operations;

use axum::Router;
use axum::routing::get;

use crate::site::Site;

/// Every document's address.
pub(crate) fn routes() -> Router<Site> {
    let documents = operations::all()
        .into_iter()
        .fold(Router::new(), |router, operation| router.route(operation.path, operation.route));
    documents.route("/api/openapi.json", get(openapi::document))
}

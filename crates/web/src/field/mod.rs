//! Field mode's pages: one step at a time on a phone, with a link or without.
//!
//! `field_router` below has every address there is; the analyst's pages are not among them. `hand_in.rs` takes a step, `run.rs`
//! shows where a run stands, `ending.rs` its end; `scan.rs` lets a photo of a label pick from the list. `pairing.rs`, `phones.rs` and `guard.rs` decide who may ask. `kept.rs` is what
//! a phone keeps to go on without a link; its script is `assets/field.js`. What a step means is the field room's matter.

mod ending;
mod frame;
mod guard;
mod hand_in;
mod icons;
mod kept;
mod pairing;
mod phones;
mod picture;
mod run;
mod scan;
mod serving;
mod sheet;
mod site;
mod start;
mod steps;
mod trouble;

use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware::{from_fn, from_fn_with_state};
use axum::response::{IntoResponse as _, Redirect};
use axum::routing::{get, post};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::timeout::TimeoutLayer;

pub use serving::{FieldServing, Said, serve_field};
pub use sheet::{LabelSheet, SheetWanted, label_sheet};
pub use site::FieldSite;

use crate::assets;
use trouble::Trouble;

/// The largest raw file of one strip, with the words around it. The field room refuses what is larger than 4 MiB.
const MAX_STEP_BYTES: usize = (4 << 20) + (64 << 10);
/// The largest photo of a label, with the words around it.
const MAX_PHOTO_BYTES: usize = picture::MOST_BYTES + (64 << 10);
/// No other form is larger.
const MAX_FORM_BYTES: usize = 4 << 10;
/// Longer than any step takes.
const MAX_TIME: Duration = Duration::from_mins(2);

/// All pages of the field, behind their guard; testable without a socket.
pub fn field_router(site: FieldSite) -> Router {
    let guarded = from_fn_with_state(site.clone(), guard::admit);
    let step = post(hand_in::take).layer(DefaultBodyLimit::max(MAX_STEP_BYTES));
    let photo = post(scan::take).layer(DefaultBodyLimit::max(MAX_PHOTO_BYTES));
    Router::new()
        .route("/", get(|| async { Redirect::to("/field") }))
        .route("/field", get(start::start))
        .route("/field/pair", get(start::pair_page).post(start::pair))
        .route("/field/language", get(start::language))
        .route("/field/ground", get(start::ground))
        .route("/field/new", get(run::new))
        .route("/field/run/{run}", get(run::page).merge(step))
        .route("/field/run/{run}/scan", photo)
        .route("/field/steps", get(kept::steps))
        .route("/field/manifest.webmanifest", get(kept::manifest))
        .route("/field/service-worker.js", get(kept::worker))
        .route("/assets/{name}", get(assets::serve))
        .fallback(|| async { Trouble::Elsewhere })
        .method_not_allowed_fallback(|| async { Trouble::Elsewhere })
        .layer(DefaultBodyLimit::max(MAX_FORM_BYTES))
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, MAX_TIME))
        .layer(CatchPanicLayer::custom(|_| Trouble::Busy.into_response()))
        .layer(guarded)
        .layer(from_fn(crate::guard::with_headers))
        .layer(from_fn(guard::with_policy))
        .with_state(site)
}

//! Every address there is.

use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::http::StatusCode;
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::response::{IntoResponse as _, Response};
use axum::routing::{get, post};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::timeout::TimeoutLayer;

use crate::layout::{Refusal, choose};
use crate::site::Site;
use crate::{assets, guard, pages};

/// No form of ours is larger.
const MAX_FORM_BYTES: usize = 64 * 1024;
/// Longer than any page takes; what takes longer is not answered.
const MAX_TIME: Duration = Duration::from_mins(2);

/// All pages, acts and documents, behind the guard; testable without a socket.
pub fn router(site: Site) -> Router {
    let guarded = from_fn_with_state(site.clone(), guard::admit);
    Router::new()
        .merge(pages())
        .merge(crate::acts::routes())
        .merge(crate::intake::routes())
        .merge(crate::jobs::routes())
        .merge(crate::placing::routes())
        .merge(crate::quality::routes())
        .merge(crate::api::routes())
        .route("/enter", get(guard::enter))
        .route("/theme", post(choose))
        .route("/assets/{name}", get(assets::serve))
        .fallback(nowhere)
        .method_not_allowed_fallback(no_such_act)
        .layer(DefaultBodyLimit::max(MAX_FORM_BYTES))
        .layer(guarded)
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, MAX_TIME))
        .layer(CatchPanicLayer::custom(|_| Refusal::failed("a page could not be made").into_response()))
        .layer(from_fn(worded))
        .layer(from_fn(guard::with_headers))
        .with_state(site)
}

fn pages() -> Router<Site> {
    Router::new()
        .route("/", get(pages::start::page))
        .route("/scans", get(pages::scans::page))
        .route("/signals", get(pages::signals::page))
        .route("/series/{series}/scans.csv", get(pages::downloads::scans))
        .route("/series/{series}/overlay.svg", get(pages::figures::of_series))
        .route("/series/{series}/scans/{place}", get(pages::scan::page))
        .route("/series/{series}/scans/{place}/figure.svg", get(pages::figures::of_scan))
        .route("/calibrations", get(pages::calibrations::page))
        .route("/calibrations/{calibration}", get(pages::calibration::page))
        .route("/calibrations/{calibration}/figure.svg", get(pages::figures::of_calibration))
        .route("/concentrations", get(pages::concentrations::page))
        .route("/results", get(pages::results::page))
        .route("/results.csv", get(pages::downloads::results))
        .route("/series/{series}/dossier.html", get(pages::downloads::dossier_of))
        .route("/results/{result}", get(pages::result::page))
        .route("/results/{result}/budget", get(pages::budget::page))
        .route("/results/{result}/budget/figure.svg", get(pages::budget::figure))
        .route("/results/{result}/budget/draw", post(pages::budget::draw))
        .route("/results/{result}/scans/{place}", get(pages::scan::as_issued))
        .route("/results/{result}/scans/{place}/figure.svg", get(pages::figures::of_issued_scan))
        .route("/ledger", get(pages::ledger::page))
        .route("/keys", get(pages::keys::page))
        .route("/about", get(pages::about::page))
}

/// Every refusal says what was found and what to do, also those of the libraries below; programs get it as JSON.
async fn worded(request: Request, next: Next) -> Response {
    let is_program = request.uri().path().starts_with("/api/");
    let answer = next.run(request).await;
    let status = answer.status();
    let is_bare = (status.is_client_error() || status.is_server_error())
        && answer.extensions().get::<Refusal>().is_none();
    let refusal = if is_bare { Some(Refusal::of_status(status)) } else { answer.extensions().get().cloned() };
    match refusal {
        Some(refusal) if is_program => refusal.for_programs(),
        Some(refusal) if is_bare => refusal.into_response(),
        _ => answer,
    }
}

async fn nowhere() -> Refusal {
    Refusal::new(StatusCode::NOT_FOUND, "there is no such page", "go on from the start page")
}

async fn no_such_act() -> Refusal {
    Refusal::new(StatusCode::METHOD_NOT_ALLOWED, "this address does not do that", "go on from the start page")
}

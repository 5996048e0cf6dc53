//! Quality over time: is the method in control, may lots be read off the approved calibration, what was the method shown to do,
//! does an accredited laboratory find the same? One line a question, a page for each, and the same as documents.
//!
//! `judgement.rs` has the rooms below judge all series once for each state of the ledger; the pages only set what came out.

mod comparison;
mod control;
mod documents;
mod judgement;
mod lots;
mod overview;
mod set;
mod validation;

use axum::Router;
use axum::routing::get;

pub(crate) use documents::{comparison, control, lots, validation};
pub(crate) use judgement::Judgements;
pub(crate) use overview::on_start;

use crate::site::Site;

/// Every address of quality over time.
pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/quality", get(overview::page))
        .route("/quality/control", get(control::page))
        .route("/quality/control/{chart}/figure.svg", get(control::figure))
        .route("/quality/lots", get(lots::page))
        .route("/quality/lots/figure.svg", get(lots::figure))
        .route("/quality/validation", get(validation::page))
        .route("/quality/validation/figure.svg", get(validation::figure))
        .route("/quality/comparison", get(comparison::page))
        .route("/quality/comparison/figure.svg", get(comparison::figure))
}

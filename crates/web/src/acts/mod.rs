//! What a person can do to the study: one file a group of acts. Each takes a person and a reason, and becomes a record.

mod approving;
mod issuing;
mod keeping;
mod laboratory;
mod receipt;
mod scans;
mod signer;
mod withdrawing;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::post;

pub(crate) use approving::approval_act;
pub(crate) use issuing::issue_act;
pub(crate) use keeping::{key_act, lot_act, validity_acts};
pub(crate) use laboratory::laboratory_acts;
pub(crate) use scans::scan_acts;
pub(crate) use signer::signer;
pub(crate) use withdrawing::{result_acts, withdraw_act};

use crate::site::Site;

/// Every act's address.
pub(crate) fn routes() -> Router<Site> {
    let with_file = post(laboratory::record).layer(DefaultBodyLimit::max(laboratory::MOST_FORM_BYTES));
    Router::new()
        .route("/laboratory", with_file)
        .route("/laboratory/{record}/withdraw", post(laboratory::withdraw))
        .route("/series/{series}/issue", post(issuing::issue))
        .route("/series/{series}/scans/{place}/exclude", post(scans::exclude))
        .route("/series/{series}/scans/{place}/override", post(scans::override_check))
        .route("/results/{result}/approve", post(approving::result))
        .route("/results/{result}/withdraw", post(withdrawing::result))
        .route("/calibrations/{calibration}/approve", post(approving::calibration))
        .route("/calibrations/{calibration}/withdraw", post(withdrawing::calibration))
        .route("/calibrations/{calibration}/validity", post(keeping::validity))
        .route("/calibrations/{calibration}/end", post(keeping::end))
        .route("/custody", post(keeping::custody))
        .route("/lots", post(keeping::lot))
        .route("/keys", post(keeping::key))
        .route("/keys/{record}/withdraw", post(withdrawing::key))
        .route("/undo/{record}", post(scans::undo))
}

//! The launch's address is the key to the page: it is printed once, in the terminal of whoever started the server.

use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::http::header::{LOCATION, SET_COOKIE};
use axum::response::{IntoResponse as _, Response};
use serde::Deserialize;

use crate::layout::Refusal;
use crate::site::Site;

#[derive(Deserialize)]
pub(crate) struct Entering {
    #[serde(default)]
    token: String,
}

/// Exchanges the token of the printed address for a cookie that scripts cannot read and other sites do not send.
pub(crate) async fn enter(State(site): State<Site>, Query(entering): Query<Entering>) -> Response {
    let launch = site.launch();
    if !launch.is_token(&entering.token) {
        return Refusal::new(
            StatusCode::FORBIDDEN,
            "this address does not belong to this launch",
            "open the address that `stillwell serve` printed; each launch prints a new one",
        )
        .into_response();
    }
    let cookie = format!("{}={}; Path=/; HttpOnly; SameSite=Strict", launch.cookie_name(), launch.session());
    (StatusCode::SEE_OTHER, [(SET_COOKIE, cookie), (LOCATION, "/".to_owned())]).into_response()
}

//! Where a request was sent to, and from where.

use axum::http::header::{HOST, ORIGIN};
use axum::http::{HeaderMap, Method};

/// Why a request is not answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stranger {
    /// It asks for another host: a name that somebody made to point here.
    Host,
    /// It was sent by a page of another origin.
    Origin,
}

/// The `Host` must be this server's own address: else a name on the web could be made to lead here, and its pages would
/// count as ours. Where a browser says what kind of page sent a request, it must be ours or none.
pub(crate) fn check(method: &Method, headers: &HeaderMap, origins: &[String]) -> Result<(), Stranger> {
    let text = |name| headers.get(name).and_then(|value| value.to_str().ok());
    if headers.get_all(HOST).iter().count() != 1 {
        return Err(Stranger::Host);
    }
    let host = text(HOST.as_str()).unwrap_or_default();
    let host_of = |origin: &str| origin.split_once("://").map_or("", |(_, host)| host).to_owned();
    let own: Vec<&String> =
        origins.iter().filter(|origin| host_of(origin).eq_ignore_ascii_case(host)).collect();
    if own.is_empty() {
        return Err(Stranger::Host);
    }
    // Another port of this computer is "same-site" too, and a stranger all the same.
    if !matches!(text("sec-fetch-site"), None | Some("same-origin" | "none")) {
        return Err(Stranger::Origin);
    }
    let is_reading = matches!(*method, Method::GET | Method::HEAD);
    match text(ORIGIN.as_str()) {
        None if !headers.contains_key(ORIGIN) => Ok(()),
        Some(origin) if own.iter().any(|own| own.eq_ignore_ascii_case(origin)) => Ok(()),
        // A form that was sent after a redirect may say null; the answer to a reading cannot be seen from there.
        Some("null") if is_reading => Ok(()),
        _ => Err(Stranger::Origin),
    }
}

//! What every answer says to the browser: run nothing but our own files, show us in no frame, keep no copy.

use axum::extract::Request;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderName, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue};
use axum::middleware::Next;
use axum::response::Response;

/// No inline script or style anywhere, nothing from elsewhere, forms to ourselves only.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
                      form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// A figure by itself brings its style sheet along; it may do nothing else.
const FIGURE_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox";

/// Adds the headers; what an answer says of its own caching or policy stands.
pub(crate) async fn with_headers(request: Request, next: Next) -> Response {
    let mut answer = next.run(request).await;
    let headers = answer.headers_mut();
    let is_figure = headers.get("content-type").is_some_and(|kind| kind.as_bytes().starts_with(b"image/svg"));
    let policy = if is_figure { FIGURE_POLICY } else { POLICY };
    let otherwise = |headers: &mut HeaderMap, name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
    otherwise(headers, CACHE_CONTROL, "no-store");
    otherwise(headers, X_CONTENT_TYPE_OPTIONS, "nosniff");
    // With no-referrer a browser would send `Origin: null` with our own forms, and be turned away as a stranger.
    otherwise(headers, REFERRER_POLICY, "same-origin");
    otherwise(headers, HeaderName::from_static("x-frame-options"), "DENY");
    otherwise(headers, HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    otherwise(headers, HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    otherwise(
        headers,
        HeaderName::from_static("permissions-policy"),
        "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    );
    answer
}

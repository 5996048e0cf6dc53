//! Who may ask: a paired phone, at the server's own address, from its own pages. Everyone else sees the page that pairs.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};

use axum::extract::{ConnectInfo, FromRequestParts, Request, State};
use axum::http::header::{ACCEPT_LANGUAGE, CONTENT_SECURITY_POLICY, REFERRER_POLICY};
use axum::http::request::Parts;
use axum::http::{HeaderValue, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};
use stillwell_field::Language;

use super::frame::{self, Look};
use super::pairing::Peer;
use super::site::FieldSite;
use super::trouble::Trouble;
use crate::guard::{Stranger, check, cookie};
use crate::layout::Theme;

/// As for the evidence page, and a manifest and a worker of our own, so that the page can be kept on the phone.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
                      manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Cookie of the language, and of the ground.
pub(super) const LANGUAGE_COOKIE: &str = "stillwell-language";
pub(super) const GROUND_COOKIE: &str = "stillwell-ground";

/// The one who asks.
#[derive(Debug, Clone)]
pub(super) struct Asker {
    pub(super) language: Language,
    pub(super) ground: Theme,
    /// The token that was shown, whether it is known or not.
    pub(super) token: Option<String>,
    /// The phone, where it is paired.
    pub(super) device: Option<String>,
    /// The scheme by which the site was asked for.
    pub(super) is_secure: bool,
    /// Where it is asked from.
    pub(super) peer: Peer,
}

/// A phone that is paired.
#[derive(Debug, Clone)]
pub(super) struct Paired {
    pub(super) device: String,
    token: String,
    pub(super) asker: Asker,
}

impl Paired {
    /// What every form of this phone holds. It outlives the server, as the pairing does: a page that was kept can still be sent.
    pub(super) fn form_token(&self) -> String {
        let key = blake3::hash(self.token.as_bytes());
        blake3::keyed_hash(key.as_bytes(), b"stillwell field form").to_hex().chars().take(43).collect()
    }

    /// Compared by their hashes, so that the time it takes tells nothing.
    pub(super) fn is_form_token(&self, given: &str) -> bool {
        blake3::hash(given.as_bytes()) == blake3::hash(self.form_token().as_bytes())
    }
}

/// Turns strangers away, learns who asks, and words what went wrong.
pub(super) async fn admit(State(site): State<FieldSite>, mut request: Request, next: Next) -> Response {
    let headers = request.headers();
    let ground = cookie(headers, GROUND_COOKIE).map_or(Theme::System, |word| Theme::of(&word));
    let asked = headers.get(ACCEPT_LANGUAGE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let first = asked.split([',', ';']).next().unwrap_or_default().trim();
    let language = Language::of_tag(&cookie(headers, LANGUAGE_COOKIE).unwrap_or_else(|| first.to_owned()));
    let stranger = check(request.method(), headers, site.origins()).err();
    let token = cookie(headers, &site.cookie_name());
    let device =
        token.as_deref().and_then(|token| site.phones().of_token(token, site.campaign(), site.now_ms()));
    let is_secure = is_secure(&site, headers);
    let from = request.extensions().get::<ConnectInfo<SocketAddr>>().map(|ConnectInfo(address)| address.ip());
    let forwarded = headers.get("x-forwarded-for").and_then(|value| value.to_str().ok());
    let peer = Peer::of(from.unwrap_or(IpAddr::V4(Ipv4Addr::LOCALHOST)), forwarded);
    let asker = Asker { language, ground, token, device, is_secure, peer };
    let look = Look { texts: site.texts(language), ground };
    let answer = match stranger {
        Some(Stranger::Host) => Trouble::Stranger(StatusCode::MISDIRECTED_REQUEST).into_response(),
        Some(Stranger::Origin) => Trouble::Stranger(StatusCode::FORBIDDEN).into_response(),
        None => {
            request.extensions_mut().insert(asker);
            next.run(request).await
        }
    };
    let status = answer.status();
    let trouble = answer.extensions().get::<Trouble>().copied();
    let has_body = answer.headers().contains_key("content-type");
    match trouble {
        Some(trouble) => worded(&look, trouble),
        None if (status.is_client_error() || status.is_server_error()) && !has_body => {
            worded(&look, Trouble::of_status(status))
        }
        None => answer,
    }
}

/// Whether the host that was asked for is one of ours behind TLS.
fn is_secure(site: &FieldSite, headers: &axum::http::HeaderMap) -> bool {
    let host = headers.get("host").and_then(|value| value.to_str().ok()).unwrap_or_default();
    site.origins().iter().any(|origin| origin.strip_prefix("https://").is_some_and(|own| own == host))
}

fn worded(look: &Look<'_>, trouble: Trouble) -> Response {
    (trouble.status(), frame::of_trouble(look, trouble)).into_response()
}

/// The policy of these pages, over that of the evidence page.
pub(super) async fn with_policy(request: Request, next: Next) -> Response {
    let mut answer = next.run(request).await;
    // With no-referrer a browser would send `Origin: null` with our own forms, and be turned away as a stranger.
    answer.headers_mut().insert(REFERRER_POLICY, HeaderValue::from_static("same-origin"));
    let is_figure =
        answer.headers().get("content-type").is_some_and(|kind| kind.as_bytes().starts_with(b"image/svg"));
    if !is_figure {
        answer.headers_mut().insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    }
    answer
}

impl<S: Send + Sync> FromRequestParts<S> for Asker {
    type Rejection = Trouble;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Trouble> {
        parts.extensions.get::<Self>().cloned().ok_or(Trouble::Busy)
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Paired {
    type Rejection = Trouble;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Trouble> {
        let asker = Asker::from_request_parts(parts, state).await?;
        match (asker.device.clone(), asker.token.clone()) {
            (Some(device), Some(token)) => Ok(Self { device, token, asker }),
            _ => Err(Trouble::NotPaired),
        }
    }
}

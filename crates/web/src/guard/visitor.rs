//! The one who asks: let in by the session's cookie, or a program by the launch's token.

use axum::extract::{FromRequestParts, Request, State};
use axum::http::header::{AUTHORIZATION, COOKIE};
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};

use super::origin::{Stranger, check};
use crate::layout::{Refusal, Theme};
use crate::site::Site;

/// What is known of the one who asks.
#[derive(Debug, Clone)]
pub(crate) struct Visitor {
    /// Whether it is a program with the launch's token: it holds no cookie that a stranger's page could ride on.
    pub(crate) is_program: bool,
    /// The ground that was chosen.
    pub(crate) theme: Theme,
    /// The name under which this browser acted last, to be offered again.
    pub(crate) actor: String,
    /// The path that was asked for.
    pub(crate) path: String,
}

/// Addresses that lead in, or hold nothing of the study.
fn is_open(path: &str) -> bool {
    path == "/enter" || path.starts_with("/assets/")
}

/// Lets in whoever may ask, and nobody else.
pub(crate) async fn admit(State(site): State<Site>, mut request: Request, next: Next) -> Response {
    let headers = request.headers();
    let origins: Vec<String> = site.hosts().iter().map(|host| format!("http://{host}")).collect();
    if let Err(stranger) = check(request.method(), headers, &origins) {
        return turned_away(stranger).into_response();
    }
    let launch = site.launch();
    let is_program = bearer(headers).is_some_and(|token| launch.is_token(token));
    let is_browser = cookie(headers, &launch.cookie_name()).is_some_and(|value| launch.is_session(&value));
    if !(is_program || is_browser || is_open(request.uri().path())) {
        return Refusal::new(
            StatusCode::UNAUTHORIZED,
            "this browser has not come in by the printed address",
            "open the address that `stillwell serve` printed in its terminal; programs send its token as `Authorization: Bearer …`",
        )
        .into_response();
    }
    let visitor = Visitor {
        is_program: is_program && !is_browser,
        theme: cookie(headers, "stillwell-theme").map_or(Theme::System, |word| Theme::of(&word)),
        actor: cookie(headers, "stillwell-actor").map(|name| decoded(&name)).unwrap_or_default(),
        path: request.uri().path().to_owned(),
    };
    request.extensions_mut().insert(visitor);
    next.run(request).await
}

fn turned_away(stranger: Stranger) -> Refusal {
    match stranger {
        Stranger::Host => Refusal::new(
            StatusCode::MISDIRECTED_REQUEST,
            "this server does not answer to that host name",
            "open the address as it was printed",
        ),
        Stranger::Origin => Refusal::new(
            StatusCode::FORBIDDEN,
            "this request was sent by a page of another site",
            "open the address as it was printed, and act from its pages",
        ),
    }
}

fn bearer(headers: &HeaderMap) -> Option<&str> {
    headers.get(AUTHORIZATION)?.to_str().ok()?.strip_prefix("Bearer ")
}

pub(crate) fn cookie(headers: &HeaderMap, name: &str) -> Option<String> {
    let lines = headers.get_all(COOKIE).iter().filter_map(|line| line.to_str().ok());
    let mut pairs = lines.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.find(|(found, _)| *found == name).map(|(_, value)| value.to_owned())
}

/// Keeps a name for the next form.
pub(crate) fn actor_cookie(name: &str) -> String {
    let name: String = name.chars().take(200).collect();
    format!("stillwell-actor={}; Path=/; Max-Age=31536000; HttpOnly; SameSite=Strict", encoded(&name))
}

/// A name as it stands in a cookie: every byte but letters and digits as `%XX`.
fn encoded(name: &str) -> String {
    name.bytes()
        .map(|byte| match byte {
            byte if byte.is_ascii_alphanumeric() => char::from(byte).to_string(),
            byte => format!("%{byte:02X}"),
        })
        .collect()
}

fn decoded(text: &str) -> String {
    let mut bytes = Vec::new();
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        let digits = [rest.clone().next(), rest.clone().nth(1)];
        let value = match (byte, digits) {
            (b'%', [Some(high), Some(low)]) => {
                let text = [high, low];
                std::str::from_utf8(&text).ok().and_then(|text| u8::from_str_radix(text, 16).ok())
            }
            _ => None,
        };
        if value.is_some() {
            rest.nth(1);
        }
        bytes.push(value.unwrap_or(byte));
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

impl<S: Send + Sync> FromRequestParts<S> for Visitor {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Refusal> {
        let visitor = parts.extensions.get::<Self>().cloned();
        visitor.ok_or_else(|| Refusal::failed("a request came past the guard"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_survive_the_way_through_a_cookie() {
        for name in ["Inés Ålvarez", "a;b=c%20", "\u{202e}abc", ""] {
            assert_eq!(decoded(&encoded(name)), name);
        }
        assert_eq!(decoded("%zz%"), "%zz%");
    }
}

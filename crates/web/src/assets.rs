//! Style sheet, script and mark: built into the binary, and named by what they hold so that a browser may keep them.

use std::borrow::Cow;

use axum::extract::Path;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse as _, Response};
use rust_embed::RustEmbed;
use stillwell_report::figure_stylesheet;

use crate::layout::Refusal;

#[derive(RustEmbed)]
#[folder = "assets/"]
struct Assets;

/// Files and their kinds; nothing else is served.
const KINDS: [(&str, &str); 4] = [
    (".css", "text/css; charset=utf-8"),
    (".js", "text/javascript; charset=utf-8"),
    (".svg", "image/svg+xml"),
    (".png", "image/png"),
];

/// The style sheet of figures, which the report room writes.
pub(crate) const FIGURES: &str = "figures.css";

/// The address of a file: with the beginning of its hash.
pub(crate) fn address(name: &str) -> String {
    let hash = content(name).map_or_else(String::new, |content| beginning(&content));
    format!("/assets/{hash}-{name}")
}

pub(crate) fn content(name: &str) -> Option<Cow<'static, [u8]>> {
    if name == FIGURES {
        return Some(figure_stylesheet().into_bytes().into());
    }
    Some(Assets::get(name)?.data)
}

fn beginning(content: &[u8]) -> String {
    blake3::hash(content).to_hex().chars().take(12).collect()
}

/// A file by its full name; one of another version is not there any more.
pub(crate) async fn serve(Path(asked): Path<String>) -> Response {
    let found = asked.split_once('-').and_then(|(hash, name)| {
        let content = content(name)?;
        let kind = KINDS.iter().find(|(ending, _)| name.ends_with(ending))?.1;
        (beginning(&content) == hash).then_some((kind, content))
    });
    match found {
        Some((kind, data)) => {
            let headers = [(CONTENT_TYPE, kind), (CACHE_CONTROL, "public, max-age=31536000, immutable")];
            (headers, data.into_owned()).into_response()
        }
        None => {
            Refusal::new(StatusCode::NOT_FOUND, "there is no such file", "reload the page").into_response()
        }
    }
}

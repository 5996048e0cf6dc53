//! Style sheet, script and mark: built into the binary, and named by what they hold so that a browser may keep them.

use axum::extract::Path;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse as _, Response};
use rust_embed::RustEmbed;

use crate::layout::Refusal;

#[derive(RustEmbed)]
#[folder = "assets/"]
struct Assets;

/// Files and their kinds; nothing else is served.
const KINDS: [(&str, &str); 3] = [
    (".css", "text/css; charset=utf-8"),
    (".js", "text/javascript; charset=utf-8"),
    (".svg", "image/svg+xml"),
];

/// The address of a file: with the beginning of its hash.
pub(crate) fn address(name: &str) -> String {
    let hash = Assets::get(name).map_or_else(String::new, |file| beginning(&file.metadata.sha256_hash()));
    format!("/assets/{hash}-{name}")
}

fn beginning(hash: &[u8]) -> String {
    hash.iter().take(6).map(|byte| format!("{byte:02x}")).collect()
}

/// A file by its full name; one of another version is not there any more.
pub(crate) async fn serve(Path(asked): Path<String>) -> Response {
    let found = asked.split_once('-').and_then(|(hash, name)| {
        let file = Assets::get(name)?;
        let kind = KINDS.iter().find(|(ending, _)| name.ends_with(ending))?.1;
        (beginning(&file.metadata.sha256_hash()) == hash).then_some((kind, file.data))
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

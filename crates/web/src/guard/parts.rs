//! Forms with files: the token comes before any file, and without it nothing is read on.

use axum::extract::Multipart;
use axum::extract::multipart::{Field, MultipartError};
use axum::http::StatusCode;

use super::form::TOKEN_FIELD;
use super::visitor::Visitor;
use crate::layout::Refusal;
use crate::site::Site;

/// No token is longer.
const MOST_TOKEN_BYTES: usize = 200;

/// Admits a form with files by the token in its first part. A program shows the launch's token itself.
pub(crate) async fn admit_parts(
    site: &Site,
    visitor: &Visitor,
    parts: &mut Multipart,
) -> Result<(), Refusal> {
    if visitor.is_program {
        return Ok(());
    }
    let wrong = || {
        Refusal::new(
            StatusCode::FORBIDDEN,
            "this form does not come from a page of this launch",
            "go back, reload the page and send the files again; nothing was kept",
        )
    };
    let Some(field) = parts.next_field().await.map_err(|error| broken(&error))? else {
        return Err(wrong());
    };
    if field.name() != Some(TOKEN_FIELD) {
        return Err(wrong());
    }
    let token = bytes_of(field, MOST_TOKEN_BYTES).await?.ok_or_else(wrong)?;
    let is_ours = site.launch().is_form_token(&visitor.path, String::from_utf8_lossy(&token).trim());
    if is_ours { Ok(()) } else { Err(wrong()) }
}

/// The bytes of a part; none where it holds more than `most`.
pub(crate) async fn bytes_of(mut field: Field<'_>, most: usize) -> Result<Option<Vec<u8>>, Refusal> {
    let mut bytes = Vec::new();
    while let Some(piece) = field.chunk().await.map_err(|error| broken(&error))? {
        if bytes.len() + piece.len() > most {
            return Ok(None);
        }
        bytes.extend_from_slice(&piece);
    }
    Ok(Some(bytes))
}

fn broken(error: &MultipartError) -> Refusal {
    Refusal::new(error.status(), &error.body_text(), "send the form again; nothing was kept")
}

//! Files as they come in: written to disk piece by piece, counted, never held in memory whole.

use axum::body::Bytes;
use axum::extract::multipart::Field;
use axum::extract::{Multipart, Path, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{IntoResponse as _, Response};
use tokio::sync::mpsc;

use super::desk::{Arrived, MOST_BYTES, MOST_FILE_BYTES, MOST_FILES};
use super::name::sanitized;
use crate::guard::{Visitor, admit_parts};
use crate::layout::Refusal;
use crate::site::Site;

/// Pieces that wait to be written.
const PIECES: usize = 8;

/// `/intake/files`: the first files of a new staging.
pub(super) async fn begin(
    State(site): State<Site>,
    visitor: Visitor,
    mut parts: Multipart,
) -> Result<Response, Refusal> {
    admit_parts(&site, &visitor, &mut parts).await?;
    let id = site.desk().begin()?;
    received(&site, id, parts).await
}

/// `/intake/{staging}/files`: more of them.
pub(super) async fn more(
    State(site): State<Site>,
    visitor: Visitor,
    Path(id): Path<String>,
    mut parts: Multipart,
) -> Result<Response, Refusal> {
    admit_parts(&site, &visitor, &mut parts).await?;
    site.desk().open(&id)?;
    received(&site, id, parts).await
}

async fn received(site: &Site, id: String, mut parts: Multipart) -> Result<Response, Refusal> {
    let staging = site.desk().open(&id)?;
    let (mut n_files, mut n_bytes) = (staging.index.files.len(), staging.total_bytes());
    let mut arrived = Vec::new();
    let ended = loop {
        let field = match parts.next_field().await {
            Ok(Some(field)) => field,
            Ok(None) => break Ok(()),
            Err(error) => break Err(broken(&error)),
        };
        let Some(sent) = field.file_name().map(str::to_owned) else { continue };
        if sent.is_empty() {
            // A form without a chosen file sends one without a name.
            continue;
        }
        if n_files >= MOST_FILES || n_bytes > MOST_BYTES {
            break Err(too_much());
        }
        match one(site, &id, &sent, field).await {
            Ok(found) => {
                if let Arrived::Taken(file) = &found {
                    (n_files, n_bytes) = (n_files + 1, n_bytes + file.bytes);
                }
                arrived.push(found);
            }
            Err(refusal) => break Err(refusal),
        }
    };
    // What arrived before the line broke is kept.
    let (desk, of) = (site.clone(), id.clone());
    crate::site::apart(move || desk.desk().add(&of, arrived)).await?;
    ended?;
    Ok((StatusCode::SEE_OTHER, [(LOCATION, format!("/intake/{id}"))]).into_response())
}

async fn one(site: &Site, id: &str, sent: &str, mut field: Field<'_>) -> Result<Arrived, Refusal> {
    let name = match sanitized(sent) {
        Ok(name) => name,
        Err(why) => {
            while field.chunk().await.map_err(|error| broken(&error))?.is_some() {}
            let shown: String = sent.chars().filter(|c| !c.is_control()).take(80).collect();
            return Ok(Arrived::NotTaken(shown, why.to_owned()));
        }
    };
    let (sender, receiver) = mpsc::channel::<Bytes>(PIECES);
    let (desk, id) = (site.clone(), id.to_owned());
    let writer = tokio::task::spawn_blocking(move || written(&desk, &id, name, receiver));
    let mut broke = Ok(());
    loop {
        match field.chunk().await {
            Ok(Some(piece)) => {
                // The writer has given up; it says why.
                if sender.send(piece).await.is_err() {
                    break;
                }
            }
            Ok(None) => break,
            Err(error) => {
                broke = Err(broken(&error));
                break;
            }
        }
    }
    if broke.is_err() {
        writer.abort();
        return broke.map(|()| Arrived::NotTaken(String::new(), String::new()));
    }
    drop(sender);
    writer.await.unwrap_or_else(|_ended| Err(Refusal::failed("a file could not be written")))
}

fn written(
    site: &Site,
    id: &str,
    name: String,
    mut pieces: mpsc::Receiver<Bytes>,
) -> Result<Arrived, Refusal> {
    let failed = |error: &std::io::Error| Refusal::failed(&format!("a file could not be written: {error}"));
    let mut arriving = site.desk().arriving(id)?;
    while let Some(piece) = pieces.blocking_recv() {
        if !arriving.push(&piece).map_err(|error| failed(&error))? {
            let found = format!("{name} is larger than {} MB", MOST_FILE_BYTES >> 20);
            return Err(Refusal::new(
                StatusCode::PAYLOAD_TOO_LARGE,
                &found,
                "split it, or check that it is a scan file",
            ));
        }
    }
    arriving.finish(name).map(Arrived::Taken).map_err(|error| failed(&error))
}

fn too_much() -> Refusal {
    let found = format!(
        "an intake takes up to {MOST_FILES} files and {} GB; those before were kept",
        MOST_BYTES >> 30
    );
    Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, &found, "take these in first, then the others")
}

fn broken(error: &axum::extract::multipart::MultipartError) -> Refusal {
    Refusal::new(
        error.status(),
        &error.body_text(),
        "send the files again; those that arrived whole are kept",
    )
}

//! A photo of a label: its code picks from the list, as if it had been picked there. The photo is read and forgotten, and nothing
//! is recorded. It leads back to the run's page with what was read in the address, so that loading it anew is harmless.

use axum::extract::{FromRequest as _, Multipart, Path, Request, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{IntoResponse as _, Response};
use serde::Deserialize;
use stillwell_field::{Label, Picked, Unpicked, Words};

use super::frame::Look;
use super::guard::Paired;
use super::picture::NoCode;
use super::site::FieldSite;
use super::trouble::Trouble;

/// What the address of a run's page says of a photo.
#[derive(Debug, Default, Deserialize)]
pub(super) struct Asked {
    /// The text of the label that was read.
    pub(super) label: Option<String>,
    /// Why none was.
    pub(super) scan: Option<String>,
}

/// What a photo came to.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Scanned {
    /// What it picks, and the text of the label.
    Picked(Picked, String),
    Unpicked(Unpicked),
    NoCode(NoCode),
}

impl Scanned {
    /// What is said of it: how it looks, its icon, its words.
    pub(super) fn said(&self, look: &Look<'_>) -> (&'static str, &'static str, Words) {
        let of_code = |key: &str, code: &str| look.texts.words(key, &[("code".to_owned(), code.to_owned())]);
        match self {
            Self::Picked(Picked::Well(well), _) => {
                ("look", "well", of_code("page-picked-well", &well.get().code))
            }
            Self::Picked(Picked::Box(lot), _) => ("look", "strip", of_code("page-picked-box", &lot.code)),
            Self::Picked(Picked::Strip(strip), _) => {
                ("look", "strip", of_code("page-picked-strip", &strip.get().code()))
            }
            Self::Unpicked(why) => {
                let (key, with) = why.text();
                ("bad", "stop", look.texts.words(&key, &with))
            }
            Self::NoCode(why) => ("bad", "scan", look.words(&format!("page-scan-{}", why.word()))),
        }
    }

    /// What was picked, and the label.
    pub(super) fn picked(&self) -> Option<(&Picked, &str)> {
        match self {
            Self::Picked(picked, label) => Some((picked, label)),
            _ => None,
        }
    }
}

/// Takes a photo and leads back to the run's page with what it says.
pub(super) async fn take(
    State(site): State<FieldSite>,
    paired: Paired,
    Path(run): Path<String>,
    request: Request,
) -> Result<Response, Trouble> {
    let is_name = |name: &str| name.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
    if !is_name(&run) {
        return Err(Trouble::Elsewhere);
    }
    let form = Multipart::from_request(request, &site).await.map_err(|_no_form| Trouble::Form)?;
    let photo = match photo(form, &paired).await {
        // As with a picture of too many pixels: said on the page of the step, which goes on.
        Err(Trouble::TooLarge) => return Ok(led_back(&run, "scan", NoCode::TooLarge.word())),
        photo => photo?,
    };
    let read = site.read_picture(photo).await?;
    Ok(match read {
        Err(why) => led_back(&run, "scan", why.word()),
        Ok(texts) => {
            // Where several codes are in the picture, ours is meant.
            let ours = texts.iter().find(|text| Label::read(text).is_some());
            match ours {
                Some(ours) => led_back(&run, "label", ours),
                None => led_back(&run, "label", "none"),
            }
        }
    })
}

/// The photo of a form that holds the token of our own page.
async fn photo(mut form: Multipart, paired: &Paired) -> Result<Vec<u8>, Trouble> {
    let refused = |error: axum::extract::multipart::MultipartError| Trouble::of_status(error.status());
    let (mut token, mut photo) = (String::new(), None);
    while let Some(field) = form.next_field().await.map_err(refused)? {
        match field.name().unwrap_or_default() {
            // It comes first, so that a stranger's photo is not even read.
            "form-token" => token = field.text().await.map_err(refused)?,
            "photo" if paired.is_form_token(&token) => {
                photo = Some(field.bytes().await.map_err(refused)?.to_vec());
            }
            _ => return Err(Trouble::Form),
        }
    }
    photo.filter(|_| paired.is_form_token(&token)).ok_or(Trouble::Form)
}

/// Labels hold letters, digits, colons and hyphens: nothing that an address must not hold.
fn led_back(run: &str, name: &str, value: &str) -> Response {
    (StatusCode::SEE_OTHER, [(LOCATION, format!("/field/run/{run}?{name}={value}"))]).into_response()
}

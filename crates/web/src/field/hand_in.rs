//! A step is handed in: as a form, at once or late, once or twice. What it means is the field room's matter.

use axum::Json;
use axum::extract::{FromRequest as _, Multipart, Path, Request, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{IntoResponse as _, Response};
use serde::Serialize;
use stillwell_field::{AbandonReason, Campaign, Handed, HandedIn, NotTaken};
use stillwell_study::StepTime;

use super::guard::Paired;
use super::run::{Shown, drawn_for};
use super::site::FieldSite;
use super::trouble::Trouble;

/// The steady clock of a page without script, and of one that was set by this server: the server's own. It outlives a restart.
const OF_SERVER: &str = "clock-of-the-server";
/// Fields that one step has at most.
const MOST_FIELDS: usize = 20;
/// A field that is no file is never longer.
const MOST_TEXT: usize = 200;
/// The header by which our script says that it wants to know why a step was not taken.
const OF_SCRIPT: &str = "x-field-script";

/// The fields of a step as they were sent.
#[derive(Debug, Default)]
struct Sent {
    texts: Vec<(String, String)>,
    file: Vec<u8>,
}

impl Sent {
    async fn read(mut form: Multipart) -> Result<Self, Trouble> {
        let mut sent = Self::default();
        let refused = |error: axum::extract::multipart::MultipartError| Trouble::of_status(error.status());
        while let Some(field) = form.next_field().await.map_err(refused)? {
            let name = field.name().unwrap_or_default().to_owned();
            let bytes = field.bytes().await.map_err(refused)?;
            if name == "file" {
                sent.file = bytes.to_vec();
                continue;
            }
            if sent.texts.len() >= MOST_FIELDS || bytes.len() > MOST_TEXT {
                return Err(Trouble::Form);
            }
            sent.texts.push((name, String::from_utf8_lossy(&bytes).trim().to_owned()));
        }
        Ok(sent)
    }

    fn text(&self, name: &str) -> &str {
        self.texts.iter().find(|(found, _)| found == name).map_or("", |(_, value)| value)
    }

    /// When it was done, by the phone if its page said so.
    fn when(&self, now_ms: i64) -> StepTime {
        let of_server = || {
            let steady_ms = u64::try_from(now_ms).unwrap_or_default();
            StepTime {
                boot: OF_SERVER.to_owned(),
                steady_ms,
                handed_in_steady_ms: steady_ms,
                device_clock_ms: now_ms,
                received_ms: now_ms,
            }
        };
        let number = |name: &str| self.text(name).parse::<u64>().ok();
        match (self.text("boot"), number("steady"), number("sent")) {
            (boot, Some(steady_ms), Some(handed_in_steady_ms)) if !boot.is_empty() => StepTime {
                boot: boot.to_owned(),
                steady_ms,
                handed_in_steady_ms,
                device_clock_ms: self.text("clock").parse().unwrap_or(now_ms),
                received_ms: now_ms,
            },
            _ => of_server(),
        }
    }

    fn deed(&self) -> Result<Handed<'_>, Trouble> {
        let code = self.text("code");
        Ok(match self.text("deed") {
            "well" => Handed::Well(code),
            "strip" => match Campaign::lot_and_number(code) {
                Some((lot, number)) => Handed::Strip { lot, number },
                // A code without a number: the box is what is looked for, and not found.
                None => Handed::Strip { lot: code, number: 0 },
            },
            "temperature" => {
                Handed::Temperature(self.text("temperature").replace(',', ".").parse().unwrap_or(f64::NAN))
            }
            "rinse" => Handed::Rinse,
            "apply" => Handed::Apply,
            "start" => Handed::Start,
            "file" => Handed::File(&self.file),
            "abandon" => {
                Handed::Abandon(AbandonReason::of_word(self.text("why")).unwrap_or(AbandonReason::Other))
            }
            _ => return Err(Trouble::Form),
        })
    }
}

/// Why a step was not even recorded, for our script.
#[derive(Debug, Serialize)]
struct NotTakenJson {
    why: &'static str,
    expected: u32,
}

fn not_taken(why: &NotTaken) -> Response {
    let (why, expected) = match why {
        NotTaken::Waits { expected } => ("waits", *expected),
        NotTaken::PlaceTaken => ("place-taken", 0),
        NotTaken::KeyTaken => ("key-taken", 0),
        NotTaken::OtherDevice => ("other-device", 0),
        NotTaken::TooMany => ("too-many", 0),
    };
    (StatusCode::CONFLICT, Json(NotTakenJson { why, expected })).into_response()
}

/// Takes a step, or says why not; and shows the run as it stands then.
pub(super) async fn take(
    State(site): State<FieldSite>,
    paired: Paired,
    Path(run): Path<String>,
    request: Request,
) -> Result<Response, Trouble> {
    let is_script = request.headers().contains_key(OF_SCRIPT);
    let form = Multipart::from_request(request, &site).await;
    let sent = Sent::read(form.map_err(|_no_form| Trouble::Form)?).await?;
    if !paired.is_form_token(sent.text("form-token")) {
        return Err(Trouble::Form);
    }
    sent.deed()?;
    let (device, now_ms, of) = (paired.device.clone(), site.now_ms(), run.clone());
    let taken = site.with_study(move |study, field| {
        let Ok(deed) = sent.deed() else { return Ok(Err(NotTaken::PlaceTaken)) };
        let handed = HandedIn {
            run: &of,
            place: sent.text("place").parse().unwrap_or(0),
            key: sent.text("key"),
            device: &device,
            when: sent.when(now_ms),
            deed,
            label: Some(sent.text("label")).filter(|label| !label.is_empty()),
        };
        match field.hand_in(study, &handed)? {
            Ok(_on_record) => Ok(Ok(Shown::of(study, field, &of, &device, now_ms)?)),
            Err(why) => Ok(Err(why)),
        }
    });
    match taken.await? {
        Err(why) if is_script => Ok(not_taken(&why)),
        Err(_why) => Err(Trouble::Stale),
        Ok(None) => Err(Trouble::Elsewhere),
        Ok(Some(shown)) if is_script => Ok(drawn_for(&site, &paired, &shown)?.into_response()),
        Ok(Some(_shown)) => {
            Ok((StatusCode::SEE_OTHER, [(LOCATION, format!("/field/run/{run}"))]).into_response())
        }
    }
}

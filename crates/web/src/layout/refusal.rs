//! What could not be done: what was found, and what to do; as a page, or for a program.

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::html;
use schemars::JsonSchema;
use serde::Serialize;
use stillwell_study::StudyError;

use super::shell::bare;

/// An answer that is no page: what was found, and what to do.
#[derive(Debug, Clone)]
pub(crate) struct Refusal {
    status: StatusCode,
    found: Vec<String>,
    cure: String,
}

/// The same for a program.
#[derive(Serialize, JsonSchema)]
pub(crate) struct RefusalJson<'a> {
    status: u16,
    found: &'a [String],
    cure: &'a str,
}

impl Refusal {
    pub(crate) fn new(status: StatusCode, found: &str, cure: &str) -> Self {
        Self { status, found: vec![found.to_owned()], cure: cure.to_owned() }
    }

    /// What a library below refused.
    pub(crate) fn of_status(status: StatusCode) -> Self {
        let (found, cure) = match status {
            StatusCode::BAD_REQUEST => {
                ("the address holds something that cannot be read", "go on from the start page")
            }
            StatusCode::PAYLOAD_TOO_LARGE => ("more was sent than is taken", "send less"),
            StatusCode::SERVICE_UNAVAILABLE => {
                ("it took too long and was given up", "try again when less is going on")
            }
            _ => ("the request could not be answered", "go on from the start page"),
        };
        Self::new(status, found, cure)
    }

    /// Something that the study does not hold.
    pub(crate) fn unknown(what: &str) -> Self {
        let cure = "go on from the start page: it lists what there is";
        Self::new(StatusCode::NOT_FOUND, &format!("this study holds no {what}"), cure)
    }

    /// Something that must not happen.
    pub(crate) fn failed(found: &str) -> Self {
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, found, "reload the page; what was recorded is kept")
    }

    /// What was found and what to do, in one line.
    pub(crate) fn words(&self) -> String {
        format!("{}: {}", self.found.join("; "), self.cure)
    }

    /// The same as JSON.
    pub(crate) fn for_programs(&self) -> Response {
        let body = RefusalJson { status: self.status.as_u16(), found: &self.found, cure: &self.cure };
        (self.status, Json(body)).into_response()
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let page = bare(
            "Not done",
            &html! {
                h1 { "Not done" }
                section class="refusal" {
                    @for found in &self.found { p class="found" { (found) } }
                    @if !self.cure.is_empty() { p { span class="cue" { "What to do" } " " (self.cure) } }
                }
                p { a href="/" { "To the start page" } }
            },
        );
        let mut answer = (self.status, page).into_response();
        answer.extensions_mut().insert(self);
        answer
    }
}

impl From<StudyError> for Refusal {
    fn from(error: StudyError) -> Self {
        let status = match &error {
            StudyError::Unknown { .. } | StudyError::NotThere { .. } => StatusCode::NOT_FOUND,
            StudyError::Locked => StatusCode::CONFLICT,
            StudyError::NotAllowed { .. }
            | StudyError::Unsayable { .. }
            | StudyError::Content(_)
            | StudyError::NoRunSheet
            | StudyError::OtherMethod { .. }
            | StudyError::Key { .. } => StatusCode::UNPROCESSABLE_ENTITY,
            StudyError::TooLarge { .. } => StatusCode::PAYLOAD_TOO_LARGE,
            _ => StatusCode::INTERNAL_SERVER_ERROR,
        };
        let words = error.to_string();
        let (found, cure) = words.split_once("\n  cure: ").unwrap_or((&words, ""));
        Self { status, found: found.lines().map(str::to_owned).collect(), cure: cure.to_owned() }
    }
}

//! What stands in the way beside the steps themselves: short, in plain words, and with a way on.

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use stillwell_field::FieldError;
use stillwell_study::StudyError;

/// Why a request was not answered with its page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Trouble {
    /// This phone is not paired.
    NotPaired,
    /// There is no such page, or it is another phone's.
    Elsewhere,
    /// Another step stands there.
    Stale,
    /// The form does not come from a page of ours.
    Form,
    /// Another host, or another site's page.
    Stranger(StatusCode),
    /// More was sent than is taken.
    TooLarge,
    /// It cannot be done now.
    Busy,
}

impl Trouble {
    /// The key of its text.
    pub(super) fn text(self) -> &'static str {
        match self {
            Self::NotPaired => "page-not-paired",
            Self::Elsewhere | Self::Stranger(_) => "page-elsewhere",
            Self::Stale => "page-stale",
            Self::Form => "page-form",
            Self::TooLarge => "page-too-large",
            Self::Busy => "page-busy",
        }
    }

    /// How the answer begins.
    pub(super) fn status(self) -> StatusCode {
        match self {
            Self::NotPaired => StatusCode::UNAUTHORIZED,
            Self::Elsewhere => StatusCode::NOT_FOUND,
            Self::Stale => StatusCode::CONFLICT,
            Self::Form => StatusCode::FORBIDDEN,
            Self::Stranger(status) => status,
            Self::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::Busy => StatusCode::SERVICE_UNAVAILABLE,
        }
    }

    /// The trouble behind a status that a library below answered with.
    pub(super) fn of_status(status: StatusCode) -> Self {
        match status {
            StatusCode::PAYLOAD_TOO_LARGE => Self::TooLarge,
            StatusCode::BAD_REQUEST | StatusCode::UNSUPPORTED_MEDIA_TYPE => Self::Form,
            StatusCode::NOT_FOUND | StatusCode::METHOD_NOT_ALLOWED => Self::Elsewhere,
            _ => Self::Busy,
        }
    }

    pub(super) fn of_error(error: &FieldError) -> Self {
        match error {
            FieldError::Name { .. } => Self::Form,
            FieldError::Study(StudyError::TooLarge { .. }) => Self::TooLarge,
            _ => Self::Busy,
        }
    }
}

/// The status alone: `guard.rs` puts the page around it, in the language of who asked.
impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        let mut answer = self.status().into_response();
        answer.extensions_mut().insert(self);
        answer
    }
}

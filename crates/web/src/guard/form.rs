//! Acts come from our own forms: each holds a token that was made for its address in this launch.

use axum::extract::{FromRequest, Request};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;

use super::visitor::Visitor;
use crate::layout::Refusal;
use crate::site::Site;

/// Field that holds the token.
pub(crate) const TOKEN_FIELD: &str = "form-token";

/// The fields of a form, as they were sent.
#[derive(Debug, Clone, Default)]
pub(crate) struct FormFields(Vec<(String, String)>);

impl FormFields {
    /// Fields that were read part by part.
    pub(crate) fn of(fields: Vec<(String, String)>) -> Self {
        Self(fields)
    }

    /// A field without the blanks around it; empty where it was not sent.
    pub(crate) fn text(&self, name: &str) -> &str {
        self.0.iter().find(|(found, _)| found == name).map_or("", |(_, value)| value.trim())
    }

    /// A field to the letter, for passphrases.
    pub(crate) fn raw(&self, name: &str) -> &str {
        self.0.iter().find(|(found, _)| found == name).map_or("", |(_, value)| value)
    }

    /// All fields by name.
    pub(crate) fn all(&self) -> std::collections::BTreeMap<String, String> {
        self.0.iter().cloned().collect()
    }

    /// A field that is a number, where it was filled in.
    pub(crate) fn number(&self, name: &str) -> Result<Option<f64>, Refusal> {
        let text = self.text(name);
        if text.is_empty() {
            return Ok(None);
        }
        text.parse().map(Some).map_err(|_no_number| {
            Refusal::new(
                StatusCode::UNPROCESSABLE_ENTITY,
                &format!("\"{text}\" is no number"),
                "digits with a point, such as 1.5e-6",
            )
        })
    }
}

/// A form that our own page sent.
pub(crate) struct Posted(pub(crate) FormFields);

impl FromRequest<Site> for Posted {
    type Rejection = Refusal;

    async fn from_request(request: Request, site: &Site) -> Result<Self, Refusal> {
        let is_program = request.extensions().get::<Visitor>().is_some_and(|visitor| visitor.is_program);
        let path = request.uri().path().to_owned();
        let is_form = request
            .headers()
            .get(CONTENT_TYPE)
            .and_then(|kind| kind.to_str().ok())
            .is_some_and(|kind| kind.starts_with("application/x-www-form-urlencoded"));
        if !is_form {
            return Err(Refusal::new(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "an act is sent as a form",
                "send application/x-www-form-urlencoded",
            ));
        }
        let form = axum::Form::<Vec<(String, String)>>::from_request(request, site).await;
        let axum::Form(fields) = form.map_err(|rejected| {
            Refusal::new(rejected.status(), &rejected.body_text(), "send the form of the page again")
        })?;
        let fields = FormFields(fields);
        // A program shows the launch's token itself, which no page can make a browser send.
        if !is_program && !site.launch().is_form_token(&path, fields.text(TOKEN_FIELD)) {
            return Err(wrong_token());
        }
        Ok(Self(fields))
    }
}

fn wrong_token() -> Refusal {
    Refusal::new(
        StatusCode::FORBIDDEN,
        "this form does not come from a page of this launch",
        "go back, reload the page and send it again; nothing was recorded",
    )
}

//! Before the steps: pairing, the list of this phone's tests, language and ground.

use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::http::header::{LOCATION, RETRY_AFTER, SET_COOKIE};
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use serde::Deserialize;
use stillwell_field::{Field, FieldError, Language, Outcome, Run};
use stillwell_study::{Deed, FieldStep, Study};

use super::ending;
use super::frame::{document, said};
use super::guard::{Asker, GROUND_COOKIE, LANGUAGE_COOKIE, Paired};
use super::icons::icon;
use super::pairing::Tried;
use super::phones::PAIRED_MS;
use super::run::look_of;
use super::site::FieldSite;
use super::trouble::Trouble;
use crate::layout::Theme;

/// Tests that are listed.
const LISTED: usize = 20;

#[derive(Deserialize)]
pub(super) struct Coded {
    #[serde(default)]
    code: String,
}

#[derive(Deserialize)]
pub(super) struct Chosen {
    #[serde(default)]
    to: String,
}

/// The page that pairs; the code of the picture is filled in, and not used up before the button is pressed.
pub(super) async fn pair_page(
    State(site): State<FieldSite>,
    asker: Asker,
    Query(coded): Query<Coded>,
) -> Markup {
    pairing(&site, &asker, &coded.code, None)
}

fn pairing(site: &FieldSite, asker: &Asker, code: &str, wrong: Option<&str>) -> Markup {
    let look = look_of(site, asker);
    let words = look.words("page-pair");
    let code: String = code.chars().filter(|c| c.is_ascii_alphanumeric() || *c == '-').take(20).collect();
    let body = html! {
        main id="step" tabindex="-1" {
            h1 { (icon("phone")) span { (words.says) } }
            p class="todo" { (words.to_do) }
            @if let Some(key) = wrong { (said("bad", "stop", &look.words(key))) }
            form class="pair" method="post" action="/field/pair" {
                label for="code" { (look.say("page-pair-code")) }
                input id="code" name="code" value=(code) required maxlength="20" autocomplete="off" autocapitalize="characters" spellcheck="false";
                div class="reach" { button class="press" { (icon("go")) span { (look.say("page-pair-go")) } } }
            }
        }
    };
    document(&look, &words.says, &body)
}

/// Exchanges the code for a cookie that scripts cannot read and other sites do not send.
pub(super) async fn pair(
    State(site): State<FieldSite>,
    asker: Asker,
    Form(coded): Form<Coded>,
) -> Result<Response, Trouble> {
    let wrong =
        |status: StatusCode, key: &str| (status, pairing(&site, &asker, "", Some(key))).into_response();
    match site.attempt(&coded.code, asker.peer) {
        Tried::Right => {}
        Tried::Wrong => return Ok(wrong(StatusCode::FORBIDDEN, "page-pair-wrong")),
        Tried::NoneOpen => return Ok(wrong(StatusCode::FORBIDDEN, "page-pair-closed")),
        Tried::TooMany => {
            let mut answer = wrong(StatusCode::TOO_MANY_REQUESTS, "page-pair-wait");
            answer.headers_mut().insert(RETRY_AFTER, axum::http::HeaderValue::from_static("60"));
            return Ok(answer);
        }
    }
    let paired = site.phones().pair(asker.token.as_deref(), site.campaign(), site.now_ms());
    let token = paired.map_err(|_no_file| Trouble::Busy)?;
    let secure = if asker.is_secure { "; Secure" } else { "" };
    let cookie = format!(
        "{}={token}; Path=/field; Max-Age={}; HttpOnly; SameSite=Strict{secure}",
        site.cookie_name(),
        PAIRED_MS / 1000
    );
    Ok((StatusCode::SEE_OTHER, [(SET_COOKIE, cookie), (LOCATION, "/field".to_owned())]).into_response())
}

/// One test of this phone.
struct Test {
    run: String,
    well: String,
    words: String,
    sign: &'static str,
}

/// A run of this phone, and its end if it has one.
type Found = (String, Vec<FieldStep>, Option<Outcome>);

/// This phone's tests, the last first.
fn tests(study: &Study, field: &Field, device: &str) -> Result<Vec<Found>, FieldError> {
    let mut runs: Vec<String> = Vec::new();
    study.field_steps_back(device, |step| {
        if step.device == device && step.campaign == *field.record_hash() && !runs.contains(&step.run) {
            runs.push(step.run);
        }
        runs.len() < LISTED
    })?;
    let mut tests = Vec::new();
    for run in runs {
        let steps = study.field_steps_of(&run)?;
        let stands = Run::of_record(field.campaign(), &steps)?;
        let outcome = field.outcome(study, &stands)?;
        tests.push((run, steps, outcome));
    }
    Ok(tests)
}

/// The list of tests, and the way to a new one.
pub(super) async fn start(State(site): State<FieldSite>, paired: Paired) -> Result<Markup, Trouble> {
    let device = paired.device.clone();
    let (found, campaign) = site
        .with_study(move |study, field| Ok((tests(study, field, &device)?, field.campaign().clone())))
        .await?;
    let look = look_of(&site, &paired.asker);
    let listed = found.into_iter().map(|(run, steps, outcome)| {
        let well = steps.iter().find_map(|step| match &step.deed {
            Deed::Well { code } => Some(code.clone()),
            _ => None,
        });
        let (sign, words) = match &outcome {
            None => ("go", look.say("page-open")),
            Some(end @ Outcome::Known(result)) => {
                (result.verdict.word(), look.texts.outcome(end).first().cloned().unwrap_or_default())
            }
            Some(_) => ("unknown", look.say("page-unknown")),
        };
        Test { run, well: well.unwrap_or_default(), words, sign }
    });
    let listed: Vec<Test> = listed.collect();
    let body = html! {
        main id="step" tabindex="-1" {
            p class="purpose" dir="auto" { (campaign.name) }
            h1 { span { (look.say("page-tests")) } }
            @if listed.is_empty() { p { (look.say("page-no-tests")) } }
            ul class="wells" {
                @for test in &listed {
                    li { a class="press plain" href={ "/field/run/" (test.run) } {
                        (icon(test.sign)) span { b { (test.well) } " " (test.words) }
                    } }
                }
            }
            (ending::call(&look, &campaign))
            div class="reach" { a class="press" href="/field/new" { (icon("well")) span { (look.say("page-new")) } } }
        }
    };
    Ok(document(&look, &look.say("page-tests"), &body))
}

/// Keeps the language and leads back.
pub(super) async fn language(Query(chosen): Query<Chosen>) -> Response {
    kept(LANGUAGE_COOKIE, Language::of_tag(&chosen.to).tag())
}

/// Keeps the ground and leads back.
pub(super) async fn ground(Query(chosen): Query<Chosen>) -> Response {
    kept(GROUND_COOKIE, Theme::of(&chosen.to).word())
}

fn kept(name: &str, value: &str) -> Response {
    let cookie = format!("{name}={value}; Path=/field; Max-Age=31536000; HttpOnly; SameSite=Strict");
    (StatusCode::SEE_OTHER, [(SET_COOKIE, cookie), (LOCATION, "/field".to_owned())]).into_response()
}

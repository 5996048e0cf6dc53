//! What a phone keeps to go on without a link: the manifest, the worker, and every step's form once.

use axum::extract::State;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, HeaderName};
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use stillwell_field::Campaign;

use super::ending;
use super::frame::{Look, document};
use super::guard::{Asker, Paired};
use super::icons::icon;
use super::run::look_of;
use super::site::FieldSite;
use super::steps::{self, Addressed, Asked};
use super::trouble::Trouble;
use crate::assets;

/// How the page is put on a phone's screen.
pub(super) async fn manifest(State(site): State<FieldSite>, asker: Asker) -> Response {
    let look = look_of(&site, &asker);
    let icon = |name: &str, kind: &str, sizes: &str, purpose: &str| serde_json::json!({ "src": assets::address(name), "type": kind, "sizes": sizes, "purpose": purpose });
    // Pixels for phones that draw no SVG; what matters lies within the circle that a mask may cut out.
    let icons: Vec<_> = ["any", "maskable"]
        .into_iter()
        .flat_map(|purpose| {
            [
                icon("field-192.png", "image/png", "192x192", purpose),
                icon("field-512.png", "image/png", "512x512", purpose),
                icon("field.svg", "image/svg+xml", "any", purpose),
            ]
        })
        .collect();
    let manifest = serde_json::json!({
        "name": look.say("page-title"),
        "short_name": look.say("page-title"),
        "lang": look.texts.language().tag(),
        "start_url": "/field",
        "scope": "/field",
        "display": "standalone",
        "background_color": "#fffdf5",
        "theme_color": "#0b3a3d",
        "icons": icons,
    });
    ([(CONTENT_TYPE, "application/manifest+json")], manifest.to_string()).into_response()
}

/// The worker, at an address from which it may serve every page of the field, with the files that it keeps.
pub(super) async fn worker() -> Response {
    let script = assets::content("service-worker.js").unwrap_or_default();
    let kept: Vec<String> =
        ["field.css", "field.js", "field.svg", "field-192.png"].map(assets::address).to_vec();
    let kept = serde_json::to_string(&kept).unwrap_or_default();
    let script = String::from_utf8_lossy(&script).replace("[\"FILES\"]", &kept);
    let headers = [
        (CONTENT_TYPE, "text/javascript; charset=utf-8"),
        (CACHE_CONTROL, "no-cache"),
        (HeaderName::from_static("service-worker-allowed"), "/field"),
    ];
    (headers, script).into_response()
}

/// A step's least and most wait after the one before, s.
fn wait_s(campaign: &Campaign, deed: &str) -> Option<(f64, f64)> {
    let timers = &campaign.timers;
    match deed {
        "rinse" => Some((0.0, timers.temperature_most_s)),
        "apply" => Some((timers.rinse_least_s, timers.rinse_most_s)),
        "start" => Some((timers.wait_least_s, timers.wait_most_s)),
        "file" => Some((timers.scan_least_s, timers.file_most_s)),
        _ => None,
    }
}

/// Every step in its order, as it would be shown: the well, then control and water.
fn in_order() -> Vec<(&'static str, &'static str, Option<&'static str>)> {
    let mut all = vec![("step-well", "well", None)];
    for (purpose, strip, temperature, apply) in [
        ("control", "step-strip-control", "step-temperature-control", "step-apply-control"),
        ("sample", "step-strip-sample", "step-temperature-water", "step-apply-water"),
        ("second", "step-strip-second", "step-temperature-water", "step-apply-water"),
    ] {
        let purpose = Some(purpose);
        all.extend([
            (strip, "strip", purpose),
            (temperature, "temperature", purpose),
            ("step-rinse", "rinse", purpose),
            (apply, "apply", purpose),
            ("step-start", "start", purpose),
            ("step-file", "file", purpose),
        ]);
    }
    all
}

/// All forms, for a page that has lost its link. Times and codes are looked at again when the steps are handed in.
pub(super) async fn steps(State(site): State<FieldSite>, paired: Paired) -> Result<Markup, Trouble> {
    let campaign = site.with_study(|_, field| Ok(field.campaign().clone())).await?;
    let look = look_of(&site, &paired.asker);
    let token = paired.form_token();
    let to = Addressed { token: &token, ..Addressed::default() };
    let body = html! {
        main id="step" tabindex="-1" data-kept="yes" { (no_result(&look, &campaign)) }
        @for (text, deed, purpose) in in_order() {
            @let asked = Asked { text, deed, purpose, wait_s: wait_s(&campaign, deed), picked: None };
            template data-deed=(deed) data-purpose=[purpose] data-least=[asked.wait_s.map(|wait| wait.0)] {
                (steps::form(&look, &campaign, &asked, &to))
                @if deed != "well" { (steps::stop(&look, &to)) }
            }
        }
        template data-deed="none" { (no_result(&look, &campaign)) }
    };
    Ok(document(&look, &look.say("page-title"), &body))
}

/// What is shown while nobody knows.
fn no_result(look: &Look<'_>, campaign: &Campaign) -> Markup {
    let words = look.words("page-no-result");
    html! {
        section class="verdict unknown" aria-labelledby="verdict" { h1 id="verdict" { (icon("unknown")) span { (words.says) } } }
        p class="next" { (words.to_do) }
        (ending::call(look, campaign))
        div class="reach" { a class="press" href="/field/new" data-new="yes" { (icon("well")) span { (look.say("page-new")) } } }
    }
}

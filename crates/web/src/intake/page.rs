//! Stagings on a page: how each file was read, what is wrong and what to do, the run sheet, and the way into the study.

use std::collections::BTreeMap;

use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use serde::Deserialize;
use stillwell_method::Problem;

use super::check::Checked;
use super::desk::{MOST_BYTES, MOST_FILES, Staging};
use super::sheet_form::{SheetForm, set_many};
use crate::guard::{TOKEN_FIELD, Visitor};
use crate::layout::{ActForm, Leaf, LinkState, Page, Refusal, shell, sign};
use crate::pages::study_spine::{SCAN, spine};
use crate::site::Site;
use crate::view::View;
use crate::wording::counted;

/// Files that stand on one page.
const MOST_LISTED: usize = 100;

/// Cells that were typed: row from 0, column, text.
pub(super) type Typed = BTreeMap<(usize, &'static str), String>;

/// What of a staging is shown.
#[derive(Deserialize)]
pub(super) struct Asked {
    /// Page of the run sheet, from 1.
    #[serde(default)]
    page: usize,
    /// Page of the files, from 1.
    #[serde(default)]
    files: usize,
    /// `wrong`: only lines with a problem.
    #[serde(default)]
    only: String,
}

/// `/intake`
pub(super) async fn list(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    site.look(visitor, |view| {
        let waiting = view.site.desk().all()?;
        let page = Page {
            title: "Take in".to_owned(),
            spine: spine(&view.overview, Some(SCAN)),
            body: html! {
                h1 { "Take in raw scans" }
                p { "Raw files as the instrument wrote them, with or without a run sheet (run-sheet.csv). They wait beside the study, are shown as they were read, and are taken in when you say so. Nothing is recorded before." }
                (drop_form(view, "/intake/files", "Choose files, or drop them here"))
                @if !waiting.is_empty() {
                    h2 { "What waits" }
                    ul { @for one in &waiting {
                        li { a href={ "/intake/" (one.id) } { (counted(one.index.files.len(), "file")) }
                            @for file in one.index.files.iter().take(3) { ", " span dir="auto" { (file.name) } }
                            @if one.index.files.len() > 3 { " …" } }
                    } }
                }
            },
        };
        Ok(shell(view, &page))
    })
    .await
}

/// `/intake/{staging}`
pub(super) async fn one(
    State(site): State<Site>,
    visitor: Visitor,
    Path(id): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| shown(view, &id, &asked, &Typed::new())).await
}

/// The same, with what was typed into a run sheet that changed meanwhile: nothing of it is lost.
pub(super) async fn conflicted(
    site: Site,
    visitor: Visitor,
    id: String,
    page: usize,
    typed: Typed,
) -> Result<Response, Refusal> {
    let asked = Asked { page, files: 1, only: String::new() };
    let page = site.look(visitor, move |view| shown(view, &id, &asked, &typed)).await?;
    let mut answer = (StatusCode::CONFLICT, page).into_response();
    // For programs; a browser gets the page.
    let found = "the run sheet was changed in another tab meanwhile; nothing was saved";
    answer.extensions_mut().insert(Refusal::new(
        StatusCode::CONFLICT,
        found,
        "save it again to put it over the other's",
    ));
    Ok(answer)
}

fn shown(view: &View, id: &str, asked: &Asked, typed: &Typed) -> Result<Markup, Refusal> {
    let staging = view.site.desk().open(id)?;
    let method = view.study.method()?.method;
    let checked = view.site.readings().check(&staging, &method)?;
    let form = SheetForm {
        view,
        staging: &staging,
        checked: &checked,
        only_wrong: asked.only == "wrong",
        leaf: Leaf::of(asked.page, super::sheet_form::LINES),
        typed,
    };
    let page = Page {
        title: "Take in".to_owned(),
        spine: spine(&view.overview, Some(SCAN)),
        body: html! {
            p class="soft" { a href="/intake" { "All that waits" } }
            h1 { "Take in " (counted(staging.index.files.len(), "file")) }
            (answer(&staging, &checked))
            (others(&checked.others))
            @if !staging.index.not_taken.is_empty() {
                div class="mind" { h2 { "Not taken" } ul { @for (name, why) in &staging.index.not_taken { li { span dir="auto" { (name) } ": " (why) } } } }
            }
            h2 { "How they were read" }
            (files(view, &staging, &checked, Leaf::of(asked.files, MOST_LISTED)))
            (drop_form(view, &format!("/intake/{id}/files"), "More files"))
            h2 id="sheet" { "Run sheet" }
            @if !typed.is_empty() {
                p class="answer look" role="alert" { (sign(LinkState::Attention)) " The run sheet was changed in another tab while you typed. What you typed stands in the cells below and is not saved yet: save it again to put it over the other's." }
            }
            (form.drawn())
            @if !staging.cells().rows.is_empty() { (set_many(view, &staging, asked.page)) }
            h2 { "Into the study" }
            (take(view, &staging, &checked))
            (discard(view, id))
        },
    };
    Ok(shell(view, &page))
}

fn answer(staging: &Staging, checked: &Checked) -> Markup {
    let n_wrong = checked.files.iter().filter(|(_, read)| read.is_err()).count();
    let n_lines = checked.of_line.len();
    html! {
        @if staging.index.files.is_empty() {
            p class="answer open" { (sign(LinkState::Open)) " No raw file is here yet." }
        } @else if staging.sheet.trim().is_empty() {
            p class="answer look" { (sign(LinkState::Attention)) " " (counted(checked.n_scans(), "scan")) " were read. No run sheet says what they are yet." }
        } @else if checked.is_good() {
            p class="answer holds" { (sign(LinkState::Holds)) " " (counted(checked.n_scans(), "scan")) " were read, and the run sheet names every one of them." }
        } @else {
            p class="answer stops" { (sign(LinkState::Stops)) " It cannot be taken in yet: " (counted(n_wrong, "file")) " cannot be read, " (counted(n_lines, "line")) " of the run sheet are wrong, " (counted(checked.others.len(), "other problem")) "." }
        }
    }
}

fn others(problems: &[Problem]) -> Markup {
    html! { @if !problems.is_empty() { ul class="findings" { @for one in problems.iter().take(MOST_LISTED) { li class="stops" { (problem(one)) } } } } }
}

/// Where, what, and what to do.
pub(super) fn problem(one: &Problem) -> Markup {
    html! {
        p { span class="subject" dir="auto" { (one.place) } " " span dir="auto" { (one.found) } }
        @if !one.place.text.is_empty() { p { "There it says " code dir="auto" { (one.place.text) } } }
        @if !one.cure.is_empty() { p { span class="cue" { "What to do" } " " span dir="auto" { (one.cure) } } }
    }
}

fn files(view: &View, staging: &Staging, checked: &Checked, leaf: Leaf) -> Markup {
    let remove = format!("/intake/{}/remove", staging.id);
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Files" { table class="files" {
            thead { tr { th scope="col" { "File" } th scope="col" class="num" { "Bytes" } th scope="col" class="num" { "Scans" } th scope="col" { "Read as" } th scope="col" { "To mind" } th scope="col" { "" span class="visually-hidden" { "Act" } } } }
            tbody { @for (file, read) in leaf.part(&checked.files) { tr {
                th scope="row" dir="auto" { (file.name) }
                td class="num" { (file.bytes) }
                @match read.as_ref() {
                    Ok(read) => {
                        td class="num" { (read.n_scans) }
                        td dir="auto" { (read.words) }
                        td { @for note in read.notes.iter().chain(&read.attention).take(6) { p dir="auto" { (note) } }
                            @if read.notes.len() + read.attention.len() > 6 { p { "and " (read.notes.len() + read.attention.len() - 6) " more" } } }
                    }
                    Err(problems) => { td class="num" { "–" } td class="u" { "not read" } td { @for one in problems { (problem(one)) } } }
                }
                td { form method="post" action=(remove) {
                    input type="hidden" name=(TOKEN_FIELD) value=(view.form_token(&remove));
                    input type="hidden" name="name" value=(file.name);
                    button class="plain" aria-label={ "Leave out " (file.name) } { "Leave out" }
                } }
            } } }
        } }
        (leaf.turning_named("files", &format!("/intake/{}", staging.id), checked.files.len()))
    }
}

fn drop_form(view: &View, action: &str, words: &str) -> Markup {
    html! {
        form class="act drop" method="post" action=(action) enctype="multipart/form-data" data-drop="" {
            input type="hidden" name=(TOKEN_FIELD) value=(view.form_token(action));
            p { label for="files" { (words) } input id="files" name="files" type="file" multiple required; }
            p class="soft" { "Up to " (MOST_FILES) " files and " (MOST_BYTES >> 30) " GB together." }
            p { button class="do" { "Send" } }
        }
    }
}

fn take(view: &View, staging: &Staging, checked: &Checked) -> Markup {
    if !checked.is_good() || staging.sheet.trim().is_empty() {
        return html! { p { "When every file can be read and the run sheet names every scan, they can be taken in here." } };
    }
    ActForm {
        path: &format!("/intake/{}/take", staging.id),
        fields: html! {
            p { label for="series-name" { "Name of the series" } input id="series-name" name="name" required maxlength="200" autocomplete="off" placeholder="such as 12 May, batch 1"; }
        },
        example: "routine measurement",
        button: "Take it in",
        person: None,
    }
    .drawn(view)
}

fn discard(view: &View, id: &str) -> Markup {
    let path = format!("/intake/{id}/discard");
    html! {
        details { summary { "Discard this intake" }
            form class="act" method="post" action=(path) {
                input type="hidden" name=(TOKEN_FIELD) value=(view.form_token(&path));
                p { "The files that wait here and the run sheet are thrown away. What the study holds stays." }
                p { label { input type="checkbox" name="sure" value="yes" required; " I mean it" } }
                p { button class="do" { "Discard" } }
            }
        }
    }
}

//! A placement looked at without script: the scan as it would be evaluated, and the way to keep it.

use std::collections::BTreeMap;

use axum::extract::{Path, Query, State};
use maud::{Markup, PreEscaped, html};
use stillwell_method::Placement;

use super::asked::{HEIGHT_AT, movable, placement};
use super::document::not_accepted;
use super::form::{HOLDS_FOR_ALL, fields, live, try_address, unit};
use super::trial::{Change, Trial};
use crate::guard::{TOKEN_FIELD, Visitor};
use crate::layout::{Page, Refusal, shell};
use crate::pages::study_spine::{SIGNAL, spine};
use crate::site::Site;
use crate::view::View;

/// `/series/{series}/scans/{place}/placing`
pub(super) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Path((label, number)): Path<(String, usize)>,
    Query(asked): Query<BTreeMap<String, String>>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &placed(view, (&label, number), &asked)?))).await
}

fn placed(
    view: &View,
    (label, number): (&str, usize),
    asked: &BTreeMap<String, String>,
) -> Result<Page, Refusal> {
    let series = view.series(label)?;
    let unknown = || Refusal::unknown(&format!("scan {number} of series {label}"));
    let place = number.checked_sub(1).filter(|place| *place < series.act.n_scans).ok_or_else(unknown)?;
    let trial = view.site.trials().of(view, series)?;
    let placement = placement(&trial.method, asked)?;
    let tried = trial.tried(placement.clone(), place).map_err(|problems| not_accepted(&problems))?;
    let name = tried.report.scans.get(place).ok_or_else(unknown)?.raw.label();
    Ok(Page {
        title: format!("Placing on {name}"),
        spine: spine(&view.overview, Some(SIGNAL)),
        body: html! {
            p class="soft" { a href={ "/series/" (label) "/scans/" (number) } { "The scan as it stands" } }
            h1 dir="auto" { "Placing on " (name) }
            p class="answer look" { "Tried, not recorded. " (HOLDS_FOR_ALL) }
            div class="two" {
                section class="placing" data-try=(try_address(series, place)) {
                    // The report room escapes every name of a stranger in it.
                    @if let Some(figure) = &tried.figure { figure { (PreEscaped(figure)) } }
                    (live(Some(&tried), place, unit(trial.method.evaluation.peak.measure)))
                    (fields(series, place, &placement))
                }
                div {
                    h2 { "What it changes in this series" }
                    (changes(&tried.changes))
                    @if placement == Placement::of(&trial.method.evaluation) {
                        p { "This is the placement that the method has: there is nothing to keep." }
                    } @else {
                        (look(view, &trial, &placement))
                    }
                }
            }
        },
    })
}

fn changes(all: &[Change]) -> Markup {
    let others: Vec<&Change> = all.iter().filter(|one| one.is_other()).collect();
    let word = |verdicts: &[(String, &'static str)], limit: &str| {
        verdicts.iter().find(|(of, _)| of == limit).map_or("none", |(_, word)| *word)
    };
    html! {
        p { (super::form::series_words(all)) "." }
        @if !others.is_empty() {
            div class="wide short" tabindex="0" role="region" aria-label="What changes" { table {
                thead { tr { th scope="col" { "Sample" } th scope="col" { "As it stands" } th scope="col" { "By this placement" } th scope="col" { "Other verdicts" } } }
                tbody { @for one in others { tr {
                    th scope="row" dir="auto" { (one.sample) } td { (one.before.number) } td { (one.now.number) }
                    td { @for (limit, now) in &one.now.verdicts { @let before = word(&one.before.verdicts, limit);
                        @if before != *now { p { (limit) ": " (before) " → " (now) } } } }
                } } }
            } }
        }
    }
}

/// On to all of history.
fn look(view: &View, trial: &Trial, placement: &Placement) -> Markup {
    html! {
        h2 { "To keep it" }
        form class="act" method="post" action="/method/look" {
            input type="hidden" name=(TOKEN_FIELD) value=(view.form_token("/method/look"));
            @for one in movable(placement) {
                @for (end, value) in ["from", "to"].into_iter().zip(one.window_v) {
                    input type="hidden" name={ (one.handle) "_" (end) } value=(value);
                }
            }
            @if let Some(at_v) = placement.height_at_v { input type="hidden" name=(HEIGHT_AT) value=(at_v); }
            input type="hidden" name="blank" value=(placement.blank.word());
            p {
                label for="revision" { "Name of the new revision; the method is at " (trial.method.revision) }
                input id="revision" name="revision" required maxlength="100" autocomplete="off";
            }
            p { button class="do" { "First look what it changes in all of history" } }
        }
    }
}

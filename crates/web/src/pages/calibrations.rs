//! Calibrations on record, with how each stands.

use axum::extract::State;
use maud::{Markup, html};
use stillwell_study::{CalibrationAct, Numbered};

use super::study_spine::{CALIBRATION, spine};
use crate::guard::Visitor;
use crate::layout::{LinkState, Page, Refusal, shell, sign};
use crate::site::Site;
use crate::view::View;
use crate::wording::{moment, unit_of};

use stillwell_quantity::round_up;

pub(crate) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    site.look(visitor, |view| Ok(shell(view, &whole(view)))).await
}

fn whole(view: &View) -> Page {
    Page {
        title: "Calibrations".to_owned(),
        spine: spine(&view.overview, Some(CALIBRATION)),
        body: html! {
            h1 { "Calibrations" }
            @if view.overview.calibrations.is_empty() {
                p class="empty" { "None is on record yet: they come with the first results." }
            } @else {
                (table(view))
            }
        },
    }
}

/// Lot and channel in words.
pub(crate) fn group(one: &Numbered<CalibrationAct>) -> String {
    match (one.act.result.lot.as_str(), one.act.result.channel.as_str()) {
        ("", "") => "all lots".to_owned(),
        (lot, "") => format!("lot {lot}"),
        ("", channel) => format!("channel {channel}"),
        (lot, channel) => format!("lot {lot}, channel {channel}"),
    }
}

/// How a calibration stands: may samples be read off it, and did an approver say so?
pub(crate) fn state(one: &Numbered<CalibrationAct>) -> (LinkState, String) {
    let accepted = if one.act.result.accepted { "accepted" } else { "not accepted" };
    let words = format!("{accepted}, {}", one.standing.word());
    let state = match (one.act.result.accepted && one.standing.counts(), one.standing.is_approved()) {
        (false, _) => LinkState::Stops,
        (true, false) => LinkState::Attention,
        (true, true) => LinkState::Holds,
    };
    (state, words)
}

fn table(view: &View) -> Markup {
    let unit = unit_of(view);
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Calibrations" {
            table class="dense" {
                thead { tr {
                    th scope="col" { "Calibration" } th scope="col" { "Of" } th scope="col" { "State" }
                    th scope="col" class="num" { "Range / " (unit) } th scope="col" class="num" { "Detection limit / " (unit) }
                    th scope="col" class="num" { "Standards" } th scope="col" { "Recorded (UTC)" } th scope="col" { "By" }
                } }
                tbody { @for one in &view.overview.calibrations { (row(one)) } }
            }
        }
    }
}

fn row(one: &Numbered<CalibrationAct>) -> Markup {
    let result = &one.act.result;
    let (state, words) = state(one);
    html! {
        tr {
            th scope="row" { a href={ "/calibrations/" (one.label) } { (one.label) } }
            td dir="auto" { (group(one)) }
            td { (sign(state)) " " (words) }
            td class="num" {
                @match &result.constants {
                    Some(constants) => { @let [low, high] = constants.levels; (low) " to " (high) }
                    None => { "–" }
                }
            }
            td class="num" { @match result.limits { Some([_, detection, _]) => { (round_up(detection, 2)) } None => { "–" } } }
            td class="num" { (result.standards.len()) " scans" }
            td { (moment(&one.record.at_utc)) }
            td dir="auto" { (one.record.actor) }
        }
    }
}

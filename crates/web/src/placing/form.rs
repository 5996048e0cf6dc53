//! The windows of peak and baseline as numbers in a form: beside the figure, for keyboard, pointer and no script alike.

use maud::{Markup, html};
use stillwell_method::{BlankUse, MeasurePlan, Method, Placement};
use stillwell_study::{Numbered, Series};

use super::asked::{HEIGHT_AT, movable};
use super::trial::{Change, Tried};
use crate::wording::counted;

/// What must be known before anything is moved.
pub(super) const HOLDS_FOR_ALL: &str = "A placement belongs to the method and holds for every scan, never for one sample: to keep it makes a new revision, evaluates all of history anew, and leaves every new number NOT APPROVED until the approver signs.";

/// The part of a scan's page on which peak and baseline are placed, as the method stands.
pub(crate) fn section(method: &Method, series: &Numbered<Series>, place: usize) -> Markup {
    let plan = &method.evaluation;
    html! {
        section class="placing no-print" data-try=(try_address(series, place)) {
            h2 { "Place peak and baseline" }
            p { (HOLDS_FOR_ALL) " " a href="/method" { "The method and its revisions" } }
            (live(None, place, unit(plan.peak.measure)))
            (fields(series, place, &Placement::of(plan)))
        }
    }
}

/// Where the page's script asks.
pub(super) fn try_address(series: &Numbered<Series>, place: usize) -> String {
    format!("/api/series/{}/scans/{}/try", series.label, place + 1)
}

pub(super) fn unit(measure: MeasurePlan) -> &'static str {
    if measure == MeasurePlan::Area { "A·V" } else { "A" }
}

/// The form; it records nothing.
pub(super) fn fields(series: &Numbered<Series>, place: usize, placement: &Placement) -> Markup {
    let action = format!("/series/{}/scans/{}/placing", series.label, place + 1);
    let decimals = movable(placement)
        .iter()
        .flat_map(|one| one.window_v)
        .chain(placement.height_at_v)
        .map(decimals_of)
        .max()
        .unwrap_or(3)
        .max(3);
    let step = format!("0.{}1", "0".repeat(decimals - 1));
    html! {
        form class="windows" method="get" action=(action) {
            @for one in movable(placement) {
                fieldset data-window=(one.handle) {
                    legend { (one.words) }
                    @for (end, value) in ["from", "to"].into_iter().zip(one.window_v) {
                        @let id = format!("{}-{end}", one.handle);
                        span {
                            label for=(id) { (end) " / V" }
                            input id=(id) name={ (one.handle) "_" (end) } type="number" step=(step) required data-handle=(one.handle) data-end=(end) value=(value);
                        }
                    }
                }
            }
            @if let Some(at_v) = placement.height_at_v {
                fieldset data-window="height" {
                    legend { "The height is taken here" }
                    span {
                        label for="height-at" { "at / V" }
                        input id="height-at" name=(HEIGHT_AT) type="number" step=(step) required data-handle="height" data-end="at" value=(at_v);
                    }
                }
            }
            p {
                label for="blank-use" { "Blank" }
                select id="blank-use" name="blank" {
                    @for (word, use_of) in BlankUse::WORDS {
                        option value=(word) selected[use_of == placement.blank] { (word) }
                    }
                }
            }
            p class="buttons" {
                button class="do" { "See what this gives" }
                " " button type="reset" class="plain" { "As it was" }
            }
        }
    }
}

fn decimals_of(number: f64) -> usize {
    let text = number.to_string();
    text.split_once('.').map_or(0, |(_, after)| after.len()).min(6)
}

/// What the placement gives; the page's script fills it in while a window is moved.
pub(super) fn live(tried: Option<&Tried>, place: usize, unit: &str) -> Markup {
    let of_scan: Vec<&Change> =
        tried.map(|tried| tried.changes.iter().filter(|one| one.is_of_scan).collect()).unwrap_or_default();
    html! {
        dl class="live" data-live="" hidden[tried.is_none()] {
            dt { "Signal" } dd data-of="signal" { @if let Some(tried) = tried { (tried.signal_words(place, unit)) } }
            dt { "This sample" }
            dd { ul data-of="sample" { @for words in of_scan.iter().flat_map(|one| sentences(one)) { li dir="auto" { (words) } } @if tried.is_some() && of_scan.is_empty() { li { "no determination of its own: a standard, a check, a spike or a blank" } } } }
            dt { "The series" } dd data-of="series" { @if let Some(tried) = tried { (series_words(&tried.changes)) } }
        }
        p class="visually-hidden" role="status" data-of="said" {}
    }
}

/// A sample before and now, and each limit that it is judged against.
pub(super) fn sentences(change: &Change) -> Vec<String> {
    let moved = |before: &str, now: &str| {
        if before == now { format!("{now}, as it stands") } else { format!("{before} → {now}") }
    };
    let mut all = vec![format!("{}: {}", change.sample, moved(&change.before.number, &change.now.number))];
    for (limit, now) in &change.now.verdicts {
        let before =
            change.before.verdicts.iter().find(|(of, _)| of == limit).map_or("none", |(_, word)| word);
        all.push(format!("{limit}: {}", moved(before, now)));
    }
    all
}

/// How many numbers and verdicts of a series change.
pub(super) fn series_words(changes: &[Change]) -> String {
    let n_other = changes.iter().filter(|one| one.is_other()).count();
    let n_verdicts = changes.iter().filter(|one| one.has_other_verdict()).count();
    format!(
        "{} of {} otherwise, {n_verdicts} with another verdict",
        n_other,
        counted(changes.len(), "determination")
    )
}

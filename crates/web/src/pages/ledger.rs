//! The ledger: who did what, when and why, what it rests on and what it touches; and its head.

use axum::extract::{Query, State};
use maud::{Markup, html};
use serde::Deserialize;
use stillwell_study::{Act, Digest, History, HistoryEntry, Word};

use super::study_spine::spine;
use crate::guard::Visitor;
use crate::layout::{Leaf, Page, Refusal, shell};
use crate::site::Site;
use crate::view::View;
use crate::wording::{counted, laboratory_words, moment, number, sample};

/// So many records stand on one page.
const MOST: usize = 200;

/// What of the ledger is shown.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    /// A sample.
    #[serde(default)]
    of: String,
    /// Page, from 1: the newest records first.
    #[serde(default)]
    page: usize,
    /// A record of the study's own ledger: the page that holds it.
    #[serde(default)]
    at: u64,
}

/// Where a record of the study's own ledger stands.
pub(crate) fn record_address(seq: u64) -> String {
    format!("/ledger?at={seq}#r{seq}")
}

/// The page that was asked for, or that holds the record that was.
fn leaf(history: &History, asked: &Asked) -> Leaf {
    let is_it = |entry: &HistoryEntry| !entry.is_foreign && entry.record.seq == asked.at;
    let place = history.entries.iter().rev().position(is_it);
    Leaf::of(place.map_or(asked.page, |place| place / MOST + 1), MOST)
}

pub(crate) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Query(asked): Query<Asked>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &whole(view, &asked)?))).await
}

fn whole(view: &View, asked: &Asked) -> Result<Page, Refusal> {
    let of = asked.of.trim();
    let history = History::beside(&view.study, &view.overview, (!of.is_empty()).then_some(of))?;
    let n = history.entries.len();
    let leaf = leaf(&history, asked);
    let shown = history.entries.iter().rev().skip(leaf.skipped()).take(leaf.lines);
    let anchor = &history.anchor;
    Ok(Page {
        title: "Ledger".to_owned(),
        spine: spine(&view.overview, None),
        body: html! {
            h1 { "Ledger" }
            p { "Every act is one record, and each record holds the hash of the one before it. What was recorded is never changed: a correction or an undo is a new record." }
            section id="head" {
                h2 { "The head" }
                dl {
                    dt { "Last record" } dd { "#" (anchor.seq) }
                    dt { "Its hash" } dd class="hash" { (anchor.head) }
                    dt { "Ledger" } dd class="hash" { (anchor.chain) }
                }
                p { "Keep this hash where the owner of the file cannot change it: on paper, in a mail, with the customer. Later it shows that the ledger up to this record is the same:" }
                pre { code { "stillwell study verify " (view.site.study_path().display()) " --anchor " (anchor.head) } }
            }
            h2 { @if of.is_empty() { "Records" } @else { "Records about " span dir="auto" { (of) } } " " span class="n" { (n) } }
            form class="choice" method="get" action="/ledger" {
                p {
                    label for="of" { "About a sample" }
                    input id="of" name="of" type="search" value=(of) maxlength="200";
                    button { "Show" }
                    a href="/api/history" download="history.json" { "all of it (JSON)" }
                }
            }
            ol class="ledger" { @for entry in shown { (one(&history, entry)) } }
            (leaf.turning("/ledger", &[("of", of)], n))
        },
    })
}

fn one(history: &History, entry: &HistoryEntry) -> Markup {
    let record = &entry.record;
    html! {
        li id=[(!entry.is_foreign).then(|| format!("r{}", record.seq))] {
            span class="place" { @if entry.is_foreign { (record.chain.short()) " " } "#" (record.seq) }
            span class="when" { (moment(&record.at_utc)) " UTC" }
            div class="what" {
                p dir="auto" { (what(history, entry)) }
                p class="why" dir="auto" { (record.actor) ": " (record.reason) }
                @if record.clock_was_set_back() {
                    p class="why" { "The clock said " (moment(&record.clock_utc)) ", which is earlier than the record before." }
                }
                @if !entry.rests_on.is_empty() {
                    p class="why" { "Rests on " @for (place, hash) in entry.rests_on.iter().enumerate() { @if place > 0 { ", " } (name(history, hash)) } }
                }
                @if let Some(standing) = &entry.standing {
                    p class="why" { "Today: " (standing.word()) }
                }
                @if !entry.touches.is_empty() {
                    p class="why" { "Touches " (counted(entry.touches.len(), "issued result")) ": "
                        @for (place, touched) in entry.touches.iter().enumerate() {
                            @if place > 0 { ", " } span dir="auto" { (touched.sample) } " (" (touched.standing) ")"
                        }
                    }
                }
                p class="why hash" { (record.hash) }
            }
        }
    }
}

/// A record by its name, as a link where it has a page.
fn name(history: &History, hash: &Digest) -> Markup {
    let words = history.name(hash);
    let address = if let Some(one) = history.calibrations.get(hash) {
        Some(format!("/calibrations/{}", one.label))
    } else {
        history.results.get(hash).map(|shown| format!("/results/{}", shown.one.label))
    };
    html! { @match address { Some(address) => { a href=(address) { (words) } } None => { (words) } } }
}

fn what(history: &History, entry: &HistoryEntry) -> Markup {
    let own = |words: String| html! { (name(history, &entry.record.hash)) (words) };
    match &entry.act {
        Act::Founding(act) => html! { "Study \"" (act.name) "\" begun with " (act.software) },
        Act::Revision(act) => {
            html! { "Method " (act.name) ", revision " (act.revision) " (" (act.method.short()) ")" }
        }
        Act::Files(act) => html! { (counted(act.files.len(), "raw file")) " taken in" },
        Act::Series(act) => own(format!(
            " \"{}\": {}, {}",
            act.name,
            counted(act.files.len(), "raw file"),
            counted(act.n_scans, "scan")
        )),
        Act::Exclusion(act) => html! { (act.scan.label()) " left out" (origin(act.from_run_sheet)) },
        Act::Override(act) => {
            html! { (act.scan.label()) " used in spite of " (act.check) (origin(act.from_run_sheet)) }
        }
        Act::Calibration(act) => own(format!(
            ": lot {}, {}, {}",
            act.result.lot,
            if act.result.accepted { "accepted" } else { "not accepted" },
            counted(act.result.standards.len(), "standard scan")
        )),
        Act::Determination(act) => {
            own(format!(": {} {} {}", sample(&act.result), number(&act.result), act.result.unit))
        }
        Act::Laboratory(act) => {
            html! { a href="/quality/comparison#records" { (history.name_alone(&entry.record.hash)) } ": " (laboratory_words(act)) }
        }
        other => said_of(history, other),
    }
}

/// Acts about something else.
fn said_of(history: &History, act: &Act) -> Markup {
    match act {
        Act::Validity(act) => html! {
            (name(history, &act.calibration)) " may be used until " (act.last_day)
            @if !act.triggers.is_empty() { "; ends with: " (act.triggers.join(", ")) }
        },
        Act::Trigger(act) => html! { (name(history, &act.calibration)) " ended on " (act.on) },
        Act::Key(act) => html! {
            "Key of " (act.name) " as " (act.role.word()) " (" (act.public_key.short()) "), "
            (if act.voucher.is_some() { "on an approver's word" } else { "on trust" })
        },
        Act::Approval(act) => html! {
            (name(history, &act.target)) (match act.word { Word::Approved => " approved, signed", Word::Refused => " refused, signed" })
        },
        Act::Withdrawal(act) => html! { (name(history, &act.target)) " withdrawn" },
        Act::Undo(act) => html! { (name(history, &act.target)) " undone" },
        Act::Lot(act) => {
            html! { "Lot " (act.lot) ": " (act.identity) "; last day " (act.last_day) "; storage " (act.storage) "; signed" }
        }
        Act::Custody(act) => {
            html! { "Sample " (act.sample) ": taken at " (act.place) ", " (act.taken) ", by " (act.taken_by) "; preservation " (act.preservation) "; dilution " (act.dilution) }
        }
        Act::Merge(act) => html! { "Ledger " (act.chain.short()) " taken in up to its record #" (act.seq) },
        other => html! { (other.kind()) },
    }
}

fn origin(from_run_sheet: bool) -> &'static str {
    if from_run_sheet { ", as the run sheet says" } else { "" }
}

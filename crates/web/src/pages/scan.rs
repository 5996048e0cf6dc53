//! One scan: how it was read, with its blank, baseline and peak, what checks found, and what can be done.

use axum::extract::{Path, State};
use maud::{Markup, html};
use stillwell_method::{Input, Report, Role, ScanLink};

use super::figures;
use super::scan_words::{electrode, peak_words, state_of_scan, what_of};
use super::study_spine::{SCAN, spine};
use crate::acts::scan_acts;
use crate::guard::Visitor;
use crate::layout::{Page, Refusal, findings, shell, sign};
use crate::site::Site;
use crate::view::View;

/// A scan in the chain that it is shown in.
struct InChain<'a> {
    input: &'a Input,
    report: &'a Report,
    place: usize,
    scan: &'a ScanLink,
    /// Where it is shown.
    address: String,
}

/// The scan as the study stands now.
pub(crate) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Path((label, number)): Path<(String, usize)>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &now(view, &label, number)?))).await
}

/// The scan as it was when a result was issued.
pub(crate) async fn as_issued(
    State(site): State<Site>,
    visitor: Visitor,
    Path((label, number)): Path<(String, usize)>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &issued(view, &label, number)?))).await
}

fn now(view: &View, label: &str, number: usize) -> Result<Page, Refusal> {
    let series = view.series(label)?;
    let walked = view.walked(&series.record.hash)?;
    let place = number.checked_sub(1).filter(|place| *place < series.act.n_scans);
    let unknown = || Refusal::unknown(&format!("scan {number} of series {label}"));
    let place = place.ok_or_else(unknown)?;
    let scan = walked.report.scans.get(place).ok_or_else(unknown)?;
    let address = format!("/series/{label}/scans/{number}");
    let shown = InChain { input: &walked.input, report: &walked.report, place, scan, address };
    let is_evaluated = scan.row.role != Role::Blank && scan.row.exclude.is_none();
    let placing =
        html! { @if is_evaluated { (crate::placing::section(&walked.input.method, series, place)) } };
    let neighbour = |number: usize, words: &str| {
        html! { @if (1..=series.act.n_scans).contains(&number) { a href={ "/series/" (label) "/scans/" (number) } { (words) } " " } }
    };
    Ok(Page {
        title: scan.raw.label(),
        spine: spine(&view.overview, Some(SCAN)),
        body: html! {
            p class="soft no-print" {
                a href={ "/scans?series=" (label) } { "All scans of series " (label) } " · "
                (neighbour(number - 1, "the one before")) (neighbour(number + 1, "the one after"))
            }
            (content(&shown, &placing))
            section class="no-print" {
                h2 { "What can be done" }
                (scan_acts(view, series, place, scan))
            }
        },
    })
}

fn issued(view: &View, label: &str, number: usize) -> Result<Page, Refusal> {
    let shown = view.result(label)?;
    let issued = view.as_issued(shown)?;
    let unknown = || Refusal::unknown(&format!("scan {number} of result {label}"));
    let place = number.checked_sub(1).ok_or_else(unknown)?;
    let scan = issued.report.scans.get(place).ok_or_else(unknown)?;
    let address = format!("/results/{label}/scans/{number}");
    let in_chain = InChain { input: &issued.input, report: &issued.report, place, scan, address };
    let series = view.series_of(&shown.one.act.series);
    Ok(Page {
        title: scan.raw.label(),
        spine: spine(&view.overview, Some(SCAN)),
        body: html! {
            p class="answer open" {
                "As it was when " a href={ "/results/" (label) } { "result " (label) " of " span dir="auto" { (shown.one.act.result.sample) } } " was issued. "
                @if let Some(series) = series {
                    a href={ "/series/" (series.label) "/scans/" (number) } { "As it stands now, and what can be done" }
                }
            }
            (content(&in_chain, &html! {}))
        },
    })
}

fn content(shown: &InChain<'_>, placing: &Markup) -> Markup {
    let scan = shown.scan;
    let (state, words) = state_of_scan(scan);
    html! {
        h1 dir="auto" { (scan.raw.label()) }
        p class={ "answer " (state.word()) } {
            (sign(state)) " " (scan.row.role.word()) " " strong dir="auto" { (what_of(scan)) }
            " on electrode " span dir="auto" { (electrode(scan)) } ": " span dir="auto" { (words) }
        }
        div class="two" {
            div {
                @if let Some(figure) = figures::scan(shown.input, shown.report, shown.place) {
                    (figure.on_page("scan", &format!("{}/figure.svg", shown.address)))
                }
                (placing)
            }
            div {
                (signal(scan))
                section {
                    h2 { "What checks found" }
                    p { (scan.checks_passed) " raw checks passed." }
                    (findings(&scan.findings))
                }
                (how_read(scan))
            }
        }
    }
}

fn signal(scan: &ScanLink) -> Markup {
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Signal" {
            table {
                thead { tr {
                    th scope="col" class="num" { "Signal" } th scope="col" class="num" { "Peak / V" } th scope="col" class="num" { "Width / mV" }
                    th scope="col" class="num" { "Noise" } th scope="col" class="num" { "Signal / noise" }
                } }
                tbody { tr { (peak_words(scan)) } }
            }
        }
    }
}

fn how_read(scan: &ScanLink) -> Markup {
    let (potential_column, current_column) = scan.raw.columns;
    html! {
        section {
            h2 { "How it was read" }
            dl {
                dt { "Read as" } dd dir="auto" { (scan.raw.reading) }
                dt { "Where" } dd dir="auto" { (scan.raw.file) ", lines " (scan.raw.first_line) " to " (scan.raw.last_line) ", columns " (potential_column) " and " (current_column) }
                dt { "Hash of the file" } dd class="hash" { (scan.raw.hash) }
                dt { "Run sheet" } dd { "line " (scan.row.place.line)
                    @if !scan.row.lot.is_empty() { ", lot " span dir="auto" { (scan.row.lot) } }
                    @if !scan.row.batch.is_empty() { ", batch " span dir="auto" { (scan.row.batch) } }
                    @if !scan.row.date.is_empty() { ", " span dir="auto" { (scan.row.date) } }
                    @if let Some(temperature) = scan.row.temperature_c { ", " (format!("{temperature:.1}")) " °C" }
                }
                @if !scan.row.note.is_empty() { dt { "Note" } dd dir="auto" { (scan.row.note) } }
                dt { "Blanks subtracted" }
                dd dir="auto" {
                    @if scan.blanks.is_empty() { "none" }
                    @for (place, blank) in scan.blanks.iter().enumerate() { @if place > 0 { ", " } (blank.label()) }
                }
            }
        }
    }
}

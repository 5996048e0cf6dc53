//! The scans of a series: what was recorded, what it is of, how it was read, what the raw checks say.

use axum::extract::{Query, State};
use maud::{Markup, html};
use serde::Deserialize;
use stillwell_method::ScanLink;
use stillwell_study::{Numbered, Series};

use super::scan_words::{electrode, state_of_scan, what_of};
use super::study_spine::{SCAN, spine};
use crate::acts::issue_act;
use crate::guard::Visitor;
use crate::layout::{Leaf, Page, Refusal, shell, sign};
use crate::site::Site;
use crate::view::View;
use crate::wording::{counted, moment};

/// So many scans stand on one page.
pub(super) const MOST: usize = 250;

/// Which series.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    pub(super) series: String,
    /// Page, from 1.
    #[serde(default)]
    pub(super) page: usize,
}

pub(crate) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Query(asked): Query<Asked>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &whole(view, &asked)?))).await
}

/// The series that was asked for, else the newest.
pub(super) fn series_of<'a>(view: &'a View, asked: &Asked) -> Result<Option<&'a Numbered<Series>>, Refusal> {
    if asked.series.is_empty() {
        return Ok(view.overview.series.iter().max_by_key(|one| (&one.record.at_utc, one.record.seq)));
    }
    view.series(&asked.series).map(Some)
}

/// Where there are several, each is one click away.
pub(super) fn series_choice(view: &View, path: &str, here: &Numbered<Series>) -> Markup {
    html! {
        @if view.overview.series.len() > 1 {
            form class="choice" method="get" action=(path) {
                p {
                    label for="series" { "Series" }
                    select id="series" name="series" {
                        @for one in &view.overview.series {
                            option value=(one.label) selected[one.label == here.label] { (one.label) ": " (one.act.name) }
                        }
                    }
                    button { "Show" }
                }
            }
        }
    }
}

fn whole(view: &View, asked: &Asked) -> Result<Page, Refusal> {
    let spine = spine(&view.overview, Some(SCAN));
    let Some(series) = series_of(view, asked)? else {
        let body = html! { h1 { "Scans" } p class="empty" { "None was taken in yet." } };
        return Ok(Page { title: "Scans".to_owned(), spine, body });
    };
    let walked = view.walked(&series.record.hash)?;
    let leaf = Leaf::of(asked.page, MOST);
    let own = walked.report.scans.get(..series.act.n_scans).unwrap_or(&walked.report.scans);
    Ok(Page {
        title: format!("Scans of series {}", series.label),
        spine,
        body: html! {
            h1 { "Scans of series " (series.label) ", " span dir="auto" { (series.act.name) } }
            (series_choice(view, "/scans", series))
            p class="count" {
                (counted(own.len(), "scan")) " in " (counted(series.act.files.len(), "raw file")) ", taken in at "
                (moment(&series.record.at_utc)) " UTC by " span dir="auto" { (series.record.actor) } ". To download: "
                a href={ "/series/" (series.label) "/scans.csv" } download { "table (CSV)" } ", "
                a href={ "/api/series/" (series.label) "/scans" } download={ "scans-" (series.label) ".json" } { "JSON" }
            }
            (table(series, own, leaf))
            (leaf.turning("/scans", &[("series", &series.label)], own.len()))
            section class="no-print" {
                h2 { "Issue results" }
                p { "What this series gives by the current method goes on record, with all it came from. What stands there already is not issued twice; a result that came out otherwise takes the place of the earlier one, which is kept." }
                (issue_act(view, series))
            }
        },
    })
}

/// One line a scan, under a line for each raw file that says how it was read.
fn table(series: &Numbered<Series>, scans: &[ScanLink], leaf: Leaf) -> Markup {
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Scans" {
            table class="dense" {
                thead { tr {
                    th scope="col" class="num" { "Scan" } th scope="col" { "Role" } th scope="col" { "Sample or level" }
                    th scope="col" { "Lot" } th scope="col" { "Electrode" } th scope="col" { "Batch" }
                    th scope="col" class="num" { "Temperature / °C" } th scope="col" { "Raw checks" }
                } }
                tbody {
                    @for (place, scan) in scans.iter().enumerate().skip(leaf.skipped()).take(leaf.lines) {
                        @if place == leaf.skipped() || is_new_file(scans, place) {
                            tr class="group" {
                                th colspan="8" scope="rowgroup" dir="auto" { (scan.raw.file) " · " (scan.raw.reading) }
                            }
                        }
                        (row(series, place, scan))
                    }
                }
            }
        }
    }
}

fn is_new_file(scans: &[ScanLink], place: usize) -> bool {
    let file = |place: usize| scans.get(place).map(|scan| &scan.raw.file);
    place == 0 || file(place - 1) != file(place)
}

fn row(series: &Numbered<Series>, place: usize, scan: &ScanLink) -> Markup {
    let (state, words) = state_of_scan(scan);
    html! {
        tr {
            th class="num" scope="row" { a href={ "/series/" (series.label) "/scans/" (place + 1) } { (scan.raw.scan) } }
            td { (scan.row.role.word()) }
            td dir="auto" { (what_of(scan)) }
            td dir="auto" { (scan.row.lot) }
            td dir="auto" { (electrode(scan)) }
            td dir="auto" { (scan.row.batch) }
            td class="num" { @if let Some(temperature) = scan.row.temperature_c { (format!("{temperature:.1}")) } @else { "–" } }
            td dir="auto" { (sign(state)) " " (words) }
        }
    }
}

//! The signals of a series: where each peak stands, how high, over which noise; and all of them above one another.

use axum::extract::{Query, State};
use maud::{Markup, html};
use stillwell_method::{Report, Role, ScanLink};
use stillwell_study::{Numbered, Series};

use super::figures;
use super::scan_words::{electrode, peak_words, state_of_scan, what_of};
use super::scans::{Asked, MOST, series_choice, series_of};
use super::study_spine::{SIGNAL, spine};
use crate::guard::Visitor;
use crate::layout::{Leaf, Page, Refusal, shell, sign};
use crate::site::Site;
use crate::view::View;
use crate::wording::counted;

pub(crate) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Query(asked): Query<Asked>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &whole(view, &asked)?))).await
}

/// Scans that are drawn above one another: standards and samples that gave a signal.
pub(crate) fn overlaid(report: &Report) -> Vec<usize> {
    let is_drawn = |scan: &ScanLink| scan.signal.is_some() && scan.row.role != Role::Blank;
    report.scans.iter().enumerate().filter(|(_, scan)| is_drawn(scan)).map(|(place, _)| place).collect()
}

fn whole(view: &View, asked: &Asked) -> Result<Page, Refusal> {
    let spine = spine(&view.overview, Some(SIGNAL));
    let Some(series) = series_of(view, asked)? else {
        let body = html! { h1 { "Signals" } p class="empty" { "No scan was taken in yet." } };
        return Ok(Page { title: "Signals".to_owned(), spine, body });
    };
    let walked = view.walked(&series.record.hash)?;
    let places = overlaid(&walked.report);
    let own = walked.report.scans.get(..series.act.n_scans).unwrap_or(&walked.report.scans);
    let measured: Vec<(usize, &ScanLink)> =
        own.iter().enumerate().filter(|(_, scan)| scan.row.role != Role::Blank).collect();
    let leaf = Leaf::of(asked.page, MOST);
    Ok(Page {
        title: format!("Signals of series {}", series.label),
        spine,
        body: html! {
            h1 { "Signals of series " (series.label) ", " span dir="auto" { (series.act.name) } }
            (series_choice(view, "/signals", series))
            p class="count" { (counted(places.len(), "signal")) " from " (counted(measured.len(), "scan")) " of standards, samples and controls. An asterisk: measured at the calibration's potential, without a search." }
            @if !places.is_empty() {
                (figures::overlay(&walked, &series.label)
                    .on_page("overlay", &format!("/series/{}/overlay.svg", series.label)))
            }
            (table(series, leaf.part(&measured)))
            (leaf.turning("/signals", &[("series", &series.label)], measured.len()))
        },
    })
}

fn table(series: &Numbered<Series>, scans: &[(usize, &ScanLink)]) -> Markup {
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Signals" {
            table class="dense" {
                thead { tr {
                    th scope="col" class="num" { "Scan" } th scope="col" { "Role" } th scope="col" { "Sample or level" } th scope="col" { "Electrode" }
                    th scope="col" class="num" { "Signal" } th scope="col" class="num" { "Peak / V" } th scope="col" class="num" { "Width / mV" }
                    th scope="col" class="num" { "Noise" } th scope="col" class="num" { "Signal / noise" } th scope="col" { "Checks" }
                } }
                tbody {
                    @for (line, (place, scan)) in scans.iter().enumerate() {
                        @let (state, words) = state_of_scan(scan);
                        @if line.checked_sub(1).and_then(|before| scans.get(before)).is_none_or(|(_, before)| before.raw.file != scan.raw.file) {
                            tr class="group" { th colspan="10" scope="rowgroup" dir="auto" { (scan.raw.file) } }
                        }
                        tr {
                            th scope="row" class="num" { a href={ "/series/" (series.label) "/scans/" (place + 1) } { (scan.raw.scan) } }
                            td { (scan.row.role.word()) }
                            td dir="auto" { (what_of(scan)) }
                            td dir="auto" { (electrode(scan)) }
                            (peak_words(scan))
                            td dir="auto" { (sign(state)) " " (words) }
                        }
                    }
                }
            }
        }
    }
}

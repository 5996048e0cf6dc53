//! Figures, as the report room draws them: on a page, and as files.

use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, PreEscaped, html};
use stillwell_method::{CalibrationLink, Determination, Input, Report, ScanCurves, curves};
use stillwell_report::{
    Figure, Table, budget_bars, budget_figure, calibration_figure, overlay_figure, scan_figure,
};

use super::budget::TakenApart;
use super::scan_words::what_of;
use crate::guard::Visitor;
use crate::layout::Refusal;
use crate::site::Site;
use crate::view::Walked;

/// So many traces are told apart by their dashes.
const MOST_NAMED: usize = 6;

/// A figure.
pub(crate) struct Drawn(Figure);

impl Drawn {
    /// What the report room drew.
    pub(crate) fn of(figure: Figure) -> Self {
        Self(figure)
    }

    /// On a page: `place` is a name that no other figure of it has, `address` where the same comes as a file.
    pub(crate) fn on_page(&self, place: &str, address: &str) -> Markup {
        html! {
            figure {
                // The report room escapes every name of a stranger in it.
                (PreEscaped(self.0.inline(place)))
                figcaption {
                    a href=(address) download { "Figure (SVG)" }
                    @if !self.0.tables().is_empty() {
                        details { summary { "Show as table" } @for table in self.0.tables() { (as_table(self.0.title(), table)) } }
                    }
                }
            }
        }
    }

    pub(crate) fn file(&self) -> Response {
        let headers = [(CONTENT_TYPE, "image/svg+xml"), (CONTENT_DISPOSITION, "inline")];
        (headers, self.0.standalone()).into_response()
    }
}

/// `of` tells the tables of several figures of one page apart.
fn as_table(of: &str, table: &Table) -> Markup {
    let text = table.in_words();
    let class = |column: usize| text.is_numeric.get(column).is_some_and(|is| *is).then_some("num");
    html! {
        div class="wide short" tabindex="0" role="region" aria-label={ (of) ": " (table.title) } {
            table {
                caption dir="auto" { (table.title) }
                thead { tr { @for (column, words) in text.headers.iter().enumerate() { th scope="col" class=[class(column)] dir="auto" { (words) } } } }
                tbody {
                    @for row in &text.rows {
                        tr { @for (column, words) in row.iter().enumerate() { td class=[class(column)] dir="auto" { (words) } } }
                    }
                }
            }
        }
    }
}

/// One scan with its blank, baseline and peak.
pub(crate) fn scan(input: &Input, report: &Report, place: usize) -> Option<Drawn> {
    Some(Drawn(scan_figure(&input.method, &curves(input, report, place)?)))
}

/// A calibration with its bands and residuals.
pub(crate) fn calibration(input: &Input, link: &CalibrationLink) -> Drawn {
    Drawn(calibration_figure(&input.method, link))
}

/// The parts of a result's uncertainty and its intervals.
pub(super) fn budget(input: &Input, found: &Determination, (of, beside): &TakenApart) -> Drawn {
    Drawn(budget_figure(&budget_bars(&input.method, found, of, beside)))
}

/// The scans of a series above one another: what they span, and some of them by name. Drawn once for each state of the ledger.
pub(crate) fn overlay<'a>(walked: &'a Walked, label: &str) -> &'a Drawn {
    walked.overlay.get_or_init(|| {
        let (input, report) = (&walked.input, &walked.report);
        let places = super::signals::overlaid(report);
        let all: Vec<ScanCurves<'_>> =
            places.iter().filter_map(|place| curves(input, report, *place)).collect();
        Drawn(overlay_figure(&input.method, &format!("Series {label}"), &all, &by_name(&all)))
    })
}

/// The first scan of each level or sample, up to six spread over all of them: the figure tells no more apart.
fn by_name(all: &[ScanCurves<'_>]) -> Vec<usize> {
    let mut firsts: Vec<(String, usize)> = Vec::new();
    for (place, scan) in all.iter().enumerate() {
        let what = what_of(scan.link);
        if !firsts.iter().any(|(known, _)| *known == what) {
            firsts.push((what, place));
        }
    }
    let step = firsts.len().div_ceil(MOST_NAMED).max(1);
    firsts.into_iter().step_by(step).map(|(_, place)| place).collect()
}

/// `/series/{series}/scans/{place}/figure.svg`
pub(crate) async fn of_scan(
    State(site): State<Site>,
    visitor: Visitor,
    Path((label, place)): Path<(String, usize)>,
) -> Result<Response, Refusal> {
    site.look(visitor, move |view| {
        let walked = view.walked(&view.series(&label)?.record.hash)?;
        let drawn = place.checked_sub(1).and_then(|index| scan(&walked.input, &walked.report, index));
        drawn
            .as_ref()
            .map(Drawn::file)
            .ok_or_else(|| Refusal::unknown(&format!("scan {place} of series {label}")))
    })
    .await
}

/// `/results/{result}/scans/{place}/figure.svg`
pub(crate) async fn of_issued_scan(
    State(site): State<Site>,
    visitor: Visitor,
    Path((label, place)): Path<(String, usize)>,
) -> Result<Response, Refusal> {
    site.look(visitor, move |view| {
        let issued = view.as_issued(view.result(&label)?)?;
        let drawn = place.checked_sub(1).and_then(|index| scan(&issued.input, &issued.report, index));
        drawn
            .as_ref()
            .map(Drawn::file)
            .ok_or_else(|| Refusal::unknown(&format!("scan {place} of result {label}")))
    })
    .await
}

/// `/calibrations/{calibration}/figure.svg`
pub(crate) async fn of_calibration(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Result<Response, Refusal> {
    site.look(visitor, move |view| {
        let one = view.calibration(&label)?;
        let (input, link) = super::calibration::link_of(view, one)?;
        Ok(calibration(&input.input, &link).file())
    })
    .await
}

/// `/series/{series}/overlay.svg`
pub(crate) async fn of_series(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Result<Response, Refusal> {
    site.look(visitor, move |view| {
        let walked = view.walked(&view.series(&label)?.record.hash)?;
        Ok(overlay(&walked, &label).file())
    })
    .await
}

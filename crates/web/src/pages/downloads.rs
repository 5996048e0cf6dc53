//! Tables to take away, as CSV: full precision, units in the column names.

use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse as _, Response};
use stillwell_report::dossier::{DossierInput, dossier};
use stillwell_study::Shown;

use super::scan_words::what_of;
use crate::guard::Visitor;
use crate::layout::Refusal;
use crate::site::Site;
use crate::wording::Said;

/// Results that count, with verdict and standing.
pub(crate) async fn results(State(site): State<Site>, visitor: Visitor) -> Result<Response, Refusal> {
    site.look(visitor, |view| {
        let all: Vec<&Shown> =
            view.overview.results.iter().filter(|shown| shown.one.standing.counts()).collect();
        let limits = super::results::limits(&all);
        let mut header: Vec<String> =
            ["result", "sample", "role", "batch", "lot", "outcome", "value", "low", "high", "unit"]
                .map(str::to_owned)
                .into();
        header.extend(limits.iter().map(|limit| format!("verdict {limit}")));
        header.extend(["standing", "approved", "record_blake3", "head_blake3"].map(str::to_owned));
        let head = view.overview.anchor.head.to_string();
        let rows = all.iter().map(|shown| row(shown, &limits, &head));
        Ok(file("results.csv", &header, rows))
    })
    .await
}

fn row(shown: &Shown, limits: &[&str], head: &str) -> Vec<String> {
    let (one, result) = (&shown.one, &shown.one.act.result);
    let numbers = result.numbers.as_ref();
    let text = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    let is_bound = result.outcome != "quantified";
    let interval = |end: Option<f64>| text(end.filter(|_| !is_bound));
    let mut cells = vec![
        one.label.clone(),
        result.sample.clone(),
        result.role.clone(),
        result.batch.clone(),
        result.lot.clone(),
        result.outcome.clone(),
        text(numbers.map(|numbers| numbers.value)),
        interval(numbers.and_then(|numbers| numbers.low)),
        interval(numbers.and_then(|numbers| numbers.high)),
        result.unit.clone(),
    ];
    cells.extend(limits.iter().map(|limit| Said::of(shown, limit).word().to_owned()));
    let is_approved = one.standing.is_approved() && shown.unapproved_calibration.is_none();
    cells.extend([
        one.standing.word().to_owned(),
        if is_approved { "yes" } else { "NOT APPROVED" }.to_owned(),
        one.record.hash.to_string(),
        head.to_owned(),
    ]);
    cells
}

/// One document of a series, to print and to keep.
pub(crate) async fn dossier_of(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Result<Response, Refusal> {
    site.look(visitor, move |view| {
        let series = view.series(&label)?;
        let text = dossier(&DossierInput::gather(&view.study, series)?);
        // It brings its own style, which our pages' policy forbids: it is saved, not shown.
        let name = format!("attachment; filename=\"dossier-{}.html\"", series.label.replace(':', "-"));
        let headers = [(CONTENT_TYPE, "text/html; charset=utf-8".to_owned()), (CONTENT_DISPOSITION, name)];
        Ok((headers, text).into_response())
    })
    .await
}

/// The scans of a series with their signals.
pub(crate) async fn scans(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Result<Response, Refusal> {
    site.look(visitor, move |view| {
        let series = view.series(&label)?;
        let walked = view.walked(&series.record.hash)?;
        let header = [
            "file",
            "scan",
            "role",
            "sample_or_level",
            "lot",
            "electrode",
            "batch",
            "signal_a",
            "peak_potential_v",
            "half_width_v",
            "noise_a",
            "excluded",
            "refused_by",
            "file_blake3",
        ];
        let header: Vec<String> = header.map(str::to_owned).into();
        let rows = walked.report.scans.iter().take(series.act.n_scans).map(|scan| {
            let signal = scan.signal.as_ref();
            let text = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
            let refused =
                scan.findings.iter().filter(|one| one.is_in_force(stillwell_method::Effect::Refused));
            vec![
                scan.raw.file.clone(),
                scan.raw.scan.to_string(),
                scan.row.role.word().to_owned(),
                what_of(scan),
                scan.row.lot.clone(),
                scan.row.electrode.clone(),
                scan.row.batch.clone(),
                text(signal.map(|signal| signal.signal)),
                text(signal.and_then(|signal| signal.peak_potential_v)),
                text(signal.and_then(|signal| signal.half_width_v)),
                text(signal.and_then(|signal| signal.noise_a)),
                scan.row.exclude.clone().unwrap_or_default(),
                refused.map(|one| one.check.id()).collect::<Vec<_>>().join(" "),
                scan.raw.hash.to_string(),
            ]
        });
        Ok(file(&format!("scans-{}.csv", series.label.replace(':', "-")), &header, rows))
    })
    .await
}

fn file(name: &str, header: &[String], rows: impl Iterator<Item = Vec<String>>) -> Response {
    let mut text = line(header);
    rows.for_each(|row| text.push_str(&line(&row)));
    let headers = [
        (CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
        (CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")),
    ];
    (headers, text).into_response()
}

fn line(cells: &[String]) -> String {
    let cells: Vec<String> = cells.iter().map(|cell| quoted(cell)).collect();
    format!("{}\r\n", cells.join(","))
}

/// As RFC 4180 has it. A stranger's text that a spreadsheet would take for a formula is kept from being one by an apostrophe;
/// numbers keep their sign.
fn quoted(cell: &str) -> String {
    let is_formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
    let cell = if is_formula { format!("'{cell}") } else { cell.to_owned() };
    if cell.contains([',', '"', '\n', '\r']) { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_is_a_formula_and_none_breaks_its_line() {
        assert_eq!(quoted("=1+1"), "'=1+1");
        assert_eq!(quoted("-1e-6"), "-1e-6");
        assert_eq!(quoted("a,\"b\"\n"), "\"a,\"\"b\"\"\n\"");
    }
}

//! Acts about one scan: leaving it out, using it in spite of a check, and undoing either.

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};
use stillwell_method::{Check, Effect, ScanLink};
use stillwell_study::{Act, Digest, Numbered, ScanRef, Series};

use super::receipt::{Done, by, done};
use crate::guard::{Posted, Visitor};
use crate::layout::{ActForm, Refusal};
use crate::site::Site;
use crate::view::View;

/// The forms on the page of a scan.
pub(crate) fn scan_acts(view: &View, series: &Numbered<Series>, place: usize, scan: &ScanLink) -> Markup {
    let path = |act: &str| format!("/series/{}/scans/{}/{act}", series.label, place + 1);
    let in_the_way: Vec<Check> = scan
        .findings
        .iter()
        .filter(|finding| finding.overridden.is_none() && finding.effect != Effect::Noted)
        .map(|finding| finding.check)
        .filter(|check| check.can_be_overridden())
        .collect();
    html! {
        section class="acts" {
            @for (record, words) in undoable(view, series, scan) {
                details {
                    summary { "Undo: " span dir="auto" { (words) } }
                    (ActForm { path: &format!("/undo/{record}"), fields: html! {}, example: "the note was about another strip", button: "Undo", person: None }.drawn(view))
                }
            }
            @if scan.row.exclude.is_none() {
                details {
                    summary { "Leave this scan out" }
                    p { "It is kept, and takes part in nothing from now on. Results that stand on record stay until they are issued anew." }
                    (ActForm { path: &path("exclude"), fields: html! {}, example: "bubble on the strip, seen at the bench", button: "Leave out", person: None }.drawn(view))
                }
            }
            @if !in_the_way.is_empty() && scan.row.exclude.is_none() {
                details {
                    summary { "Use it in spite of a check" }
                    p { "The finding and your reason both stay with every result that uses it." }
                    (ActForm { path: &path("override"), fields: checks(&in_the_way), example: "clipped outside the window of the peak", button: "Use it", person: None }.drawn(view))
                }
            }
        }
    }
}

fn checks(all: &[Check]) -> Markup {
    html! {
        p {
            label for="check" { "Check" }
            select id="check" name="check" { @for check in all { option value=(check.id()) { (check.id()) } } }
        }
    }
}

/// Exclusions and overrides of this scan that hold, with what they did.
fn undoable(view: &View, series: &Numbered<Series>, scan: &ScanLink) -> Vec<(Digest, String)> {
    let of = ScanRef { file: scan.raw.file.clone(), scan: scan.raw.scan };
    // A ledger that cannot be read says so on its own page.
    let all = view.study.amendments(&series.record.hash).unwrap_or_default();
    let words = |act: &Act, reason: &str| match act {
        Act::Exclusion(act) if act.scan == of => Some(format!("left out ({reason})")),
        Act::Override(act) if act.scan == of => Some(format!("used in spite of {} ({reason})", act.check)),
        _ => None,
    };
    all.into_iter().filter_map(|(record, act)| Some((record.hash, words(&act, &record.reason)?))).collect()
}

/// What a scan's act needs: its series, its place in the files, and the way back.
async fn scan_of(
    site: &Site,
    visitor: &Visitor,
    label: &str,
    place: usize,
) -> Result<(Digest, ScanRef, (String, String)), Refusal> {
    let label = label.to_owned();
    site.look(visitor.clone(), move |view| {
        let series = view.series(&label)?;
        let walked = view.walked(&series.record.hash)?;
        let unknown = || Refusal::unknown(&format!("scan {place} of series {label}"));
        let index = place.checked_sub(1).filter(|index| *index < series.act.n_scans).ok_or_else(unknown)?;
        let scan = walked.report.scans.get(index).ok_or_else(unknown)?;
        let back = (format!("/series/{label}/scans/{place}"), format!("Back to {}", scan.raw.label()));
        let reference = ScanRef { file: scan.raw.file.clone(), scan: scan.raw.scan };
        Ok((series.record.hash, reference, back))
    })
    .await
}

pub(super) async fn exclude(
    State(site): State<Site>,
    visitor: Visitor,
    Path((label, place)): Path<(String, usize)>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let (series, scan, back) = scan_of(&site, &visitor, &label, place).await?;
    let by = by(&fields)?;
    let actor = by.actor().to_owned();
    done(site, visitor, actor, move |study| {
        let record = study.exclude(&series, &scan, &by)?;
        let said = vec![
            format!("{} is left out from now on.", scan.label()),
            "Issue the results of its series anew to see what that changes.".to_owned(),
        ];
        Ok(Done { said, records: vec![record], back })
    })
    .await
}

pub(super) async fn override_check(
    State(site): State<Site>,
    visitor: Visitor,
    Path((label, place)): Path<(String, usize)>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let (series, scan, back) = scan_of(&site, &visitor, &label, place).await?;
    let by = by(&fields)?;
    let actor = by.actor().to_owned();
    let check = fields.text("check").to_owned();
    done(site, visitor, actor, move |study| {
        let record = study.override_check(&series, &scan, &check, &by)?;
        let said = vec![
            format!("{} is used in spite of {check} from now on.", scan.label()),
            "Issue the results of its series anew to see what that changes.".to_owned(),
        ];
        Ok(Done { said, records: vec![record], back })
    })
    .await
}

pub(super) async fn undo(
    State(site): State<Site>,
    visitor: Visitor,
    Path(record): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let target = Digest::parse(&record).ok_or_else(|| {
        Refusal::new(StatusCode::NOT_FOUND, "that is no record", "undo from the page of the scan")
    })?;
    let by = by(&fields)?;
    let actor = by.actor().to_owned();
    done(site, visitor, actor, move |study| {
        let record = study.undo(&target, &by)?;
        let said = vec![
            "It is undone: a new record says so, and what was recorded before stays readable.".to_owned(),
            "Issue the results of its series anew to see what that changes.".to_owned(),
        ];
        Ok(Done { said, records: vec![record], back: ("/scans".to_owned(), "To the scans".to_owned()) })
    })
    .await
}

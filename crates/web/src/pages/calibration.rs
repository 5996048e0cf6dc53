//! One calibration: bands, residuals, limits, acceptance, what rests on it, what can be done.

use std::sync::Arc;

use axum::extract::{Path, State};
use maud::{Markup, html};
use stillwell_calibrate::{Calibration, Outcome, Role};
use stillwell_method::{CalibrationLink, DetectionClaim, si, three_digits};
use stillwell_quantity::round_up;
use stillwell_study::{CalibrationAct, Numbered, Shown};

use super::calibrations::{group, state};
use super::figures;
use super::ledger::record_address;
use super::results::table as results_table;
use super::study_spine::{CALIBRATION, spine};
use crate::acts::{approval_act, validity_acts, withdraw_act};
use crate::guard::Visitor;
use crate::layout::{Page, Refusal, findings, shell, sign};
use crate::site::Site;
use crate::view::{AsIssued, View};
use crate::wording::{counted, current_with_error, moment, unit_of};

pub(crate) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &whole(view, &label)?))).await
}

/// The calibration as its chain made it: from a result that was read off it, else from its series as it stands now.
pub(super) fn link_of(
    view: &View,
    one: &Numbered<CalibrationAct>,
) -> Result<(Arc<AsIssued>, CalibrationLink), Refusal> {
    let reader =
        view.overview.results.iter().find(|shown| shown.one.act.calibration == Some(one.record.hash));
    let issued = match reader {
        Some(shown) => view.as_issued(shown)?,
        None => view.as_it_stands(&one.act.series)?,
    };
    let is_it = |link: &&CalibrationLink| link.hash.to_string() == one.act.result.hash.to_string();
    let link = issued.report.calibrations.iter().find(is_it).cloned();
    let link = link.ok_or_else(|| {
        Refusal::new(
            axum::http::StatusCode::NOT_FOUND,
            "this calibration does not come out of its series as it stands now",
            "its constants stand in the ledger; scans of it were left out or the method was revised since",
        )
    })?;
    Ok((issued, link))
}

fn whole(view: &View, label: &str) -> Result<Page, Refusal> {
    let one = view.calibration(label)?;
    let found = link_of(view, one);
    let (state, words) = state(one);
    let unit = unit_of(view);
    Ok(Page {
        title: format!("Calibration {label}, {}", group(one)),
        spine: spine(&view.overview, Some(CALIBRATION)),
        body: html! {
            h1 dir="auto" { "Calibration " (label) ", " (group(one)) }
            p class={ "answer " (state.word()) } { (sign(state)) " May samples be read off it? " strong { (words) } }
            @match &found {
                Ok((issued, link)) => {
                    (findings(&link.findings))
                    div class="two" {
                        div { (figures::calibration(&issued.input, link).on_page("calibration", &format!("/calibrations/{label}/figure.svg"))) }
                        div {
                            @if let Some(claim) = &link.detection { (limits(claim)) }
                            @if let Some(made) = &link.calibration { (levels(made, &unit)) }
                        }
                        @if let Some(made) = &link.calibration { div { (criteria(made)) } div { (figures_of_fit(made, &unit)) } }
                    }
                }
                Err(refusal) => { p { (refusal.words()) } }
            }
            (rests_on_it(view, one))
            (record(one))
            section class="no-print" {
                h2 { "What can be done" }
                div class="acts" {
                    (approval_act(view, "calibration", label, &one.record, &one.standing))
                    (withdraw_act(view, &format!("/calibrations/{label}/withdraw"), &one.standing))
                    (validity_acts(view, label))
                }
            }
        },
    })
}

fn limits(claim: &DetectionClaim) -> Markup {
    let rows = [
        ("Decision limit", &claim.decision_limit, "above it, the analyte is called detected"),
        ("Detection limit", &claim.detection_limit, "so much is missed with probability β only"),
        ("Quantification limit", &claim.quantification_limit, "from here on a number is issued"),
    ];
    html! {
        section {
            h2 { "Limits" }
            div class="wide" tabindex="0" role="region" aria-label="Limits" {
                table {
                    tbody {
                        @for (name, limit, meaning) in rows {
                            tr { th scope="row" { (name) " " span class="meaning" { (meaning) } } td class="num" { (round_up(limit.value(), 2)) " " (limit.kind()) } }
                        }
                    }
                }
            }
            p class="soft" { "Basis: " (claim.basis) }
            @for note in &claim.notes { p class="soft" { (note) } }
        }
    }
}

fn levels(made: &Calibration, unit: &str) -> Markup {
    html! {
        section {
            h2 { "Standards read back" }
            div class="wide" tabindex="0" role="region" aria-label="Standards" {
                table {
                    caption { "Levels in " (unit) }
                    thead { tr {
                        th scope="col" class="num" { "Level" } th scope="col" class="num" { "Electrodes" } th scope="col" class="num" { "Mean signal" }
                        th scope="col" class="num" { "Read back" } th scope="col" class="num" { "Error / %" }
                    } }
                    tbody {
                        @for level in &made.levels {
                            tr {
                                td class="num" { (level.level) } td class="num" { (level.n_electrodes) } td class="num" { (si(level.mean_signal_a, "A")) }
                                td class="num" { (level.back_calculated.map_or_else(|| "–".to_owned(), three_digits)) }
                                td class="num" { (level.error_percent.map_or_else(|| "–".to_owned(), |error| format!("{error:+.1}"))) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn figures_of_fit(made: &Calibration, unit: &str) -> Markup {
    let figures = &made.statistics;
    html! {
        section {
            h2 { "The curve" }
            dl {
                dt { "Model" } dd { (made.settings.model) " on electrode means, x in " (unit) }
                @let per = [String::new(), format!(" per {unit}"), format!(" per ({unit})²")];
                @for (((name, per), value), error) in ["c0", "c1", "c2"].iter().zip(per).zip(figures.coefficients).zip(figures.standard_errors) {
                    @if error > 0.0 { dt { (name) } dd { (current_with_error(value, error)) (per) } }
                }
                dt { "Fitted on" } dd { (counted(figures.n_scans, "scan")) ", " (counted(figures.n_points, "electrode mean")) " at " (counted(figures.n_levels, "level")) ", " (figures.degrees_of_freedom) " degrees of freedom" }
                dt { "Residual sd" } dd { (si(figures.residual_sd_a, "A")) }
                dt { "Process sd" } dd { (round_up(figures.process_sd, 2)) " " (unit) " (" (format!("{:.1}", figures.process_sd_percent)) " % of the mean level)" }
                dt { "r²" } dd { (format!("{:.5}", figures.r_squared)) ", never enough by itself" }
            }
        }
    }
}

fn criteria(made: &Calibration) -> Markup {
    html! {
        section {
            h2 { "Acceptance" }
            div class="wide" tabindex="0" role="region" aria-label="Acceptance" {
                table {
                    thead { tr { th scope="col" { "Criterion" } th scope="col" class="num" { "Found" } th scope="col" class="num" { "Limit" } th scope="col" { "Outcome" } } }
                    tbody {
                        @for one in made.findings.iter().filter(|one| one.role == Role::Acceptance) {
                            @let (state, word) = match one.outcome {
                                Outcome::Passed => (crate::layout::LinkState::Holds, "passed"),
                                Outcome::Failed => (crate::layout::LinkState::Stops, "failed"),
                                Outcome::NotTestable => (crate::layout::LinkState::Open, "not testable"),
                            };
                            tr {
                                th scope="row" { (one.id()) }
                                td class="num" { (one.found.map_or_else(|| "–".to_owned(), three_digits)) }
                                td class="num" { (one.limit.map_or_else(|| "–".to_owned(), three_digits)) }
                                td { (sign(state)) " " (word) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn rests_on_it(view: &View, one: &Numbered<CalibrationAct>) -> Markup {
    let all: Vec<&Shown> = view
        .overview
        .results
        .iter()
        .filter(|shown| shown.one.act.calibration == Some(one.record.hash) && shown.one.standing.counts())
        .collect();
    html! {
        section {
            h2 { "What rests on it " span class="n" { (all.len()) } }
            @if all.is_empty() { p class="empty" { "No result that counts was read off it." } } @else { (results_table(&all)) }
        }
    }
}

fn record(one: &Numbered<CalibrationAct>) -> Markup {
    html! {
        section {
            h2 { "On record" }
            dl {
                dt { "Record" } dd { a href=(record_address(one.record.seq)) { "#" (one.record.seq) } " by " span dir="auto" { (one.record.actor) } " at " (moment(&one.record.at_utc)) " UTC with " (one.act.software) }
                @if let Some((_, said)) = &one.standing.approval {
                    dt { "Approver's word" } dd dir="auto" { (one.standing.word()) " by " (said.by) " at " (moment(&said.at_utc)) " UTC: " (said.reason) }
                }
                @if let Some(said) = &one.standing.withdrawn {
                    dt { "Withdrawn" } dd dir="auto" { "by " (said.by) " at " (moment(&said.at_utc)) " UTC: " (said.reason) }
                }
                dt { "Hash of curve and standards" } dd class="hash" { (one.act.result.hash) }
            }
        }
    }
}

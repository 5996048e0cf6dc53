//! Each calibration: curve and residuals, limits, standards read back, acceptance, who approved.

use maud::{Markup, html};
use stillwell_calibrate::{Calibration, Outcome, Role};
use stillwell_method::{CalibrationLink, DetectionClaim, si, three_digits};
use stillwell_quantity::round_up;
use stillwell_study::{CalibrationAct, Numbered};

use super::DossierInput;
use super::setting::{Set, cell, figure, findings, said, table};
use crate::calibration_figure::calibration_figure;
use crate::wording::{approval_by, calibration_words, moment};

pub(super) fn chapter(input: &DossierInput) -> Markup {
    html! {
        @if input.report.calibrations.is_empty() { p { "This series has no standards, and none were borrowed." } }
        @for (place, link) in input.report.calibrations.iter().enumerate() {
            (one(input, place, link))
        }
        (on_record(input))
    }
}

fn one(input: &DossierInput, place: usize, link: &CalibrationLink) -> Markup {
    let record = input.calibrations.get(place).and_then(Option::as_ref);
    let drawn = calibration_figure(&input.input.method, link);
    let caption = "Above: electrode means, curve, confidence and prediction bands. Below: residuals.";
    html! {
        section class="part" {
            h3 dir="auto" { "Calibration of " (link.key.label()) }
            (standing(record))
            (figure(&drawn, &format!("calibration-{place}"), caption))
            @if let Some(claim) = &link.detection { (limits(claim)) }
            @if let Some(made) = &link.calibration { (curve(input, made)) (levels(input, made)) (acceptance(made)) }
            (findings(&link.findings, "What checks found"))
        }
    }
}

fn standing(record: Option<&Numbered<CalibrationAct>>) -> Markup {
    let Some(one) = record else {
        return html! { p { strong class="stamp" { "Not on record" } " The ledger holds no calibration with these constants: results are issued with " code { "stillwell study determine" } "." } };
    };
    let said_of = match (&one.standing.withdrawn, &one.standing.approval) {
        (Some(why), _) => {
            html! { strong class="stamp" { "Withdrawn" } " by " (said(&why.by)) " at " (moment(&why.at_utc)) " UTC: " (said(&why.reason)) }
        }
        (None, Some((word, why))) => {
            html! { strong { (said(&approval_by(*word, why))) } " at " (moment(&why.at_utc)) " UTC: " (said(&why.reason)) }
        }
        (None, None) => html! { strong class="stamp" { "Not approved" } },
    };
    html! {
        p { (said_of) }
        p { "On record as calibration " (one.label) ", #" (one.record.seq) " by " (said(&one.record.actor)) " at " (moment(&one.record.at_utc)) " UTC, computed by " (one.act.software) ". Hash of curve and standards: " code class="hash" { (one.act.result.hash) } }
    }
}

fn limits(claim: &DetectionClaim) -> Markup {
    let row = |name: &str, limit: &stillwell_quantity::Concentration, meaning: &str| {
        vec![cell(name), cell(round_up(limit.value(), 2)), cell(limit.kind().to_string()), cell(meaning)]
    };
    let rows = [
        row("Decision limit", &claim.decision_limit, "above it the analyte is detected"),
        row(
            "Detection limit",
            &claim.detection_limit,
            "an amount of this size is missed with the stated small probability only",
        ),
        row("Limit of quantification", &claim.quantification_limit, "from here on a number is issued"),
    ];
    html! {
        (table("Limits", &[("Limit", Set::Words), ("Value", Set::Numbers), ("Unit", Set::Words), ("Meaning", Set::Words)], &rows))
        p class="soft" { "Basis: " (claim.basis) @for note in &claim.notes { ". " (note) } }
    }
}

fn curve(input: &DossierInput, made: &Calibration) -> Markup {
    let (figures, unit) = (&made.statistics, input.unit());
    let mut rows = vec![(
        "Fitted on".to_owned(),
        format!(
            "{} scans, {} electrode means at {} levels; {} degrees of freedom",
            figures.n_scans, figures.n_points, figures.n_levels, figures.degrees_of_freedom
        ),
    )];
    for ((name, value), error) in
        ["c0", "c1", "c2"].iter().zip(figures.coefficients).zip(figures.standard_errors)
    {
        if error > 0.0 {
            rows.push((
                (*name).to_owned(),
                format!("{value:.4e} ± {error:.1e} (standard error)").replace('-', "−"),
            ));
        }
    }
    rows.push(("Residual standard deviation".to_owned(), si(figures.residual_sd_a, "A")));
    rows.push((
        "Process standard deviation".to_owned(),
        format!(
            "{} {unit}, {:.1} % of the mean level",
            round_up(figures.process_sd, 2),
            figures.process_sd_percent
        ),
    ));
    rows.push((
        "Coefficient of determination".to_owned(),
        format!("{:.5}, never enough by itself", figures.r_squared),
    ));
    let rows: Vec<Vec<Markup>> = rows.iter().map(|(name, words)| vec![cell(name), cell(words)]).collect();
    let caption = format!("The curve: {} on electrode means, level in {unit}", made.settings.model);
    table(&caption, &[("Figure", Set::Words), ("Found", Set::Words)], &rows)
}

fn levels(input: &DossierInput, made: &Calibration) -> Markup {
    let dash = || "–".to_owned();
    let rows: Vec<Vec<Markup>> = made
        .levels
        .iter()
        .map(|level| {
            vec![
                cell(level.level.to_string()),
                cell(level.n_electrodes.to_string()),
                cell(si(level.mean_signal_a, "A").replace('-', "−")),
                cell(level.back_calculated.map_or_else(dash, |read| three_digits(read).replace('-', "−"))),
                cell(level.error_percent.map_or_else(dash, |error| format!("{error:+.1}").replace('-', "−"))),
            ]
        })
        .collect();
    let number = |title| (title, Set::Numbers);
    let unit = input.unit();
    table(
        &format!("Standards read back off the curve; levels in {unit}"),
        &[
            number("Level"),
            number("Electrodes"),
            number("Mean signal"),
            number("Read back"),
            number("Error / %"),
        ],
        &rows,
    )
}

fn acceptance(made: &Calibration) -> Markup {
    let dash = || "–".to_owned();
    let rows: Vec<Vec<Markup>> = made
        .findings
        .iter()
        .filter(|one| one.role == Role::Acceptance)
        .map(|one| {
            let word = match one.outcome {
                Outcome::Passed => "passed",
                Outcome::Failed => "FAILED",
                Outcome::NotTestable => "not testable",
            };
            let number = |value: Option<f64>| cell(value.map_or_else(dash, three_digits));
            vec![cell(one.id()), cell(one.check.looks_at()), number(one.found), number(one.limit), cell(word)]
        })
        .collect();
    html! {
        @if rows.is_empty() { p { "The method states no acceptance criterion for a calibration." } }
        (table("Acceptance", &[("Criterion", Set::Words), ("Looks at", Set::Words), ("Found", Set::Numbers), ("Limit", Set::Numbers), ("Outcome", Set::Words)], &rows))
    }
}

/// Every calibration of the study, with how it stands.
fn on_record(input: &DossierInput) -> Markup {
    let rows: Vec<Vec<Markup>> = input
        .overview
        .calibrations
        .iter()
        .map(|one| {
            vec![
                cell(&one.label),
                cell(calibration_words(one)),
                cell(one.standing.word()),
                cell(moment(&one.record.at_utc)),
            ]
        })
        .collect();
    html! {
        h3 { "Calibrations on record" }
        (table("All calibrations of the study", &[("Calibration", Set::Words), ("What", Set::Words), ("Standing", Set::Words), ("Recorded (UTC)", Set::Words)], &rows))
    }
}

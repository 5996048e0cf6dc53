//! Electrode lots: what is on record of each, and how their calibrations compare.

use maud::{Markup, html};
use stillwell_method::{LotReview, si};
use stillwell_quantity::round_up;
use stillwell_study::Act;

use super::DossierInput;
use super::setting::{Set, cell, figure, said, table, words_table};
use crate::lot_figure::lot_figure;
use crate::quality::{lot_words, lots_answer, lots_table};
use crate::reviewed::reviewed_lots;
use crate::wording::counted;

pub(super) fn chapter(input: &DossierInput) -> Markup {
    html! { (records(input)) (sensitivities(input)) (equivalence(input)) }
}

/// Lots beside the approved calibration, or what is missing for that.
fn equivalence(input: &DossierInput) -> Markup {
    let answer = lots_answer(&input.quality.lots);
    html! {
        h3 { "May other lots be read off the approved calibration?" }
        p { strong { (said(&answer.words)) } " " (answer.next) }
        @if let Ok(review) = &input.quality.lots {
            (words_table(&lots_table(review)))
            @for found in &review.lots {
                p { "Lot " (said(&found.lot)) ":" }
                ul { @for words in lot_words(found, &review.unit) { li { (said(&words)) } } }
            }
            (scatter(review))
            @let drawn = reviewed_lots(review);
            @if !drawn.lots.is_empty() {
                (figure(&lot_figure(&drawn), "lots", "Each strip and each lot's mean with its interval; the margin is what may be missed."))
            }
        }
    }
}

fn scatter(review: &LotReview) -> Markup {
    html! {
        @if let (Some(scans), Some(found)) = (&review.scans, &review.scatter) {
            p { "What strips scatter by at " (scans.level) " " (review.unit) ", " (counted(scans.names.len(), "lot")) " (" (said(&scans.names.join(", "))) "):" }
            ul {
                @match found {
                    Ok(scatter) => { @for words in scatter.words() { li { (said(&words)) } } }
                    Err(error) => { li { "not estimable: " (said(&error.to_string())) } }
                }
            }
        }
    }
}

/// The last signed record of each lot.
fn records(input: &DossierInput) -> Markup {
    let mut lots: Vec<(&str, Vec<Markup>)> = Vec::new();
    for entry in &input.history.entries {
        let Act::Lot(lot) = &entry.act else { continue };
        lots.retain(|(known, _)| *known != lot.lot);
        let stated =
            lot.sensitivity_a_per_unit.map_or_else(|| "–".to_owned(), |s| format!("{} per unit", si(s, "A")));
        let row = vec![
            cell(&lot.lot),
            cell(&lot.identity),
            cell(&lot.last_day),
            cell(&lot.storage),
            cell(stated),
            cell(format!("#{} by {}", entry.record.seq, entry.record.actor)),
        ];
        lots.push((&lot.lot, row));
    }
    let rows: Vec<Vec<Markup>> = lots.into_iter().map(|(_, row)| row).collect();
    let words = |title| (title, Set::Words);
    html! {
        @if rows.is_empty() { p { "No lot is on record. Past its last day a lot would give no verdict; without a record nobody can tell." } }
        (table("Lots on record, signed", &[words("Lot"), words("What it is"), words("Last day"), words("Storage"), words("Stated sensitivity"), words("Record")], &rows))
    }
}

fn sensitivities(input: &DossierInput) -> Markup {
    let unit = input.unit();
    let rows: Vec<Vec<Markup>> = input
        .report
        .calibrations
        .iter()
        .filter_map(|link| {
            let made = link.calibration.as_ref()?;
            let n_samples =
                input.report.determinations.iter().filter(|found| found.lot == link.key.lot).count();
            let limit = link
                .detection
                .as_ref()
                .map_or_else(|| "–".to_owned(), |claim| round_up(claim.detection_limit.value(), 2));
            Some(vec![
                cell(link.key.label()),
                cell(si(made.statistics.sensitivity_a_per_level.abs(), "A")),
                cell(format!(
                    "{} electrodes; residual standard deviation {}",
                    made.components.n_electrodes,
                    si(made.statistics.residual_sd_a, "A")
                )),
                cell(limit),
                cell(n_samples.to_string()),
            ])
        })
        .collect();
    let number = |title| (title, Set::Numbers);
    html! {
        (table(
            &format!("What the lots' calibrations show; levels in {unit}"),
            &[("Calibration", Set::Words), number("Sensitivity per unit"), ("Spread", Set::Words), number("Detection limit"), number("Samples read off it")],
            &rows,
        ))
        @if rows.len() > 1 { p { "Each lot stands on its own standards; that two lots read alike is shown only by the test of equivalence below." } }
    }
}

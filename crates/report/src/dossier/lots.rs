//! Electrode lots: what is on record of each, and how their calibrations compare.

use maud::{Markup, html};
use stillwell_method::si;
use stillwell_quantity::round_up;
use stillwell_study::Act;

use super::DossierInput;
use super::setting::{Set, cell, table};

pub(super) fn chapter(input: &DossierInput) -> Markup {
    html! { (records(input)) (sensitivities(input)) }
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
        @if rows.len() > 1 { p { "Each lot stands on its own standards; that two lots read alike is shown only by a test of equivalence." } }
    }
}

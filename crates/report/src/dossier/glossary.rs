//! Terms as the trade uses them, and every check that this dossier names.

use std::collections::BTreeSet;

use maud::{Markup, html};
use stillwell_method::Check;

use super::DossierInput;
use super::setting::list;

/// Terms, each in one sentence.
const TERMS: [(&str, &str); 16] = [
    ("Blank", "a scan of the electrolyte without analyte, subtracted from the others."),
    ("Baseline", "the line or curve under the peak, from which its height is measured."),
    ("Batch", "what was measured together and is released together."),
    ("Budget", "the parts of an uncertainty, with the share of each."),
    ("Calibration", "the curve from signal to concentration, made of standards and frozen."),
    (
        "Check standard",
        "a known solution measured like a sample, to see whether the calibration still holds.",
    ),
    ("Control chart", "known solutions over time, with limits from a training period."),
    ("Determination", "the concentration of a sample with its uncertainty, or why there is none."),
    ("Ledger", "the history of a study, to which records are only ever added."),
    ("Lot", "electrodes made together."),
    ("Refused", "a check stopped the chain: no number is issued."),
    ("Run sheet", "the table that says which scan is what."),
    ("Scan", "one recording of current against potential."),
    ("Series", "a run sheet with its raw files, evaluated together."),
    ("Verdict", "what may be said against a limit: below, above, or too close to call."),
    ("Withheld", "the number stands, but something forbids a verdict from it."),
];

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let named = named(input);
    html! {
        h3 { "Terms" }
        (list(&TERMS))
        h3 { "Checks named in this dossier" }
        @if named.is_empty() { p { "None: no check failed." } }
        @for check in Check::ALL.into_iter().filter(|check| named.contains(check)) {
            section class="check-words" id={ "check-" (check.id()) } {
                h4 { (check.id()) }
                (list(&[("Looks at", check.text().looks_at), ("Why it matters", check.text().why), ("What to do", check.text().remedy)]))
            }
        }
    }
}

fn named(input: &DossierInput) -> BTreeSet<Check> {
    let report = &input.report;
    let of_chain = report
        .scans
        .iter()
        .flat_map(|scan| &scan.findings)
        .chain(report.calibrations.iter().flat_map(|link| &link.findings))
        .chain(&report.batch_findings)
        .map(|finding| finding.check);
    let of_results = input.results().flat_map(|shown| &shown.one.act.result.findings);
    of_chain.chain(of_results.filter_map(|finding| Check::of_id(&finding.check))).collect()
}

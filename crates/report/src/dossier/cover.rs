//! The cover: what is measured, by which revision, and the head of the ledger with how to check it.

use maud::{Markup, html};

use super::DossierInput;
use super::setting::{list, said};
use crate::wording::{counted, moment};

pub(super) fn cover(input: &DossierInput) -> Markup {
    let method = &input.input.method;
    let anchor = &input.history.anchor;
    html! {
        p class="kind" { "Dossier of a method and its results" }
        h1 dir="auto" { (method.name) }
        p class="lead" { "Measures " (said(&method.analyte.name)) ", reported as " (method.analyte.reported_as)
            ", with " (said(&method.electrode.material)) " electrodes, " (method.technique.kind.word().replace('-', " ")) "." }
        (stamp(input))
        (list(&[
            ("Revision", said(&method.revision)),
            ("Hash of the revision", hash(&method.hash.to_string())),
            ("Study", html! { (said(&study_name(input))) ", file " (said(&input.study_file)) }),
            ("Series", html! { (input.series.label) ", " (said(&input.series.act.name)) ": " (counted(input.series.act.files.len(), "raw file")) ", " (counted(input.series.act.n_scans, "scan")) }),
            ("As of", html! { (moment(input.as_of())) " UTC, the time of the newest record; the ledger knows no other date" }),
            ("Newest record", html! { "#" (anchor.seq) }),
            ("Head of the ledger", hash(&anchor.head.to_string())),
            ("Ledger", hash(&anchor.chain.to_string())),
        ]))
        section class="check" aria-labelledby="how-to-check" {
            h2 id="how-to-check" { "How to check it" }
            p { "Whoever holds the study's file can show that it still contains every record this document rests on, unchanged:" }
            pre { code { "stillwell study verify " (said(&input.study_file)) " --anchor " (anchor.head) } }
            p { "Keep this page where the owner of the file cannot change it. A result is computed again from its raw scans with "
                code { "--recompute N" } ", N being its number in the chapter on samples." }
        }
        p class="for" { "For assessors, approvers and whoever acts on the numbers. It can be read without Stillwell; what a word or a check means stands in the last chapter." }
    }
}

/// Whether everything that counts is approved; said on the first page, where it is not.
fn stamp(input: &DossierInput) -> Markup {
    let n = input.counting().count();
    let n_gone = input.no_longer_counting().len();
    let n_open = input.counting().filter(|shown| !shown.one.standing.is_approved()).count();
    let of_curves = input.calibrations.iter();
    let n_curves =
        of_curves.filter(|one| !one.as_ref().is_some_and(|one| one.standing.is_approved())).count();
    html! {
        @if n == 0 { p { strong class="stamp" { "No result issued" } } }
        @if n_open + n_curves > 0 {
            p { strong class="stamp" { "Not approved" } " "
                (counted(n_open, "result")) " of " (n) " and " (counted(n_curves, "calibration")) " of " (input.calibrations.len())
                " carry no approver's signature." }
        } @else if n > 0 {
            p { strong class="stamp holds" { "Approved" } " Every result and calibration that counts carries an approver's signature." }
        }
        @if n_gone > 0 {
            p { strong class="stamp" { "Unknown" } " " (counted(n_gone, "result"))
                " of this series no longer counts, and nothing took the place: treat that water as unknown." }
        }
    }
}

fn study_name(input: &DossierInput) -> String {
    let own = input.history.entries.iter().find(|entry| entry.record.hash == input.history.anchor.chain);
    own.map_or_else(String::new, |entry| entry.record.subject.clone())
}

fn hash(hash: &str) -> Markup {
    html! { code class="hash" { (hash) } }
}

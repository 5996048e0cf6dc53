//! The scans: which came in, how each file was understood, what the checks refused.

use std::collections::BTreeMap;

use maud::{Markup, html};
use stillwell_method::{Check, Effect, ScanLink, curves};

use super::DossierInput;
use super::setting::{Set, cell, check, figure, said, table};
use crate::scan_figure::scan_figure;
use crate::wording::counted;

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let scans = &input.report.scans;
    html! {
        p { "Raw files are kept whole in the study, and every one is known by the hash of its bytes. What a check refuses has no signal; nothing is mended." }
        (by_role(scans))
        (examples(input))
        (refusals(scans))
        (left_out(scans))
        (files(scans))
    }
}

fn by_role(scans: &[ScanLink]) -> Markup {
    let mut roles: Vec<(&'static str, [usize; 4])> = Vec::new();
    for scan in scans {
        let word = scan.row.role.word();
        if !roles.iter().any(|(known, _)| *known == word) {
            roles.push((word, [0; 4]));
        }
        let Some((_, counts)) = roles.iter_mut().find(|(known, _)| *known == word) else { continue };
        let is = [true, !scan.counts(), scan.counts() && scan.is_refused(), scan.signal.is_some()];
        for (count, is) in counts.iter_mut().zip(is) {
            *count += usize::from(is);
        }
    }
    let rows: Vec<Vec<Markup>> = roles
        .iter()
        .map(|(word, counts)| {
            std::iter::once(cell(word)).chain(counts.map(|n| cell(n.to_string()))).collect()
        })
        .collect();
    let number = |title| (title, Set::Numbers);
    table(
        "Scans by what they are of (numbers of scans)",
        &[
            ("Role", Set::Words),
            number("Scans"),
            number("Left out"),
            number("Refused"),
            number("With a signal"),
        ],
        &rows,
    )
}

/// A sample's scan that gave a signal, and one that was refused.
fn examples(input: &DossierInput) -> Markup {
    let of_sample = |scan: &ScanLink| !scan.row.sample.is_empty() && scan.counts();
    let scans = input.report.scans.iter().enumerate();
    let good = scans.clone().find(|(_, scan)| of_sample(scan) && scan.signal.is_some());
    let refused = scans.clone().find(|(_, scan)| of_sample(scan) && scan.is_refused());
    html! {
        div class="pair" {
            @for (name, place) in [("a scan that gave a signal", good), ("a scan that was refused", refused)] {
                @if let Some((place, scan)) = place {
                    @if let Some(curves) = curves(&input.input, &input.report, place) {
                        (figure(&scan_figure(&input.input.method, &curves), &format!("scan-{place}"), &format!("{}: {name}.", scan.raw.label())))
                    }
                }
            }
        }
    }
}

fn refusals(scans: &[ScanLink]) -> Markup {
    let mut by_check: BTreeMap<Check, (usize, &str, &str)> = BTreeMap::new();
    for finding in scans.iter().filter(|scan| scan.counts()).flat_map(|scan| &scan.findings) {
        if finding.is_in_force(Effect::Refused) {
            let entry = by_check.entry(finding.check).or_insert((0, &finding.subject, &finding.found));
            entry.0 += 1;
        }
    }
    let rows: Vec<Vec<Markup>> = by_check
        .iter()
        .map(|(which, (n, subject, found))| {
            vec![
                check(*which),
                cell(n.to_string()),
                html! { (said(subject)) ": " (said(found)) },
                cell(which.text().remedy),
            ]
        })
        .collect();
    let words = |title| (title, Set::Words);
    html! {
        @if rows.is_empty() { p { "No check refused a scan that counts." } }
        (table("Refusals by check", &[words("Check"), ("Times", Set::Numbers), words("The first of them"), words("What to do")], &rows))
    }
}

fn left_out(scans: &[ScanLink]) -> Markup {
    let out = scans.iter().filter_map(|scan| Some((scan, scan.row.exclude.as_ref()?)));
    let rows: Vec<Vec<Markup>> = out.map(|(scan, why)| vec![cell(scan.raw.label()), cell(why)]).collect();
    html! {
        @if rows.is_empty() { p { "No scan was left out." } }
        (table("Scans left out, with the reason given", &[("Scan", Set::Words), ("Reason", Set::Words)], &rows))
    }
}

fn files(scans: &[ScanLink]) -> Markup {
    let mut files: Vec<(&ScanLink, usize)> = Vec::new();
    for scan in scans {
        match files.iter_mut().find(|(known, _)| known.raw.file == scan.raw.file) {
            Some((_, n)) => *n += 1,
            None => files.push((scan, 1)),
        }
    }
    let rows: Vec<Vec<Markup>> = files
        .iter()
        .map(|(scan, n)| {
            vec![
                said(&scan.raw.file),
                cell(n.to_string()),
                said(&scan.raw.reading),
                html! { code class="hash" { (scan.raw.hash) } },
            ]
        })
        .collect();
    let words = |title| (title, Set::Words);
    html! {
        h3 { "How " (counted(files.len(), "raw file")) " were understood" }
        (table("Raw files", &[words("File"), ("Scans", Set::Numbers), words("Understood as"), words("BLAKE3 of its bytes")], &rows))
    }
}

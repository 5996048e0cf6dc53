//! An extract of the ledger: who approved, corrected, left out, withdrew, and why.

use maud::{Markup, html};
use stillwell_study::{Act, HistoryEntry};

use super::DossierInput;
use super::setting::{Set, cell, table};
use crate::wording::{moment, record_words};

/// Title, what is said where there is none, and which acts belong to it.
type Group = (&'static str, &'static str, fn(&Act) -> bool);

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let groups: [Group; 4] = [
        ("Approvals and keys", "No approver has said anything.", |act| {
            matches!(act, Act::Approval(_) | Act::Key(_) | Act::Lot(_))
        }),
        ("Corrections: scans left out, checks overridden, acts undone", "Nothing was corrected.", |act| {
            matches!(act, Act::Exclusion(_) | Act::Override(_) | Act::Undo(_))
                || matches!(act, Act::Determination(act) if act.replaces.is_some())
        }),
        ("Withdrawals and ends of validity", "Nothing was withdrawn or ended.", |act| {
            matches!(act, Act::Withdrawal(_) | Act::Validity(_) | Act::Trigger(_))
        }),
        ("Foundation: study, methods, series, laboratories' results, other ledgers", "", |act| {
            let is_of_study = matches!(act, Act::Founding(_) | Act::Revision(_) | Act::Merge(_));
            is_of_study || matches!(act, Act::Series(_) | Act::Laboratory(_))
        }),
    ];
    html! {
        p { "An extract: issued results and calibrations stand in their own chapters. All " (input.history.entries.len()) " records are printed by " code { "stillwell study history" } ". Times are UTC." }
        @for (title, otherwise, is_of) in groups {
            @let rows: Vec<Vec<Markup>> = input.history.entries.iter().filter(|entry| is_of(&entry.act)).map(|entry| row(input, entry)).collect();
            @if rows.is_empty() { p { (otherwise) } }
            (table(title, &[("Record", Set::Words), ("When", Set::Words), ("Who", Set::Words), ("What", Set::Words), ("Why", Set::Words), ("Hash", Set::Words)], &rows))
        }
    }
}

fn row(input: &DossierInput, entry: &HistoryEntry) -> Vec<Markup> {
    let record = &entry.record;
    let place = if entry.is_foreign {
        format!("{} #{}", record.chain.short(), record.seq)
    } else {
        format!("#{}", record.seq)
    };
    let mut when = moment(&record.at_utc);
    if record.clock_was_set_back() {
        when = format!("{when} (the clock said {})", moment(&record.clock_utc));
    }
    vec![
        cell(place),
        cell(when),
        cell(&record.actor),
        cell(record_words(&input.history, entry)),
        cell(&record.reason),
        html! { code { (record.hash.short()) } },
    ]
}

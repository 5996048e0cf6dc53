//! What verification found, what that shows, and what it does not.

use std::path::Path;

use stillwell_study::{Damage, Verification};

use super::super::numbers::counted;
use super::{head, wrapped};

/// Damages that are listed one by one.
const MOST: usize = 20;

const OTHER_VERSION: &str = concat!(
    "computed by stillwell ",
    env!("CARGO_PKG_VERSION"),
    "; where another version issued it, the changelog says which numbers changed and why"
);

const SHOWS: &str = "every record is the one that the next was made from, and every text, scan and signature is the one that \
                     its record names; nothing between the first record and the last was changed, taken out or put in";
const SHOWS_NOT: &str = "that nothing was cut off at the end, or the whole written anew; only a head of the ledger that was kept \
                         where the file's owner cannot change it shows that (--anchor); nor that what was recorded is true";
const SHOWS_NOT_AFTER: &str =
    "that nothing was cut off after that record; nor that what was recorded is true";

pub(crate) fn text(found: &Verification, path: &Path) -> String {
    let mut text = String::new();
    if found.is_sound() {
        line!(text, "{}: nothing was changed", path.display());
    } else if found.is_only_of_other_numbers() {
        let words = "ledger and content are as they were recorded; some results are of a version that made other numbers";
        line!(text, "{}", wrapped(&format!("{}: ", path.display()), words));
    } else {
        text.push_str(&first(found, path));
    }
    line!(
        text,
        "looked at: {} in {}, {}, {}",
        counted(found.n_records, "record"),
        counted(found.n_ledgers, "ledger"),
        counted(found.n_texts, "text"),
        counted(found.n_scans, "scan")
    );
    for one in &found.recomputed {
        match &one.difference {
            None => line!(
                text,
                "computed again from the raw text, the same to the last bit: {} ({})",
                one.sample,
                one.record.short()
            ),
            Some(difference) if one.is_of_other_numbers => {
                let words = format!("{} ({}): {difference}", one.sample, one.record.short());
                line!(text, "{}", wrapped("computed again, other numbers: ", &words));
            }
            Some(difference) => {
                let words = format!("{} ({}): {difference}", one.sample, one.record.short());
                line!(text, "{}", wrapped("computed again, NOT THE SAME: ", &words));
                line!(text, "{}", wrapped("  ", OTHER_VERSION));
            }
        }
    }
    if found.is_sound() {
        text.push_str(&meaning(found));
    } else if found.is_only_of_other_numbers() {
        let cure = "compute these again with the version that issued them; what they were is on record as it was issued";
        line!(text, "\n{}", wrapped("do: ", cure));
    } else {
        let cure =
            "restore the file from a copy that verifies, and keep this one: it shows what was done to it";
        line!(text, "\n{}", wrapped("do: ", cure));
    }
    if let Some(anchor) = &found.head {
        text.push_str(&head(anchor));
    }
    text
}

fn meaning(found: &Verification) -> String {
    let mut text = format!("\n{}\n", wrapped("this shows: ", SHOWS));
    if let Some(seq) = found.anchored_at {
        let words = format!("the ledger up to record #{seq} is the one whose head was written down");
        line!(text, "{}", wrapped("and by the anchor: ", &words));
        line!(text, "{}", wrapped("this does not show: ", SHOWS_NOT_AFTER));
    } else {
        line!(text, "{}", wrapped("this does not show: ", SHOWS_NOT));
    }
    text
}

/// The first record that is not what was recorded, and everything else that was found.
fn first(found: &Verification, path: &Path) -> String {
    let mut text = String::new();
    let named = found.damages.iter().find_map(|damage| damage.record.as_ref());
    match named {
        Some(record) => {
            let whose = if record.is_foreign {
                format!(" of the ledger {}", record.chain.short())
            } else {
                String::new()
            };
            line!(
                text,
                "{}: CHANGED; the first record that is, or rests on what is: #{} ({}){whose}",
                path.display(),
                record.seq,
                record.kind
            );
        }
        None if found.damages.is_empty() => {
            line!(text, "{}: a result does NOT COME OUT AGAIN", path.display());
        }
        None => line!(text, "{}: CHANGED; no single record can be named", path.display()),
    }
    for damage in found.damages.iter().take(MOST) {
        line!(text, "{}", wrapped("  ", &one(damage)));
    }
    if found.damages.len() > MOST {
        line!(text, "  … and {} more", found.damages.len() - MOST);
    }
    text
}

fn one(damage: &Damage) -> String {
    match &damage.record {
        Some(record) => format!("#{} ({}): {}", record.seq, record.kind, damage.what),
        None => damage.what.clone(),
    }
}

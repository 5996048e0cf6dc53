//! What the ledger proves, and what it does not.

use maud::{Markup, html};
use stillwell_study::{CLAIMS, LIMITS};

use super::setting::{Set, cell, table};

pub(super) fn chapter() -> Markup {
    let rows: Vec<Vec<Markup>> = CLAIMS.iter().map(|claim| claim.map(cell).to_vec()).collect();
    let words = |title| (title, Set::Words);
    html! {
        p { "Each record of the ledger holds the hash of the record before; raw files, run sheets and methods are named by their hashes." }
        (table("Claims", &[words("Claim"), words("How it is shown"), words("What it does not show")], &rows))
        ul { @for limit in LIMITS { li { (limit) } } }
    }
}

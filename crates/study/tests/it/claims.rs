//! What is said of the ledger in a document is what the source says of it.

use stillwell_study::{CLAIMS, LIMITS};

#[test]
fn the_claims_are_those_of_the_page_beside_the_source() {
    let page = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/limits.md")).unwrap();
    let plain = page.replace(['*', '`'], "").replace("| – |", "| nothing more |");
    let words = plain.split_whitespace().collect::<Vec<_>>().join(" ");
    for claim in CLAIMS {
        assert!(words.contains(&format!("| {} |", claim.join(" | "))), "{claim:?}");
    }
    for limit in LIMITS {
        assert!(words.contains(&format!("- {limit}")), "{limit}");
    }
    let n_rows = page.lines().filter(|line| line.starts_with('|')).count() - 2;
    let n_points = page.lines().filter(|line| line.starts_with("- ")).count();
    assert_eq!((CLAIMS.len(), LIMITS.len()), (n_rows, n_points));
}

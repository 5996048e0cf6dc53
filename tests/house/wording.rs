//! Words that no text of ours may hold: what was measured is one substance, never the water's safety.

use crate::repository;
use crate::source::{Source, sources};

const BANNED: [&str; 9] = [
    "safe to drink",
    "safe for drinking",
    "safe to use",
    "is safe",
    "fit to drink",
    "fit for drinking",
    "drinkable",
    "potable",
    "harmless",
];

fn banned_words(place: &str, text: &str) -> Vec<String> {
    let lower = text.to_lowercase();
    BANNED
        .iter()
        .filter(|words| lower.contains(**words))
        .map(|words| format!("{place}: \"{words}\""))
        .collect()
}

fn in_literals(source: &Source) -> Vec<String> {
    let literals = source.product_literals();
    literals
        .iter()
        .flat_map(|(number, words)| banned_words(&format!("{}:{number}", source.path), words))
        .collect()
}

#[test]
fn no_text_a_user_sees_promises_safety() {
    let mut findings: Vec<String> = sources().iter().flat_map(in_literals).collect();
    let read = ["examples", "cases", "checks"].map(|folder| repository::files(folder, "")).concat();
    let front_pages = repository::files("", "README.md");
    for path in read.iter().chain(&front_pages) {
        // A scan file need not be UTF-8; it holds no prose of ours beyond its ASCII letters.
        let bytes = std::fs::read(stillwell_house::repository().join(path)).unwrap();
        findings.extend(banned_words(path, &String::from_utf8_lossy(&bytes)));
    }
    repository::expect_none(&findings);
}

#[test]
fn planted_promises_are_found() {
    let n = |text: &str| in_literals(&Source::new("crates/assure/src/a.rs", text)).len();
    assert_eq!(n("let words = \"This water: Safe to Drink\";"), 1);
    assert_eq!(
        n("// never \"safe to drink\"\nlet words = \"nitrate below 50 mg/L (other hazards not tested)\";"),
        0
    );
}

//! Every check value stands beside its source and says how it came here.

use toml_edit::{DocumentMut, Item, Table};

use crate::repository;

/// How a value may have come here.
const PROVENANCE: [&str; 5] = ["published", "read", "recomputed", "memory", "common practice"];

/// Entries of all arrays of tables, named by their `id`, `name` or place.
fn entries(document: &DocumentMut) -> Vec<(String, &Table)> {
    let mut found = Vec::new();
    for (key, item) in document.as_table() {
        if let Item::ArrayOfTables(tables) = item {
            for (index, table) in tables.iter().enumerate() {
                let name = table.get("id").or_else(|| table.get("name")).and_then(Item::as_str);
                found.push((
                    name.map_or_else(|| format!("{key} {}", index + 1), |name| format!("{key} {name}")),
                    table,
                ));
            }
        }
    }
    found
}

/// Entries without a source, without a known provenance, or with one that points at nothing a reader can look up.
fn unsourced(path: &str, text: &str) -> Vec<String> {
    let document: DocumentMut = match text.parse() {
        Ok(document) => document,
        Err(error) => return vec![format!("{path}: {error}")],
    };
    let entries = entries(&document);
    if entries.is_empty() {
        return vec![format!("{path}: no entries")];
    }
    let mut findings = Vec::new();
    for (name, entry) in entries {
        let stated = |key: &str| {
            let item = entry.get(key).or_else(|| document.get(key));
            item.and_then(Item::as_str).map(str::trim).filter(|words| words.len() > 3)
        };
        if stated("source").is_none() {
            findings.push(format!("{path}: {name}: no `source`"));
        }
        let is_known =
            stated("provenance").is_some_and(|words| PROVENANCE.iter().any(|known| words.contains(known)));
        if !is_known {
            findings.push(format!("{path}: {name}: `provenance` names none of {}", PROVENANCE.join(", ")));
        }
        if entry.contains_key("where") {
            findings.push(format!("{path}: {name}: `where` belongs to the notes of whoever read it"));
        }
    }
    findings
}

#[test]
fn every_check_value_has_source_and_provenance() {
    let files = repository::files("checks", ".toml");
    assert!(!files.is_empty(), "no check values");
    let findings: Vec<String> =
        files.iter().flat_map(|path| unsourced(path, &repository::text(path))).collect();
    repository::expect_none(&findings);
}

#[test]
fn planted_entries_are_found() {
    let n = |text: &str| unsourced("checks/a.toml", text).len();
    assert_eq!(n("[[case]]\nsource = \"ISO 11843-2, 5.3\"\nprovenance = \"recomputed\"\nvalue = 1"), 0);
    assert_eq!(n("source = \"ISO 11843-2\"\nprovenance = \"published, recomputed\"\n[[case]]\nvalue = 1"), 0);
    assert_eq!(n("[[case]]\nsource = \"ISO 11843-2, 5.3\"\nvalue = 1"), 1);
    assert_eq!(n("[[case]]\nprovenance = \"from memory\"\nvalue = 1"), 1);
    assert_eq!(n("[[case]]\nsource = \"ISO 11843-2\"\nprovenance = \"somewhere\""), 1);
    assert_eq!(n("[[case]]\nsource = \"ISO 11843-2\"\nprovenance = \"read\"\nwhere = \"x\""), 1);
    assert_eq!(n("topic = \"empty\""), 1);
    assert_eq!(n("[[case]\n"), 1);
}

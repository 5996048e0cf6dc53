//! Every check value stands beside its source and says how it came here.

use toml_edit::{DocumentMut, Item, Table};

use crate::repository;

/// How a value may have come here.
const PROVENANCE: [&str; 5] = ["published", "read", "recomputed", "memory", "common practice"];

/// The keys under which a file may say so.
const MARKS: [&str; 2] = ["provenance", "mark"];

/// The file's tables, one by one or in arrays, named by their key and their `id` or `name`.
fn entries(document: &DocumentMut) -> Vec<(String, &Table)> {
    let mut found = Vec::new();
    for (key, item) in document.as_table() {
        match item {
            Item::Table(table) => found.push((key.to_owned(), table)),
            Item::ArrayOfTables(tables) => {
                found.extend(
                    tables.iter().enumerate().map(|(index, table)| (entry_name(key, index, table), table)),
                );
            }
            _ => {}
        }
    }
    found
}

fn entry_name(key: &str, index: usize, table: &Table) -> String {
    let name = table.get("id").or_else(|| table.get("name")).and_then(Item::as_str);
    name.map_or_else(|| format!("{key} {}", index + 1), |name| format!("{key} \"{name}\""))
}

fn is_known(provenance: &str) -> bool {
    PROVENANCE.iter().any(|known| provenance.contains(known))
}

/// An entry may hold a list of values, each a small table with a mark of its own.
fn is_marked_value_by_value(entry: &Table) -> bool {
    let lists = entry.iter().filter_map(|(_, item)| item.as_array());
    let values: Vec<_> =
        lists.flat_map(|list| list.iter().filter_map(|value| value.as_inline_table())).collect();
    let has_mark = |value: &toml_edit::InlineTable| {
        MARKS.iter().any(|key| value.get(key).and_then(|mark| mark.as_str()).is_some_and(is_known))
    };
    !values.is_empty() && values.into_iter().all(has_mark)
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
        let stated = |keys: [&str; 2]| {
            let own = keys.iter().find_map(|key| entry.get(key));
            let item = own.or_else(|| keys.iter().find_map(|key| document.get(key)));
            item.and_then(Item::as_str).map(str::trim).filter(|words| words.len() > 3)
        };
        if stated(["source", "data_source"]).is_none() {
            findings.push(format!("{path}: {name}: no `source`"));
        }
        let is_marked = stated(MARKS).is_some_and(is_known);
        if !is_marked && !is_marked_value_by_value(entry) {
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
    assert_eq!(n("[case]\nsource = \"ISO 11843-2\"\nmark = \"read\"\n[other]\nvalue = 1"), 2);
    assert_eq!(n("[[case]]\nprovenance = \"from memory\"\nvalue = 1"), 1);
    assert_eq!(n("[[case]]\nsource = \"ISO 11843-2\"\nprovenance = \"somewhere\""), 1);
    assert_eq!(n("[[case]]\nsource = \"ISO 11843-2\"\nprovenance = \"read\"\nwhere = \"x\""), 1);
    let listed = |second: &str| {
        n(&format!("[[case]]\nsource = \"ISO 11843-2\"\nfound = [{{ mark = \"read\" }}, {second}]"))
    };
    assert_eq!([listed("{ mark = \"recomputed\" }"), listed("{ value = 1 }")], [0, 1]);
    assert_eq!(n("topic = \"empty\""), 1);
    assert_eq!(n("[[case]\n"), 1);
}

//! Which room may use which: the table in `ARCHITECTURE.md` against every `Cargo.toml`.

use std::collections::BTreeMap;

use toml_edit::DocumentMut;

use crate::repository;

/// Packages that belong to one kind of room, and the rooms that may name them.
const RESERVED: [(&str, &[&str]); 13] = [
    ("axum", &["web"]),
    ("tower-http", &["web"]),
    ("rust-embed", &["web"]),
    ("utoipa", &["web"]),
    ("tokio", &["web", "cli"]),
    ("maud", &["report", "web"]),
    ("rusqlite", &["study"]),
    ("clap", &["cli"]),
    ("clap_complete", &["cli"]),
    ("clap_mangen", &["cli"]),
    ("miette", &["cli"]),
    ("comfy-table", &["cli"]),
    ("pyo3", &["python"]),
];

/// Room to the rooms that it may use.
type Edges = BTreeMap<String, Vec<String>>;

/// Reads the table whose header has the columns `room` and `may use`.
///
/// "all above" stands for the rows before, "everything" for every row; a dash or words that are no room ("core and
/// one √") stand for nothing.
fn edges_from_table(markdown: &str) -> Edges {
    let rows: Vec<Vec<String>> = markdown.lines().map(cells).collect();
    let column = |row: &[String], name: &str| row.iter().position(|cell| cell == name);
    let header =
        rows.iter().position(|row| column(row, "room").is_some() && column(row, "may use").is_some());
    let Some(header) = header else { return Edges::new() };
    let room = column(&rows[header], "room").unwrap();
    let may_use = column(&rows[header], "may use").unwrap();
    let body = rows[header + 2..].iter().take_while(|row| row.len() > may_use.max(room));
    let body: Vec<(String, String)> = body.map(|row| (row[room].clone(), row[may_use].clone())).collect();
    let names: Vec<&str> = body.iter().map(|(name, _)| name.as_str()).collect();
    let allowed = |index: usize, words: &str| -> Vec<String> {
        let named: Vec<&str> = match words {
            "all above" => names[..index].to_vec(),
            "everything" => names.clone(),
            _ => words.split(',').map(str::trim).filter(|word| names.contains(word)).collect(),
        };
        named.into_iter().map(str::to_owned).collect()
    };
    body.iter().enumerate().map(|(index, (name, words))| (name.clone(), allowed(index, words))).collect()
}

fn cells(line: &str) -> Vec<String> {
    let Some(inner) = line.trim().strip_prefix('|').and_then(|rest| rest.strip_suffix('|')) else {
        return Vec::new();
    };
    inner.split('|').map(|cell| cell.replace('`', "").trim().to_owned()).collect()
}

/// Names of the packages in all tables of a manifest whose name is or ends in `kind`.
fn dependencies(manifest: &str, kind: &str) -> Vec<String> {
    let document: DocumentMut = manifest.parse().unwrap();
    let mut tables = vec![document.as_table().get(kind)];
    if let Some(targets) = document.get("target").and_then(|item| item.as_table_like()) {
        tables.extend(targets.iter().map(|(_, target)| target.get(kind)));
    }
    let tables = tables.into_iter().flatten().filter_map(|item| item.as_table_like());
    tables.flat_map(|table| table.iter().map(|(name, _)| name.to_owned()).collect::<Vec<_>>()).collect()
}

/// What a room's manifest names although the table does not let it.
fn misplaced(room: &str, manifest: &str, edges: &Edges) -> Vec<String> {
    let Some(allowed) = edges.get(room) else {
        return vec![format!("{room}: has no row in the table of rooms")];
    };
    let mut used = dependencies(manifest, "dependencies");
    used.extend(dependencies(manifest, "build-dependencies"));
    // The twin must not know the answer's path, not even in its tests.
    if room == "twin" {
        used.extend(dependencies(manifest, "dev-dependencies"));
    }
    let mut findings = Vec::new();
    for package in used {
        if let Some(other) = package.strip_prefix("stillwell-") {
            if other != "house" && !allowed.iter().any(|name| name == other) {
                findings.push(format!("{room}: uses {other}, which the table does not allow"));
            }
        } else if let Some((_, rooms)) = RESERVED.iter().find(|(name, _)| *name == package) {
            if !rooms.contains(&room) {
                findings.push(format!("{room}: uses {package}, which belongs to {}", rooms.join(", ")));
            }
        } else if room == "evaluate" && package != "libm" {
            findings.push(format!("{room}: uses {package}; the kernel has nothing but libm's square root"));
        }
    }
    findings
}

fn product_edges() -> Edges {
    let edges = edges_from_table(&repository::text("ARCHITECTURE.md"));
    assert!(edges.len() >= 9, "ARCHITECTURE.md: no table with the columns `room` and `may use`");
    edges
}

#[test]
fn rooms_use_only_what_the_table_allows() {
    let edges = product_edges();
    let findings: Vec<String> = repository::rooms()
        .iter()
        .flat_map(|room| misplaced(room, &repository::text(&format!("crates/{room}/Cargo.toml")), &edges))
        .collect();
    repository::expect_none(&findings);
}

#[test]
fn the_kernel_stands_alone() {
    let manifest = repository::text("crates/evaluate/Cargo.toml");
    assert_eq!(dependencies(&manifest, "dependencies"), ["libm"]);
    assert!(repository::text("crates/evaluate/src/lib.rs").contains("#![no_std]"));
}

#[test]
fn table_is_read_with_its_shorthands() {
    let table = "| room | may use | never |\n| --- | --- | --- |\n| `a` | – | files |\n| b | core and one √ | |\n\
                 | c | `a`, b | x |\n| d | all above | y |\n| e | everything | z |\n\nafter";
    let edges = edges_from_table(table);
    let of = |room: &str| edges[room].join(" ");
    assert_eq!(edges.len(), 5);
    assert_eq!([of("a"), of("b"), of("c"), of("d"), of("e")], ["", "", "a b", "a b c", "a b c d e"]);
}

#[test]
fn planted_edges_are_found() {
    let edges = edges_from_table(
        "| room | may use |\n|---|---|\n| scan | – |\n| evaluate | core |\n| twin | scan |\n| method | all above |",
    );
    let in_dependencies = |line: &str| format!("[dependencies]\n{line}\n");
    let n = |room: &str, manifest: &str| misplaced(room, manifest, &edges).len();
    assert_eq!(n("method", &in_dependencies("stillwell-scan.workspace = true")), 0);
    assert_eq!(n("scan", &in_dependencies("stillwell-method = { path = \"../method\" }")), 1);
    assert_eq!(n("scan", "[target.'cfg(unix)'.dependencies]\nstillwell-method = \"1\""), 1);
    assert_eq!(n("scan", "[build-dependencies]\nstillwell-method = \"1\""), 1);
    assert_eq!(n("scan", "[dev-dependencies]\nstillwell-method = \"1\""), 0);
    assert_eq!(n("twin", "[dev-dependencies]\nstillwell-evaluate = \"1\""), 1);
    assert_eq!(n("method", &in_dependencies("clap = \"4\"\nrusqlite = \"1\"")), 2);
    assert_eq!(n("evaluate", &in_dependencies("libm = \"0.2\"\nserde = \"1\"")), 1);
    assert_eq!(n("elsewhere", ""), 1);
}

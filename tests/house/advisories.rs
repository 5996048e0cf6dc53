//! Known advisories: the list in `advisories.toml` against the versions that `Cargo.lock` holds.

use semver::{Version, VersionReq};
use toml_edit::{DocumentMut, Item, Table};

use crate::repository;

/// A package as it is locked.
struct Locked {
    name: String,
    version: Version,
}

/// Packages of the registry; our own have no source.
fn locked(text: &str) -> Vec<Locked> {
    let document: DocumentMut = text.parse().unwrap();
    let packages = document["package"].as_array_of_tables().unwrap();
    let foreign = packages.iter().filter(|package| package.contains_key("source"));
    foreign
        .map(|package| Locked {
            name: text_of(package, "name"),
            version: text_of(package, "version").parse().unwrap(),
        })
        .collect()
}

fn text_of(table: &Table, key: &str) -> String {
    table[key].as_str().unwrap().to_owned()
}

fn texts(item: &Item) -> Vec<&str> {
    item.as_array().unwrap().iter().map(|one| one.as_str().unwrap()).collect()
}

/// What speaks against the locked versions: an advisory that holds for one, or nobody having asked.
fn objections(list: &DocumentMut, locked: &[Locked]) -> Vec<String> {
    let advisories: Vec<&Table> = list["advisory"].as_array_of_tables().unwrap().iter().collect();
    let without = texts(&list["without"]["packages"]);
    let mut objections = Vec::new();
    for package in locked {
        let of_package =
            || advisories.iter().filter(|advisory| advisory["package"].as_str() == Some(&package.name));
        if of_package().count() == 0 && !without.contains(&package.name.as_str()) {
            objections
                .push(format!("{} {}: nobody has asked for its advisories", package.name, package.version));
        }
        for advisory in of_package().filter(|advisory| is_affected(advisory, &package.version)) {
            let (id, title) = (text_of(advisory, "id"), text_of(advisory, "title"));
            objections.push(format!("{} {}: {id}, {title}", package.name, package.version));
        }
    }
    objections
}

fn is_affected(advisory: &Table, version: &Version) -> bool {
    let ranges = texts(&advisory["patched"]).into_iter().chain(texts(&advisory["unaffected"]));
    !ranges.map(|range| VersionReq::parse(range).unwrap()).any(|range| range.matches(version))
}

fn list() -> DocumentMut {
    repository::text("advisories.toml").parse().unwrap()
}

#[test]
fn no_known_advisory_holds_for_what_is_locked() {
    let locked = locked(&repository::text("Cargo.lock"));
    assert!(locked.len() > 200, "{} packages", locked.len());
    let found = objections(&list(), &locked);
    repository::expect_none(&found);
}

#[test]
fn an_affected_version_and_an_unasked_package_are_named() {
    let locked = [("bytes", "1.11.0"), ("bytes", "1.11.1"), ("never-heard-of", "1.0.0")]
        .map(|(name, version)| Locked { name: name.to_owned(), version: version.parse().unwrap() });
    let found = objections(&list(), &locked);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].starts_with("bytes 1.11.0: RUSTSEC-2026-0007"), "{found:?}");
    assert_eq!(found[1], "never-heard-of 1.0.0: nobody has asked for its advisories");
}

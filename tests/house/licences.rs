//! Licences and origins of everything that is built in: the list in `deny.toml` against what cargo resolved.

use std::process::Command;

use serde_json::Value;
use toml_edit::DocumentMut;

use crate::repository;

fn allowed_licences(deny: &str) -> Vec<String> {
    let document: DocumentMut = deny.parse().unwrap();
    let list = document["licenses"]["allow"].as_array().unwrap();
    list.iter().map(|licence| licence.as_str().unwrap().to_owned()).collect()
}

/// What single packages may bring besides, by their names.
fn excepted(deny: &str) -> Vec<(String, String)> {
    let document: DocumentMut = deny.parse().unwrap();
    let mut found = Vec::new();
    for exception in document["licenses"]["exceptions"].as_array().unwrap() {
        let exception = exception.as_inline_table().unwrap();
        let package = exception["crate"].as_str().unwrap();
        for licence in exception["allow"].as_array().unwrap() {
            found.push((package.to_owned(), licence.as_str().unwrap().to_owned()));
        }
    }
    found
}

/// Can an SPDX expression be met with the allowed licences alone?
///
/// `A/B` is how older manifests write `A OR B`.
fn is_met(expression: &str, allowed: &[String]) -> bool {
    let spaced = expression.replace('(', " ( ").replace(')', " ) ").replace('/', " OR ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let (met, rest) = any_of(&words, allowed);
    met && rest.is_empty()
}

fn any_of<'a>(words: &'a [&'a str], allowed: &[String]) -> (bool, &'a [&'a str]) {
    let (mut met, mut rest) = all_of(words, allowed);
    while let ["OR", after @ ..] = rest {
        let (other, left) = all_of(after, allowed);
        (met, rest) = (met || other, left);
    }
    (met, rest)
}

fn all_of<'a>(words: &'a [&'a str], allowed: &[String]) -> (bool, &'a [&'a str]) {
    let (mut met, mut rest) = one(words, allowed);
    while let ["AND", after @ ..] = rest {
        let (other, left) = one(after, allowed);
        (met, rest) = (met && other, left);
    }
    (met, rest)
}

fn one<'a>(words: &'a [&'a str], allowed: &[String]) -> (bool, &'a [&'a str]) {
    match words {
        ["(", inner @ ..] => match any_of(inner, allowed) {
            (met, [")", rest @ ..]) => (met, rest),
            (_, rest) => (false, rest),
        },
        [name, "WITH", exception, rest @ ..] => {
            (allowed.iter().any(|licence| *licence == format!("{name} WITH {exception}")), rest)
        }
        [name, rest @ ..] => (allowed.iter().any(|licence| licence == name), rest),
        [] => (false, words),
    }
}

/// Packages that may not come in: another licence, or from anywhere but the registry and our own folders.
fn foreign(packages: &[Value], allowed: &[String], excepted: &[(String, String)]) -> Vec<String> {
    let mut findings = Vec::new();
    for package in packages {
        let name = format!("{} {}", package["name"].as_str().unwrap(), package["version"].as_str().unwrap());
        let licence = package["license"].as_str().unwrap_or_default();
        let besides = excepted.iter().filter(|(of, _)| package["name"] == **of).map(|(_, licence)| licence);
        let allowed: Vec<String> = allowed.iter().chain(besides).cloned().collect();
        if !is_met(licence, &allowed) {
            findings.push(format!("{name}: licence `{licence}` cannot be met with {}", allowed.join(", ")));
        }
        if let Some(source) = package["source"].as_str()
            && !source.starts_with("registry+")
        {
            findings.push(format!("{name}: comes from {source}"));
        }
    }
    findings
}

fn output(program: &str, arguments: &[&str]) -> Vec<u8> {
    let output =
        Command::new(program).args(arguments).current_dir(stillwell_house::repository()).output().unwrap();
    assert!(output.status.success(), "{program} {arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    output.stdout
}

#[test]
fn everything_built_in_may_be_used_by_anyone() {
    let about = String::from_utf8(output("rustc", &["-vV"])).unwrap();
    let host = about.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    // Only what this platform builds: cargo has fetched that much by the time a test runs.
    let metadata = output(env!("CARGO"), &["metadata", "--format-version", "1", "--filter-platform", host]);
    let metadata: Value = serde_json::from_slice(&metadata).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    assert!(packages.len() > 20, "only {} packages", packages.len());
    let deny = repository::text("deny.toml");
    repository::expect_none(&foreign(packages, &allowed_licences(&deny), &excepted(&deny)));
}

#[test]
fn planted_licences_are_judged() {
    let allowed = ["MIT", "Apache-2.0", "Unicode-3.0"].map(str::to_owned);
    for good in ["MIT", "GPL-3.0 OR MIT", "Unlicense/MIT", "(MIT OR X) AND Unicode-3.0", "A WITH B OR MIT"] {
        assert!(is_met(good, &allowed), "{good}");
    }
    for bad in ["", "GPL-3.0", "MIT AND GPL-3.0", "(MIT OR X) AND GPL-3.0", "MIT WITH B", "(MIT", "MIT MIT"] {
        assert!(!is_met(bad, &allowed), "{bad}");
    }
    let package =
        serde_json::json!({"name": "a", "version": "1", "license": "MIT", "source": "git+somewhere"});
    assert_eq!(foreign(&[package], &allowed, &[]).len(), 1);
}

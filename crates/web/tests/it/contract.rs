//! The documents under requests that a generator of cases makes from their description: no failure, and nothing undescribed.

use std::sync::mpsc::channel;

use stillwell_web::{Serving, serve};

use crate::study;

/// Of the generator's own checks those that concern a server that only answers.
const CHECKS: &str =
    "not_a_server_error,status_code_conformance,content_type_conformance,response_schema_conformance";
const RUN: &str = "import sys; from schemathesis.cli import schemathesis; schemathesis(sys.argv[1:])";

#[test]
fn generated_requests_find_no_failure_and_nothing_undescribed() {
    let Some(mut python) = stillwell_house::python() else { return };
    let (_folder, path) = study::copy();
    let (told, address) = channel();
    // It serves until the process of the tests ends.
    std::thread::spawn(move || {
        let serving = Serving { study: &path, address: "127.0.0.1:0".parse().unwrap(), key: None };
        serve(&serving, |address| told.send(address.to_owned()).unwrap()).unwrap();
    });
    let address = address.recv().unwrap();
    let (host, token) = address.split_once("/enter?token=").unwrap();
    python.args(["-c", RUN, "run"]).arg(format!("{host}/api/openapi.json"));
    python.args(["--header", &format!("Authorization: Bearer {token}"), "--checks", CHECKS]);
    // Seeded, so that a failure comes again; its own files stay out of the repository.
    python.args(["--max-examples", "40", "--seed", "1", "--no-color", "--generation-database", "none"]);
    let folder = tempfile::tempdir().unwrap();
    let output = python.current_dir(folder.path()).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    let n_cases =
        said.lines().find_map(|line| line.trim().split_once(" generated")?.0.trim().parse::<usize>().ok());
    assert!(n_cases.is_some_and(|n| n >= 100), "{said}");
    println!("{said}");
}

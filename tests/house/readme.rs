//! The README's two commands do all there is to set up, and CI runs the very same test command.

use crate::repository;

const TEST_COMMAND: &str = "cargo test --workspace";
const MAIN_COMMAND: &str = "cargo run --release -- tour";

/// Lines of fenced blocks that call cargo, without comment and prompt.
fn cargo_commands(markdown: &str) -> Vec<String> {
    let mut is_fenced = false;
    let mut found = Vec::new();
    for line in markdown.lines() {
        if line.trim_start().starts_with("```") {
            is_fenced = !is_fenced;
        } else if is_fenced {
            let command = line.split(" #").next().unwrap_or_default().trim().trim_start_matches("$ ");
            if command.starts_with("cargo ") {
                found.push(command.to_owned());
            }
        }
    }
    found
}

/// The set-up commands are the first two that the README shows.
fn setup_faults(readme: &str) -> Vec<String> {
    let commands = cargo_commands(readme);
    let mut findings = Vec::new();
    if commands.first().map(String::as_str) != Some(MAIN_COMMAND) {
        findings.push(format!("README.md: first command is {:?}, not `{MAIN_COMMAND}`", commands.first()));
    }
    if commands.get(1).map(String::as_str) != Some(TEST_COMMAND) {
        findings.push(format!("README.md: second command is {:?}, not `{TEST_COMMAND}`", commands.get(1)));
    }
    findings
}

/// CI's one call of the test command: nothing added that would make it another.
fn ci_faults(script: &str) -> Vec<String> {
    let code = script.lines().map(|line| line.split(" #").next().unwrap_or_default().trim());
    let calls: Vec<&str> =
        code.filter(|line| !line.starts_with('#') && line.contains("cargo test")).collect();
    let is_same = |call: &&str| {
        let rest = call.split_once(TEST_COMMAND).map(|(_, rest)| rest.trim());
        rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(['|', '2', ')']))
    };
    let mut findings = Vec::new();
    if calls.len() != 1 || !calls.iter().all(is_same) {
        findings.push(format!(".ci/run: calls {calls:?}, not `{TEST_COMMAND}`"));
    }
    if !script.contains("STILLWELL_REQUIRE_ALL=1") {
        findings.push(".ci/run: does not set STILLWELL_REQUIRE_ALL=1".to_owned());
    }
    findings
}

#[test]
fn readme_sets_up_in_two_commands() {
    repository::expect_none(&setup_faults(&repository::text("README.md")));
}

#[test]
fn ci_runs_the_readmes_test_command() {
    repository::expect_none(&ci_faults(&repository::text(".ci/run")));
}

#[test]
fn planted_commands_are_found() {
    let readme = |first: &str, second: &str| format!("# X\n\n```sh\n{first}   # the job\n{second}\n```\n");
    assert_eq!(setup_faults(&readme("cargo run --release -- tour", "cargo test --workspace")).len(), 0);
    assert_eq!(setup_faults(&readme("cargo build", "cargo test --workspace")).len(), 1);
    assert_eq!(setup_faults(&readme("cargo run --release -- tour", "cargo test --all")).len(), 1);
    assert_eq!(setup_faults("`cargo test --workspace`").len(), 2);
}

#[test]
fn planted_ci_calls_are_found() {
    let require = "export STILLWELL_REQUIRE_ALL=1\n";
    assert_eq!(ci_faults(&format!("{require}cargo test --workspace 2>&1 | tee log")).len(), 0);
    assert_eq!(ci_faults(&format!("{require}cargo test --workspace --exclude stillwell-cli")).len(), 1);
    assert_eq!(ci_faults(&format!("{require}# cargo test --workspace")).len(), 1);
    assert_eq!(ci_faults("cargo test --workspace").len(), 1);
}

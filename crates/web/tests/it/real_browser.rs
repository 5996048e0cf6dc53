//! The page in a real browser: each scenario is a file in `tests/browser`, played on a study of its own.
//!
//! They need node, chromium, and `npm ci` in that folder; `STILLWELL_PICTURES=folder` keeps pictures of what was shown.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;
use std::sync::mpsc::channel;

use stillwell_house::require_or_skip;
use stillwell_web::{Serving, serve};

use crate::{size, study};

/// One browser at a time: a machine that runs several of them judges none of them fairly.
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/browser")
}

fn runs(program: &str) -> bool {
    Command::new(program).arg("--version").output().is_ok_and(|output| output.status.success())
}

fn is_there(tool: &str) -> bool {
    if !runs("node") {
        require_or_skip("node");
        return false;
    }
    if !folder().join("node_modules").join(tool).exists() {
        require_or_skip(&format!("{tool} (npm ci in crates/web/tests/browser)"));
        return false;
    }
    true
}

fn chromium() -> Option<String> {
    let named = std::env::var("CHROMIUM").unwrap_or_else(|_| "/usr/bin/chromium".to_owned());
    if runs(&named) {
        return Some(named);
    }
    require_or_skip("chromium");
    None
}

fn played(scenario: &str) {
    played_on(scenario, |folder| {
        let path = folder.join("wells.study");
        std::fs::copy(study::made(), &path).unwrap();
        path
    });
}

/// On the study that is made in a folder, unless there is no browser to play in.
fn played_on(scenario: &str, made: impl FnOnce(&Path) -> PathBuf) {
    if !(is_there("playwright-core") && is_there("axe-core")) {
        return;
    }
    let Some(chromium) = chromium() else { return };
    let _alone = ONE_AT_A_TIME.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let of_study = tempfile::tempdir().unwrap();
    let path = made(of_study.path());
    let (told, address) = channel();
    // It serves until the process of the tests ends.
    std::thread::spawn(move || {
        let serving = Serving { study: &path, address: "127.0.0.1:0".parse().unwrap(), key: None };
        serve(&serving, |address| told.send(address.to_owned()).unwrap()).unwrap();
    });
    let address = address.recv().unwrap();
    let mut node = Command::new("node");
    node.current_dir(folder())
        .env("CHROMIUM", chromium)
        .arg("harness.mjs")
        .arg(address)
        .arg(format!("{scenario}.mjs"));
    if let Some(pictures) = std::env::var_os("STILLWELL_PICTURES") {
        node.arg(Path::new(&pictures).join(scenario));
    }
    let output = node.output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{scenario}:\n{said}");
}

#[test]
fn the_analysts_whole_way() {
    played("analyst");
}

#[test]
fn the_height_is_moved_by_pointer_and_by_finger() {
    played_on("height", study::by_height_at);
}

#[test]
fn every_page_in_both_themes_wide_and_on_a_phone() {
    played("every_page");
}

#[test]
fn by_keyboard_alone() {
    played("keyboard");
}

#[test]
fn without_script() {
    played("scriptless");
}

#[test]
fn two_tabs_at_once() {
    played("two_tabs");
}

#[test]
fn when_the_connection_is_lost() {
    played("lost");
}

#[test]
fn hostile_names() {
    played("hostile");
}

#[test]
fn quality_over_time() {
    played_on("quality", |folder| {
        let path = folder.join("wells.study");
        std::fs::copy(study::year(), &path).unwrap();
        path
    });
}

#[test]
fn a_thousand_scans_in_one_overlay() {
    played_on("overlay", size::thousand);
}

#[test]
fn the_script_is_small_and_the_types_of_all_scripts_hold() {
    let script = folder().join("../../assets/page.js");
    let text = std::fs::read_to_string(&script).unwrap();
    assert!(text.len() < 25_000, "{} bytes", text.len());
    for forbidden in ["eval(", "innerHTML", "document.write", "new Function", "http://", "https://"] {
        let n_allowed = usize::from(forbidden == "http://");
        assert!(text.matches(forbidden).count() <= n_allowed, "{forbidden}");
    }
    if !is_there("typescript") {
        return;
    }
    // What runs on pages, and what runs in a worker: each knows other globals.
    for project in ["tsconfig.json", "tsconfig.worker.json"] {
        let checked = Command::new("node")
            .current_dir(folder())
            .args(["node_modules/typescript/bin/tsc", "-p", project])
            .output()
            .unwrap();
        assert!(checked.status.success(), "{project}: {}", String::from_utf8_lossy(&checked.stdout));
    }
}

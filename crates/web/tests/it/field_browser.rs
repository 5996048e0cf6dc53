//! The field's pages in a real browser on phones of two widths, with touch: one server, its clock running, its waits made short.
//!
//! They need node, chromium, and `npm ci` in `tests/browser`; `STILLWELL_PICTURES=folder` keeps pictures of what was shown.

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use stillwell_house::require_or_skip;
use stillwell_study::Clock;
use stillwell_twin::Fault;
use stillwell_web::{FieldServing, Said, ServeError, serve_field};

use crate::field::study;
use crate::wells::{Dip, NOON_MS};

static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/browser")
}

fn is_there() -> bool {
    let runs = |program: &str| Command::new(program).arg("--version").output().is_ok();
    for (name, there) in [
        ("node", runs("node")),
        ("chromium", runs(&chromium())),
        (
            "playwright-core (npm ci in crates/web/tests/browser)",
            folder().join("node_modules/playwright-core").exists(),
        ),
    ] {
        if !there {
            require_or_skip(name);
            return false;
        }
    }
    true
}

fn chromium() -> String {
    std::env::var("CHROMIUM").unwrap_or_else(|_| "/usr/bin/chromium".to_owned())
}

/// The files that the handheld would write.
fn write_scans(to: &Path) {
    for (name, dip) in [
        ("control", Dip::new(101, 25.0)),
        ("below", Dip::new(102, 17.6)),
        ("above", Dip::new(102, 77.7)),
        ("near-1", Dip::new(102, 40.0)),
        ("near-2", Dip::new(103, 40.0)),
        ("far-2", Dip::new(103, 60.0)),
        ("dead", Dip::new(101, 25.0).with(Fault::DeadStrip)),
    ] {
        std::fs::write(to.join(format!("{name}.txt")), dip.file(2)).unwrap();
    }
}

/// Plays a scenario. Its lines are asked for: `code` for a new code, `wait N` to let N seconds go by on the server's clock.
fn played(scenario: &str) {
    if !is_there() {
        return;
    }
    let _alone = ONE_AT_A_TIME.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let (of_study, path) = study();
    write_scans(of_study.path());
    let started = std::time::Instant::now();
    let ahead_ms = Arc::new(AtomicI64::new(0));
    let of_clock = ahead_ms.clone();
    let clock = Clock::of(move || {
        let gone = i64::try_from(started.elapsed().as_millis()).unwrap();
        jiff::Timestamp::from_millisecond(NOON_MS + gone + of_clock.load(Ordering::Relaxed)).unwrap()
    });
    let (told, heard) = channel::<(Said, Box<dyn Fn() -> Result<Said, ServeError> + Send>)>();
    std::thread::spawn(move || {
        let address = "127.0.0.1:0".parse().unwrap();
        let serving = FieldServing { study: &path, campaign: None, address, origin: None, clock };
        serve_field(&serving, |first, further| told.send((first.clone(), further)).unwrap()).unwrap();
    });
    let (first, further) = heard.recv_timeout(Duration::from_secs(20)).unwrap();
    assert!(first.picture.contains('█'), "{}", first.picture);
    let mut node = Command::new("node");
    node.current_dir(folder())
        .env("CHROMIUM", chromium())
        .args(["field_harness.mjs", &first.address, &format!("field_{scenario}.mjs")])
        .arg(of_study.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped());
    if let Some(pictures) = std::env::var_os("STILLWELL_PICTURES") {
        node.arg(Path::new(&pictures).join(scenario));
    }
    let mut node = node.spawn().unwrap();
    let mut said = Vec::new();
    let mut asked = BufReader::new(node.stdout.take().unwrap()).lines();
    let mut answers = node.stdin.take().unwrap();
    while let Some(Ok(line)) = asked.next() {
        let answer = match line.split_once(' ') {
            Some(("wait", seconds)) => {
                ahead_ms.fetch_add(1000 * seconds.parse::<i64>().unwrap(), Ordering::Relaxed);
                "done".to_owned()
            }
            _ if line == "code" => further().unwrap().code,
            _ => {
                said.push(line);
                continue;
            }
        };
        writeln!(answers, "{answer}").unwrap();
    }
    assert!(node.wait().unwrap().success(), "{scenario}: {said:?}");
}

#[test]
fn field_whole_flows_on_phones() {
    played("flows");
}

#[test]
fn field_without_a_link() {
    played("lost");
}

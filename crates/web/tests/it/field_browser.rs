//! The field's pages in a real browser on phones of two widths, with touch: one browser, and for each scenario a study and a server
//! process of its own, which the scenario may kill. The clocks run; waits are made short.
//!
//! They need node, chromium, and `npm ci` in `tests/browser`; `STILLWELL_PICTURES=folder` keeps pictures of what was shown, and
//! `STILLWELL_SCENARIO=name` plays one alone.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead as _, BufReader, Write as _};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::{SystemTime, UNIX_EPOCH};

use stillwell_field::Field;
use stillwell_house::require_or_skip;
use stillwell_study::{Clock, Study};
use stillwell_twin::Fault;
use stillwell_web::{FieldServing, serve_field};
use tempfile::TempDir;

use crate::field::study;
use crate::field_photo::{Shot, drawn, packed, read};
use crate::wells::{Dip, NOON_MS};

/// Every scenario of `tests/browser/field_*.mjs`, the longest first.
const SCENARIOS: [&str; 15] = [
    "killed_before",
    "killed_after",
    "killed_within",
    "lost_each",
    "lost",
    "two_phones",
    "agree",
    "disagree",
    "close",
    "turned_away",
    "below",
    "above",
    "scriptless",
    "dead",
    "german",
];

/// What a server's process is told: study, port, and where its clock stands.
const TOLD: &str = "STILLWELL_FIELD_SERVER";

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

fn wall_ms() -> i64 {
    i64::try_from(SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_millis()).unwrap()
}

/// The files that the handheld would write.
fn write_scans(to: &Path) {
    std::fs::create_dir(to).unwrap();
    for (name, dip) in [
        ("control", Dip::new(101, 25.0)),
        ("control-2", Dip::new(104, 25.0)),
        ("below", Dip::new(102, 17.6)),
        ("above", Dip::new(105, 77.7)),
        ("near-1", Dip::new(102, 40.0)),
        ("near-2", Dip::new(103, 40.0)),
        ("far-2", Dip::new(103, 60.0)),
        ("at-1", Dip::new(102, 49.3)),
        ("at-2", Dip::new(103, 49.3)),
        ("dead", Dip::new(101, 25.0).with(Fault::DeadStrip)),
    ] {
        std::fs::write(to.join(format!("{name}.txt")), dip.file(2)).unwrap();
    }
}

/// Photos of the study's labels, and of some that are none of it.
fn write_photos(study: &Path, to: &Path) {
    let labels = Field::open(&Study::open_to_read(study).unwrap(), "1").unwrap().labels();
    let well = labels.wells[0].0.text();
    let of_study = well.split(':').nth(2).unwrap();
    let mut photos = vec![
        ("foreign-AVW-11".to_owned(), well.replace(of_study, "0123456789ABCDEF")),
        ("unknown-AVW-77".to_owned(), well.replace("AVW-11", "AVW-77")),
    ];
    photos.extend(labels.wells.iter().map(|(label, well)| (format!("well-{}", well.code), label.text())));
    photos.extend(labels.boxes.iter().map(|(label, lot)| (format!("box-{}", lot.code), label.text())));
    let (strip, named) = &labels.strips[0];
    photos.push((format!("strip-{}", named.code()), strip.text()));
    for (name, text) in &photos {
        std::fs::write(to.join(format!("{name}.jpg")), Shot::USUAL.jpeg(text)).unwrap();
    }
    let far = Shot { part: 0.02, ..Shot::USUAL };
    std::fs::write(to.join("wood.jpg"), far.jpeg(&well)).unwrap();
}

/// A scenario's study, the process that serves it, and that server's clock.
struct Stage {
    folder: PathBuf,
    study: PathBuf,
    begun_ms: i64,
    address: SocketAddr,
    server: Option<Server>,
    _of_study: TempDir,
}

struct Server {
    process: Child,
    asked: ChildStdin,
    says: std::io::Lines<BufReader<ChildStdout>>,
}

impl Stage {
    fn set_up(within: &Path, name: &str) -> Self {
        let (of_study, study) = study();
        let folder = within.join(name);
        std::fs::create_dir(&folder).unwrap();
        std::fs::write(folder.join("ahead"), "0").unwrap();
        write_photos(&study, &folder);
        let address = "127.0.0.1:0".parse().unwrap();
        let mut stage =
            Self { folder, study, begun_ms: wall_ms(), address, server: None, _of_study: of_study };
        stage.start();
        stage
    }

    /// Starts the server's process: at a free port the first time, at the same one ever after.
    fn start(&mut self) {
        let parts = [
            self.study.to_str().unwrap().to_owned(),
            self.address.to_string(),
            self.folder.join("ahead").to_str().unwrap().to_owned(),
            self.begun_ms.to_string(),
        ];
        let mut process = Command::new(std::env::current_exe().unwrap())
            .args(["field_browser::serves_until_it_is_killed", "--exact", "--ignored", "--nocapture"])
            .env(TOLD, parts.join("\n"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let (asked, says) = (process.stdin.take().unwrap(), process.stdout.take().unwrap());
        let mut server = Server { process, asked, says: BufReader::new(says).lines() };
        self.address = server.hears("listens").parse().unwrap();
        self.server = Some(server);
    }

    /// SIGKILL: the process has no time for anything.
    fn kill(&mut self) {
        if let Some(mut server) = self.server.take() {
            server.process.kill().unwrap();
            server.process.wait().unwrap();
        }
    }

    fn answer(&mut self, asked: &str) -> String {
        match asked.split_once(' ').unwrap_or((asked, "")) {
            ("code", _) => {
                let server = self.server.as_mut().unwrap();
                writeln!(server.asked).unwrap();
                server.hears("code")
            }
            ("wait", seconds) => {
                let file = self.folder.join("ahead");
                let ahead: i64 = std::fs::read_to_string(&file).unwrap().parse().unwrap();
                let ahead = ahead + 1000 * seconds.parse::<i64>().unwrap();
                // Put in its place whole: the server may be reading it.
                std::fs::write(self.folder.join("ahead.new"), ahead.to_string()).unwrap();
                std::fs::rename(self.folder.join("ahead.new"), file).unwrap();
                "done".to_owned()
            }
            ("kill", _) => {
                self.kill();
                "done".to_owned()
            }
            ("start", _) => {
                self.start();
                "done".to_owned()
            }
            ("count", _) => self.count(),
            other => format!("{other:?} is not known here"),
        }
    }

    /// What is on record: steps, different keys among them, results, steps that a label picked.
    fn count(&self) -> String {
        let study = Study::open_to_read(&self.study).unwrap();
        let steps = study.field_steps().unwrap();
        let keys: BTreeSet<&str> = steps.iter().map(|step| step.key.as_str()).collect();
        let results = study.determinations().unwrap().len();
        let labels = steps.iter().filter(|step| step.label.is_some()).count();
        let (steps, keys) = (steps.len(), keys.len());
        format!("{{\"steps\":{steps},\"keys\":{keys},\"results\":{results},\"labels\":{labels}}}")
    }
}

impl Drop for Stage {
    fn drop(&mut self) {
        self.kill();
    }
}

impl Server {
    /// The rest of the next line that begins with a word.
    fn hears(&mut self, word: &str) -> String {
        loop {
            let line = self.says.next().unwrap().unwrap();
            if let Some(said) = line.strip_prefix(word).and_then(|rest| rest.strip_prefix(' ')) {
                return said.to_owned();
            }
        }
    }
}

/// The server of `stillwell serve --field` in a process of its own. Its clock is noon plus what has gone by plus what a file says.
#[test]
#[expect(clippy::exit, reason = "a process of its own, which ends with whoever started it")]
#[ignore = "no test: the process that the scenarios start, and kill"]
fn serves_until_it_is_killed() {
    let Ok(told) = std::env::var(TOLD) else { return };
    let [study, address, ahead, begun_ms] = told.split('\n').collect::<Vec<_>>().try_into().unwrap();
    let (ahead, begun_ms) = (PathBuf::from(ahead), begun_ms.parse::<i64>().unwrap());
    let clock = Clock::of(move || {
        let ahead_ms: i64 = std::fs::read_to_string(&ahead).unwrap().parse().unwrap();
        jiff::Timestamp::from_millisecond(NOON_MS + wall_ms() - begun_ms + ahead_ms).unwrap()
    });
    let serving = FieldServing {
        study: Path::new(study),
        campaign: None,
        address: address.parse().unwrap(),
        origin: None,
        clock,
    };
    serve_field(&serving, |first, further| {
        println!("listens {}", first.listens);
        std::thread::spawn(move || {
            for line in std::io::stdin().lines() {
                line.unwrap();
                println!("code {}", further().unwrap().code);
            }
            // Whoever started this is gone.
            std::process::exit(0);
        });
    })
    .unwrap();
}

/// Plays them all and answers what they ask; says what was played.
#[test]
fn whole_flows_on_phones_with_links_and_servers_that_die() {
    if !is_there() {
        return;
    }
    let scenes = tempfile::tempdir().unwrap();
    write_scans(&scenes.path().join("scans"));
    let only = std::env::var("STILLWELL_SCENARIO").ok();
    let names = SCENARIOS.into_iter().filter(|name| only.as_deref().is_none_or(|only| only == *name));
    let mut stages: BTreeMap<&str, Stage> =
        names.clone().map(|name| (name, Stage::set_up(scenes.path(), name))).collect();
    let told: Vec<String> = names
        .map(|name| {
            let stage = &stages[name];
            let folder = stage.folder.to_str().unwrap();
            format!(
                "{{\"name\":\"{name}\",\"address\":\"http://{}/field\",\"folder\":\"{folder}\"}}",
                stage.address
            )
        })
        .collect();
    let mut node = Command::new("node");
    node.current_dir(folder())
        .env("CHROMIUM", chromium())
        .args(["field_harness.mjs", &format!("[{}]", told.join(","))])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped());
    if let Some(pictures) = std::env::var_os("STILLWELL_PICTURES") {
        node.arg(Path::new(&pictures).join("field"));
    }
    let mut node = node.spawn().unwrap();
    let mut answers = node.stdin.take().unwrap();
    let mut n_played = 0;
    for line in BufReader::new(node.stdout.take().unwrap()).lines() {
        let line = line.unwrap();
        let (name, asked) = line.split_once(' ').unwrap();
        if asked.starts_with("played") || !stages.contains_key(name) {
            println!("{line}");
            n_played += usize::from(asked.starts_with("played"));
            continue;
        }
        let answer = stages.get_mut(name).unwrap().answer(asked);
        writeln!(answers, "{name} {answer}").unwrap();
    }
    assert!(node.wait().unwrap().success(), "the scenario says why above");
    assert_eq!(n_played, stages.len());
    for (name, stage) in &mut stages {
        stage.kill();
        let found =
            stillwell_study::verify(&stage.study, &stillwell_study::VerifyRequest::default()).unwrap();
        assert!(found.is_sound(), "{name}: {:?}", found.damages);
    }
}

/// The picture in the terminal, as the second library sees it: a character is two modules, one above the other.
#[test]
fn the_picture_that_pairs_is_read_by_another_library() {
    let (_of_study, path) = study();
    let (told, heard) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let address = "127.0.0.1:0".parse().unwrap();
        let clock = Clock::of(|| jiff::Timestamp::from_millisecond(NOON_MS).unwrap());
        let serving = FieldServing { study: &path, campaign: None, address, origin: None, clock };
        serve_field(&serving, |first, _| told.send(first.clone()).unwrap()).unwrap();
    });
    let said = heard.recv_timeout(std::time::Duration::from_secs(20)).unwrap();
    let mut modules: Vec<Vec<bool>> = Vec::new();
    for line in said.picture.lines() {
        // A terminal writes light on dark: what is drawn is paper, and what is left out is ink.
        let halves = |upper: bool| {
            let is_ink = move |c: char| match c {
                '█' => false,
                '▀' => !upper,
                '▄' => upper,
                _ => true,
            };
            line.chars().map(is_ink).collect::<Vec<bool>>()
        };
        modules.extend([halves(true), halves(false)]);
    }
    let side = modules[0].len();
    modules.truncate(side);
    let picture = drawn(&modules, 6);
    assert_eq!(read(&picture), [format!("{}/pair?code={}", said.address, said.code)]);
    if let Some(pictures) = std::env::var_os("STILLWELL_PICTURES") {
        let png = packed(&picture.into(), image::ImageFormat::Png);
        std::fs::write(Path::new(&pictures).join("pairing.png"), png).unwrap();
    }
}

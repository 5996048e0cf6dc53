//! A thousand determinations on one page: small and quick.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use stillwell_study::{Clock, Delivery, Study};

use crate::browser::Browser;
use crate::study;

const MAX_BYTES: usize = 200_000;
const MAX_TIME: Duration = Duration::from_millis(100);

/// One batch of the scenario with a thousand and eight samples of one scan each.
pub(crate) fn thousand(folder: &Path) -> PathBuf {
    let from = folder.join("from");
    std::fs::create_dir(&from).unwrap();
    let sheet = std::fs::read_to_string(study::alder_vale().join("run-sheet.csv")).unwrap();
    let is_of_batch = |line: &str| line.contains("-B1.csv");
    let (wells, others): (Vec<&str>, Vec<&str>) =
        sheet.lines().skip(1).filter(|line| is_of_batch(line)).partition(|line| line.starts_with("wells"));
    for name in ["blanks", "standards", "opening-checks", "closing-checks"] {
        let name = format!("{name}-B1.csv");
        std::fs::copy(study::alder_vale().join(&name), from.join(&name)).unwrap();
    }
    let raw = std::fs::read_to_string(study::alder_vale().join("wells-B1.csv")).unwrap();
    let is_closing = |line: &&&str| line.starts_with("closing");
    let mut lines: Vec<String> = sheet.lines().take(1).map(str::to_owned).collect();
    lines.extend(others.iter().filter(|line| !is_closing(line)).map(|line| (*line).to_owned()));
    let mut n = 0;
    for copy in 0..42 {
        let name = format!("wells-{copy}.csv");
        std::fs::write(from.join(&name), stirred(&raw, copy)).unwrap();
        for line in &wells {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            cells[0].clone_from(&name);
            "sample".clone_into(&mut cells[2]);
            cells[3] = format!("W-{n:04}");
            cells[7] = format!("L21-w{n}");
            "1".clone_into(&mut cells[8]);
            lines.push(cells.join(","));
            n += 1;
        }
    }
    lines.extend(others.iter().filter(is_closing).map(|line| (*line).to_owned()));
    std::fs::write(from.join("run-sheet.csv"), lines.join("\n") + "\n").unwrap();
    let path = folder.join("thousand.study");
    let method = std::fs::read_to_string(study::alder_vale().join("method.toml")).unwrap();
    let mut study = Study::create(&path, "thousand", &method, &study::analyst(), Clock::system()).unwrap();
    let added = study.add(&Delivery::of_folder(&from).unwrap(), &study::analyst(), |_| {}).unwrap();
    study.determine(&added.series, &study::analyst()).unwrap();
    path
}

/// The same scans with a little noise, so that no two are the same.
fn stirred(raw: &str, seed: u32) -> String {
    let mut state = seed + 1;
    let mut text = String::new();
    for (index, line) in raw.lines().enumerate() {
        let mut cells = line.split(',');
        text.push_str(cells.next().unwrap());
        for cell in cells {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = (f64::from(state >> 16) / 65_536.0 - 0.5) * 0.04;
            match cell.parse::<f64>() {
                Ok(value) if index > 0 => write!(text, ",{:.3}", value + noise).unwrap(),
                _ => write!(text, ",{cell}").unwrap(),
            }
        }
        text.push('\n');
    }
    text
}

/// The least of a few: what the machine does besides only ever adds.
fn least(browser: &Browser, way: &str) -> (usize, Duration) {
    let mut least = Duration::MAX;
    let mut size = 0;
    for _ in 0..5 {
        let started = Instant::now();
        let page = browser.get(way);
        least = least.min(started.elapsed());
        assert!(page.status.is_success(), "{way}");
        size = page.body.len();
    }
    (size, least)
}

#[test]
fn a_thousand_determinations_are_one_small_quick_page() {
    let folder = tempfile::tempdir().unwrap();
    let browser = Browser::on(&thousand(folder.path()));
    let started = Instant::now();
    let first = browser.get("/results");
    println!("/results for the first time after an act: {} ms", started.elapsed().as_millis());
    assert!(first.body.matches("<a href=\"/results/").count() >= 1000);
    for way in ["/results", "/", "/concentrations", "/scans", "/signals", "/ledger"] {
        let (size, time) = least(&browser, way);
        println!("{way}: {size} bytes, {:.1} ms", 1e3 * time.as_secs_f64());
        assert!(size < MAX_BYTES, "{way}: {size} bytes");
        // The overlay of a thousand scans and the walk along the ledger take longer; what they take is printed.
        assert!(time < MAX_TIME || matches!(way, "/signals" | "/ledger"), "{way}: {time:?}");
    }
    let script = browser.get("/").body;
    let script = script.split("src=\"").nth(1).unwrap().split('"').next().unwrap();
    assert!(browser.get(script).body.len() < 100_000);
}

//! Quality over time: four answers with their evidence, what is missing in words, and a laboratory's file taken in by a guarded form.

use axum::http::StatusCode;
use stillwell_study::{Delivery, Study};

use crate::browser::{Answered, Browser};
use crate::pages::PAGES;
use crate::study;

const FILE: &str = "sample,value,unit,u\nAV-01,31.0,mg/L as NO3-,0.6\nAV-02,50.4,mg/L as NO3-,1.0\n";

/// Sends the form with a file as a browser does; the token stands first.
fn send(browser: &Browser, token: &str, file: (&str, &[u8]), fields: &[(&str, &str)]) -> Answered {
    let mut body = Vec::new();
    let mut part = |head: &str, bytes: &[u8]| {
        body.extend_from_slice(
            format!("--line\r\nContent-Disposition: form-data; {head}\r\n\r\n").as_bytes(),
        );
        body.extend_from_slice(bytes);
        body.extend_from_slice(b"\r\n");
    };
    part("name=\"form-token\"", token.as_bytes());
    part(&format!("name=\"file\"; filename=\"{}\"", file.0), file.1);
    for (name, value) in fields {
        part(&format!("name=\"{name}\""), value.as_bytes());
    }
    body.extend_from_slice(b"--line--\r\n");
    browser.send("POST", "/laboratory", &[("content-type", "multipart/form-data; boundary=line")], body)
}

const BY: [(&str, &str); 2] = [("actor", "Ines Field"), ("reason", "report of the laboratory, May")];

#[test]
fn the_year_has_four_answers_with_since_when_and_what_to_do() {
    let (_folder, path) = study::copy_of_the_year();
    let browser = Browser::on(&path);
    assert!(!browser.get("/").body.contains("Out of control"), "the start page does not wait for it");
    let page = browser.get("/quality").body;
    for words in [
        "Out of control: blank",
        "Since batch 10 of 2025-10-14.",
        "Not equivalent: L31.",
        "9 of 10 requirements met; not met: selectivity (nitrite 15 mg/L).",
        "Agrees with the laboratory",
        "results of the laboratory find no partner",
        "Calibrate the lots that are not equivalent",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    assert!(browser.get("/").body.contains("Out of control: blank"), "then it is known there too");
}

#[test]
fn every_page_of_it_leads_somewhere_and_its_figures_come_as_files() {
    let (_folder, path) = study::copy_of_the_year();
    let browser = Browser::on(&path);
    for way in PAGES.iter().filter(|way| way.starts_with("/quality")) {
        let page = browser.get(way);
        assert_eq!(page.status, StatusCode::OK, "{way}");
        for link in page.body.split("href=\"/").skip(1).filter_map(|rest| rest.split(['"', '#']).next()) {
            let found = browser.get(&format!("/{}", link.replace("&amp;", "&")));
            assert_eq!(found.status, StatusCode::OK, "{way}: /{link}");
            if link.ends_with("/figure.svg") && link.starts_with("quality") {
                assert!(found.body.starts_with("<svg") && found.body.contains("<style>"), "{link}");
            }
        }
        let mut ids: Vec<&str> =
            page.body.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
        let n = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), n, "{way}: an id stands twice");
        assert!(page.body.len() < 200_000, "{way}: {} bytes", page.body.len());
    }
    for way in
        ["/quality/control/0/figure.svg", "/quality/control/99/figure.svg", "/quality/control/x/figure.svg"]
    {
        assert!(browser.get(way).status.is_client_error(), "{way}");
    }
}

#[test]
fn charts_show_rule_and_since_when_and_withheld_results_lead_to_and_from_them() {
    let (_folder, path) = study::copy_of_the_year();
    let browser = Browser::on(&path);
    let page = browser.get("/quality/control").body;
    assert_eq!(page.matches("<svg class=\"sw").count(), 6, "one figure a chart");
    assert_eq!(page.matches("Show as table").count(), 6);
    assert!(
        page.contains("OUT OF CONTROL") && page.contains("beyond the action limits, high, since"),
        "{page}"
    );
    let withheld = page.split("id=\"withheld\"").nth(1).unwrap();
    let result = withheld.split("href=\"/results/").nth(1).unwrap().split('"').next().unwrap();
    let result = browser.get(&format!("/results/{result}")).body;
    assert!(result.contains("href=\"/quality/control#withheld\""), "the way back to the charts");
    let sound = browser.get("/results/1").body;
    assert!(!sound.contains("/quality/control#withheld"), "no chart withholds the first result");
}

#[test]
fn what_is_missing_is_said_in_words() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let page = browser.get("/quality").body;
    for words in [
        "Not judged yet",
        "Not compared: the method states no margin",
        "State lot_margin_percent",
        "no laboratory&#39;s results are on record",
    ] {
        let plain = words.replace("&#39;", "'");
        assert!(page.contains(words) || page.contains(&plain), "{words}: {page}");
    }
    assert!(browser.get("/quality/comparison").body.contains("No laboratory's results were recorded yet."));
    for way in ["/quality/lots/figure.svg", "/quality/comparison/figure.svg"] {
        assert_eq!(browser.get(way).status, StatusCode::NOT_FOUND, "{way}");
    }
    // Nothing at all yet.
    let folder = tempfile::tempdir().unwrap();
    let empty = folder.path().join("empty.study");
    let method = std::fs::read_to_string(study::alder_vale().join("method.toml")).unwrap();
    Study::create(&empty, "empty", &method, &study::analyst(), stillwell_study::Clock::system()).unwrap();
    let browser = Browser::on(&empty);
    for way in PAGES.iter().filter(|way| way.starts_with("/quality")) {
        let page = browser.get(way);
        assert_eq!(page.status, StatusCode::OK, "{way}: {}", page.body);
    }
    assert!(browser.get("/quality").body.contains("No scan was taken in yet"));
}

#[test]
fn a_laboratorys_file_becomes_a_record_and_the_comparison_follows() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let token = browser.site.launch().form_token("/laboratory");
    let done = send(&browser, &token, ("folder/may.csv", FILE.as_bytes()), &BY);
    assert_eq!(done.status, StatusCode::OK, "{}", done.body);
    assert!(done.body.contains("Record 1: may.csv with 2 results"), "{}", done.body);
    let record = Study::open_to_read(&path).unwrap().laboratory("1").unwrap();
    assert_eq!((record.record.actor.as_str(), record.act.n_results), ("Ines Field", 2));
    let page = browser.get("/quality/comparison").body;
    assert!(page.contains("may.csv") && page.contains("report of the laboratory, May"), "{page}");
    assert!(browser.get("/ledger").body.contains("may.csv with 2 results"));
    let again = send(&browser, &token, ("other.csv", FILE.as_bytes()), &BY);
    assert!(
        again.body.contains("holds this very file already") && again.body.contains("Nothing new"),
        "{}",
        again.body
    );
    let gone =
        browser.post("/laboratory/1/withdraw", &[("actor", "Ines Field"), ("reason", "the wrong report")]);
    assert_eq!(gone.status, StatusCode::OK, "{}", gone.body);
    let page = browser.get("/quality/comparison").body;
    assert!(page.contains("withdrawn by Ines Field: the wrong report"), "{page}");
    assert!(browser.get("/quality").body.contains("results are on record"), "nothing counts any more");
    assert_eq!(browser.post("/laboratory/7/withdraw", &BY).status, StatusCode::NOT_FOUND);
}

#[test]
fn only_our_own_form_with_a_person_and_a_sound_file_is_taken() {
    let (_folder, path) = study::copy();
    let head = || Study::open_to_read(&path).unwrap().anchor().unwrap();
    let (browser, before) = (Browser::on(&path), head());
    let token = browser.site.launch().form_token("/laboratory");
    let other = browser.site.launch().form_token("/custody");
    let file = ("may.csv", FILE.as_bytes());
    let large = vec![b'x'; (1 << 20) + 1];
    for (answer, status, says) in [
        (send(&browser, "wrong", file, &BY), StatusCode::FORBIDDEN, "does not come from a page"),
        (send(&browser, &other, file, &BY), StatusCode::FORBIDDEN, "does not come from a page"),
        (
            send(&browser, &token, file, &[("actor", " "), ("reason", "why not")]),
            StatusCode::UNPROCESSABLE_ENTITY,
            "actor",
        ),
        (
            send(&browser, &token, file, &[("actor", "Ines Field")]),
            StatusCode::UNPROCESSABLE_ENTITY,
            "reason",
        ),
        (send(&browser, &token, ("", b""), &BY), StatusCode::UNPROCESSABLE_ENTITY, "no file was chosen"),
        (
            send(&browser, &token, ("..", FILE.as_bytes()), &BY),
            StatusCode::UNPROCESSABLE_ENTITY,
            "it has no name",
        ),
        (
            send(&browser, &token, ("may.csv", b"sample,value,unit\nA,1,mg/L as N\n"), &BY),
            StatusCode::UNPROCESSABLE_ENTITY,
            "may.csv:2",
        ),
        (
            send(&browser, &token, ("may.csv", b"\xff\xfe"), &BY),
            StatusCode::UNPROCESSABLE_ENTITY,
            "not UTF-8",
        ),
        (
            send(&browser, &token, ("may.csv", &large), &BY),
            StatusCode::PAYLOAD_TOO_LARGE,
            "larger than is taken",
        ),
        (browser.post("/laboratory", &BY), StatusCode::BAD_REQUEST, "What to do"),
    ] {
        assert_eq!(answer.status, status, "{says}: {}", answer.body);
        assert!(answer.body.contains(says) && answer.body.contains("What to do"), "{says}: {}", answer.body);
    }
    let stranger = [("origin", "http://elsewhere.example"), ("sec-fetch-site", "cross-site")];
    assert_eq!(browser.send("POST", "/laboratory", &stranger, Vec::new()).status, StatusCode::FORBIDDEN);
    let whole = vec![b'x'; 3 << 20];
    assert_eq!(send(&browser, &token, ("may.csv", &whole), &BY).status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(head(), before, "nothing was recorded");
}

#[test]
fn a_run_that_the_method_cannot_read_is_named_and_the_others_are_judged() {
    let (folder, path) = study::copy_of_the_year();
    let from = folder.path().join("from");
    std::fs::create_dir(&from).unwrap();
    let source = study::alder_vale();
    std::fs::copy(source.join("blanks-B1.csv"), from.join("blanks-B1.csv")).unwrap();
    let sheet = std::fs::read_to_string(source.join("run-sheet.csv")).unwrap();
    let kept = sheet.lines().enumerate().filter(|(at, line)| *at == 0 || line.starts_with("blanks-B1.csv"));
    let kept: Vec<&str> = kept.map(|(_, line)| line).collect();
    std::fs::write(from.join("run-sheet.csv"), kept.join("\n") + "\n").unwrap();
    let mut study = Study::open_now(&path).unwrap();
    study.add(&Delivery::of_folder(&from).unwrap(), &study::analyst(), |_| {}).unwrap();
    let browser = Browser::on(&path);
    let page = browser.get("/quality").body;
    assert!(page.contains("Judged over 2 series") && page.contains("Out of control: blank"), "{page}");
}

/// Another line end in each raw file: scans of other files, which count beside the first.
fn measured_anew(folder: &std::path::Path) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() && !path.ends_with("run-sheet.csv") && !path.ends_with("method.toml") {
            let text = std::fs::read(&path).unwrap();
            std::fs::write(&path, [text.as_slice(), b"\n"].concat()).unwrap();
        }
    }
}

#[test]
fn a_chart_of_many_points_shows_its_newest_and_its_file_holds_all() {
    let (folder, path) = study::copy_of_the_year();
    let mut study = Study::open_now(&path).unwrap();
    let from = folder.path().join("from");
    let year = study::alder_vale().join("../alder-vale-year");
    std::fs::create_dir(&from).unwrap();
    for entry in std::fs::read_dir(&year).unwrap() {
        let entry = entry.unwrap();
        std::fs::copy(entry.path(), from.join(entry.file_name())).unwrap();
    }
    let sheet = std::fs::read_to_string(year.join("run-sheet.csv")).unwrap();
    for n in 1..=3 {
        measured_anew(&from);
        std::fs::write(from.join("run-sheet.csv"), sheet.replace("AV-1", &format!("A{n}-1"))).unwrap();
        study.add(&Delivery::of_folder(&from).unwrap(), &study::analyst(), |_| {}).unwrap();
    }
    let browser = Browser::on(&path);
    let page = browser.get("/quality/control").body;
    assert!(page.contains("The newest 60 of 96 points.") && page.len() < 250_000, "{} bytes", page.len());
    let file = browser.get("/quality/control/2/figure.svg").body;
    assert!(!file.contains("The newest") && file.matches("class=\"dot").count() > 90, "{file}");
}

#[test]
fn many_scans_are_long_work_that_says_how_far_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = crate::size::thousand(folder.path());
    let mut study = Study::open_now(&path).unwrap();
    // Other bytes under other names of the run sheet, until they are many.
    let from = folder.path().join("from");
    let sheet = std::fs::read_to_string(from.join("run-sheet.csv")).unwrap();
    for n in 0..3 {
        measured_anew(&from);
        std::fs::write(from.join("run-sheet.csv"), sheet.replace("W-", &format!("W{n}-"))).unwrap();
        study.add(&Delivery::of_folder(&from).unwrap(), &study::analyst(), |_| {}).unwrap();
    }
    let browser = Browser::on(&path);
    let first = browser.get("/quality").body;
    assert!(first.contains("data-events=\"/jobs/1/events\"") && first.contains("Look again"), "{first}");
    let document = browser.get("/api/control");
    assert_eq!(document.status, StatusCode::OK, "a program waits for it");
    let page = browser.get("/quality").body;
    assert!(page.contains("Judged over 4 series"), "{page}");
    assert!(browser.get("/jobs").body.contains("Judging quality over time"));
}

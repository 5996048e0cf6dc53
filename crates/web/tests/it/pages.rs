//! Each page: it answers the first question, shows the chain, the head of the ledger and the cautions, and works without script.

use axum::http::StatusCode;
use stillwell_study::Study;

use crate::browser::Browser;
use crate::study;

pub(crate) const PAGES: [&str; 20] = [
    "/",
    "/scans",
    "/scans?series=1&page=1",
    "/series/1/scans/50",
    "/signals",
    "/calibrations",
    "/calibrations/1",
    "/concentrations",
    "/results",
    "/results?only=attention&of=AV",
    "/results/4",
    "/results/4/budget",
    "/results/6/scans/120",
    "/ledger",
    "/keys",
    "/quality",
    "/quality/control",
    "/quality/lots",
    "/quality/validation",
    "/quality/comparison",
];

#[test]
fn every_page_shows_chain_head_and_cautions_and_needs_no_script() {
    let (_folder, path) = study::copy();
    let head = Study::open_to_read(&path).unwrap().anchor().unwrap().head.to_string();
    let browser = Browser::on(&path);
    for way in PAGES.into_iter().chain(["/about"]) {
        let page = browser.get(way);
        assert_eq!(page.status, StatusCode::OK, "{way}: {}", page.body);
        assert!(page.header("content-type").starts_with("text/html"), "{way}");
        for link in ["Scan", "Signal", "Calibration", "Concentration", "Verdict"] {
            assert!(page.body.contains(&format!(">{link}</a>")), "{way}: no link {link}");
        }
        assert!(page.body.contains(&head), "{way}: no head of the ledger");
        assert!(page.body.contains("nor medical advice"), "{way}: no cautions");
        assert_eq!(page.body.matches("<h1").count(), 1, "{way}: one first heading");
        // Nothing that the policy would block.
        for inline in [" style=", "<style", " onclick", "javascript:"] {
            assert!(!page.body.contains(inline), "{way}: {inline}");
        }
        assert_eq!(page.body.matches("<script").count(), 1, "{way}: only our own file");
    }
}

#[test]
fn a_series_has_its_dossier_to_take_away() {
    let (_folder, path) = study::copy();
    let answer = Browser::on(&path).get("/series/1/dossier.html");
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.header("content-disposition"), "attachment; filename=\"dossier-1.html\"");
    assert!(answer.body.contains("Validation, criterion by criterion"));
    assert!(!answer.body.contains("<script"));
}

#[test]
fn every_link_of_every_page_leads_somewhere() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let mut known: std::collections::BTreeSet<String> = PAGES.iter().map(|way| (*way).to_owned()).collect();
    let mut open: Vec<String> = known.iter().cloned().collect();
    let mut n = 0;
    while let Some(way) = open.pop() {
        let answer = browser.get(&way);
        assert_eq!(answer.status, StatusCode::OK, "{way}");
        n += 1;
        if !answer.header("content-type").starts_with("text/html") || way.matches("/scans/").count() > 0 {
            continue;
        }
        for found in links(&answer.body).filter(|found| found.starts_with('/')) {
            let found = found.split('#').next().unwrap().replace("&amp;", "&");
            // One scan stands for the hundreds.
            let is_enough =
                found.contains("/scans/") && known.iter().filter(|one| one.contains("/scans/")).count() > 40;
            if !found.is_empty() && !is_enough && known.insert(found.clone()) {
                open.push(found);
            }
        }
    }
    assert!(n > 40, "only {n} addresses were found");
}

fn links(body: &str) -> impl Iterator<Item = &str> {
    ["href=\"", "src=\""]
        .into_iter()
        .flat_map(|mark| body.split(mark).skip(1))
        .filter_map(|rest| rest.split('"').next())
}

#[test]
fn anchors_of_a_page_are_on_it() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    for way in PAGES {
        let body = browser.get(way).body;
        for anchor in links(&body).filter_map(|link| link.strip_prefix('#')) {
            assert!(body.contains(&format!("id=\"{anchor}\"")), "{way}: #{anchor}");
        }
        let mut ids: Vec<&str> =
            body.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
        let n = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), n, "{way}: an id stands twice");
    }
}

#[test]
fn a_result_answers_first_and_shows_its_whole_chain() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let page = browser.get("/results/4").body;
    let answer = page.find("May I trust this number?").unwrap();
    assert!(answer < page.find("id=\"findings\"").unwrap(), "the answer comes first");
    assert!(page.contains("Not yet: NOT APPROVED") && page.contains("50.5 ± 2.1"), "{page}");
    for id in ["scan", "signal", "calibration", "concentration", "verdict"] {
        assert!(page.contains(&format!("<li id=\"{id}\">")), "{id}");
    }
    assert!(page.contains("class=\"bar\""), "the budget as bars");
    assert!(page.contains("<svg class=\"sw"), "the figure stands on the page");
}

#[test]
fn a_refusal_shows_what_was_found_why_it_matters_and_what_to_do_and_no_number() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let page = browser.get("/results/6").body;
    assert!(page.contains("No number: the chain refused it"));
    for words in ["Found", "Why it matters", "What to do"] {
        assert!(page.contains(&format!("<dt>{words}</dt>")), "{words}");
    }
    assert!(!page.contains(" ± "), "a refused result shows a number");
}

#[test]
fn what_is_not_there_is_said_in_words() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    for way in [
        "/nowhere",
        "/results/99",
        "/results/x%2f..",
        "/calibrations/0",
        "/series/7/scans/1",
        "/series/1/scans/0",
        "/series/1/scans/99999999999999999999",
        "/series/1/scans/217",
        "/scans?series=9",
        "/ledger?of=nobody",
        "/results/4/scans/999",
        "/results/4/scans/0",
    ] {
        let answer = browser.get(way);
        assert!(answer.status.is_client_error(), "{way}: {}", answer.status);
        assert!(answer.body.contains("What to do"), "{way}: {}", answer.body);
    }
    assert_eq!(browser.post("/results/4", &[]).status, StatusCode::METHOD_NOT_ALLOWED);
}

#[test]
fn the_ground_is_chosen_without_a_script() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    assert!(browser.get("/").body.contains("data-theme=\"system\""));
    let chosen = browser.post("/theme", &[("theme", "dark"), ("back", "/results/4")]);
    assert_eq!((chosen.status, chosen.header("location")), (StatusCode::SEE_OTHER, "/results/4"));
    let launch = browser.site.launch();
    let cookies = format!("{}={}; stillwell-theme=dark", launch.cookie_name(), launch.session());
    let page = browser.send("GET", "/", &[("cookie", &cookies)], Vec::new());
    assert!(page.body.contains("data-theme=\"dark\""));
}

#[test]
fn tables_and_figures_come_as_files() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let table = browser.get("/results.csv");
    assert_eq!(table.header("content-type"), "text/csv; charset=utf-8");
    assert_eq!(table.body.lines().count(), 10, "{}", table.body);
    assert!(table.body.contains("NOT APPROVED"));
    for way in [
        "/series/1/scans/50/figure.svg",
        "/series/1/overlay.svg",
        "/calibrations/1/figure.svg",
        "/results/4/scans/120/figure.svg",
    ] {
        let figure = browser.get(way);
        assert_eq!(figure.header("content-type"), "image/svg+xml", "{way}");
        assert!(figure.body.starts_with("<svg") && figure.body.contains("<style>"), "{way}");
        assert!(figure.header("content-security-policy").contains("sandbox"), "{way}");
    }
    let style = browser.get("/").body;
    let sheet = links(&style).find(|link| link.ends_with("page.css")).unwrap();
    assert!(browser.get(sheet).header("cache-control").contains("immutable"));
}

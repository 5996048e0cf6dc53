//! A result's uncertainty taken apart, by few draws at once and by many as long work.

use serde_json::Value;

use crate::browser::Browser;
use crate::placing::over;
use crate::study;

const RESULT: &str = "/results/4/budget";

fn document(browser: &Browser) -> Value {
    serde_json::from_str(&browser.get("/api/results/4/budget").body).unwrap()
}

#[test]
fn few_draws_stand_at_once_and_many_stay_once_they_were_made() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let head = browser.get("/api/head").body;
    let few = document(&browser);
    assert_eq!(few["monte_carlo"]["draws"], 10_000);
    let page = browser.get(RESULT).body;
    for line in few["budget"]["parts"].as_array().unwrap() {
        assert!(page.contains(line["name"].as_str().unwrap()), "{line}");
    }
    assert!(page.contains("Monte Carlo, 10000 draws"), "{page}");
    let (_, shown) = over(&browser, &browser.post(&format!("{RESULT}/draw"), &[]));
    assert!(shown.contains("Monte Carlo, 1000000 draws"), "{shown}");
    let many = document(&browser);
    assert_eq!(many["monte_carlo"]["draws"], 1_000_000);
    assert_eq!(many["budget"], few["budget"], "the law of propagation draws nothing");
    assert!(browser.get(RESULT).body.contains("Monte Carlo, 1000000 draws"));
    assert!(!browser.get(RESULT).body.contains("Draw a million times"));
    assert_eq!(browser.get("/api/head").body, head, "nothing is recorded");
}

#[test]
fn long_work_that_is_stopped_keeps_nothing() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let begun = browser.post(&format!("{RESULT}/draw"), &[]);
    let job = begun.header("location").to_owned();
    browser.post(&format!("{job}/stop"), &[]);
    let (_, shown) = over(&browser, &begun);
    assert!(shown.contains("stopped"), "{shown}");
    assert_eq!(document(&browser)["monte_carlo"]["draws"], 10_000);
}

#[test]
fn what_is_no_number_has_no_budget_and_says_so() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let study: Value = serde_json::from_str(&browser.get("/api/study").body).unwrap();
    let is_refused = |result: &&Value| result["outcome"] == "refused";
    let refused = study["results"].as_array().unwrap().iter().find(is_refused).unwrap();
    let label = refused["number"].as_str().unwrap();
    let page = browser.get(&format!("/results/{label}/budget"));
    assert!(page.body.contains("There is no budget: sample &quot;AV-04&quot; is refused"), "{}", page.body);
    let figure = browser.get(&format!("/results/{label}/budget/figure.svg"));
    assert_eq!(figure.status, axum::http::StatusCode::NOT_FOUND);
}

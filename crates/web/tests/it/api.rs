//! The documents for programs: described by one table, and answering as described.

use axum::http::StatusCode;
use serde_json::Value;

use crate::browser::Browser;
use crate::study;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

#[test]
fn every_described_document_answers_as_described() {
    let (_folder, path) = study::copy();
    let (_folder_of_the_year, year) = study::copy_of_the_year();
    let (few, many) = (Browser::on(&path), Browser::on(&year));
    let described = json(&few.get("/api/openapi.json").body);
    assert_eq!(described["openapi"], "3.1.0");
    let paths = described["paths"].as_object().unwrap();
    assert!(paths.len() >= 7, "{paths:?}");
    for (path, operations) in paths {
        let operation = &operations["get"];
        let way = path.replace("{result}", "4").replace("{series}", "1").replace("{scan}", "60");
        assert!(!way.contains('{'), "{path}: a parameter that this test does not know");
        // Quality over time needs more than the smaller scenario holds.
        let is_of_quality =
            ["/api/control", "/api/lots", "/api/validation", "/api/comparison"].contains(&way.as_str());
        let answer = if is_of_quality { many.get(&way) } else { few.get(&way) };
        assert_eq!(answer.status, StatusCode::OK, "{way}");
        assert_eq!(answer.header("content-type"), "application/json", "{way}");
        let document = json(&answer.body);
        let reference =
            operation["responses"]["200"]["content"]["application/json"]["schema"]["$ref"].as_str().unwrap();
        let name = reference.rsplit('/').next().unwrap();
        let schema = &described["components"]["schemas"][name];
        let described: Vec<&String> = schema["properties"].as_object().unwrap().keys().collect();
        let found: Vec<&String> = document.as_object().unwrap().keys().collect();
        let sorted = |mut names: Vec<&String>| {
            names.sort();
            names.into_iter().cloned().collect::<Vec<_>>()
        };
        if is_of_quality {
            // A field whose name holds the unit, or that may be null, is not described.
            assert!(described.iter().all(|name| found.contains(name)), "{way}: {found:?}");
        } else {
            assert_eq!(sorted(found), sorted(described), "{way}");
        }
        for (field, kind) in schema["properties"].as_object().unwrap() {
            let value = &document[field];
            let is_kind = match kind["type"].as_str().unwrap() {
                "object" => value.is_object(),
                "array" => value.is_array(),
                "string" => value.is_string(),
                "integer" => value.is_u64(),
                "number" => value.is_number(),
                "boolean" => value.is_boolean(),
                other => panic!("{other}"),
            };
            assert!(is_kind, "{way}: {field} is {value}");
        }
    }
}

#[test]
fn the_documents_are_those_of_the_command_line() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let page = json(&browser.get("/api/study").body);
    let overview =
        stillwell_study::Overview::of(&stillwell_study::Study::open_to_read(&path).unwrap()).unwrap();
    let printed = stillwell_report::json::text(&stillwell_report::json::study::overview(&overview, &path));
    assert_eq!(page, json(&printed));
}

#[test]
fn refusals_are_documents_too() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    for (way, status) in [
        ("/api/nowhere", StatusCode::NOT_FOUND),
        ("/api/results/99", StatusCode::NOT_FOUND),
        ("/api/series/x/scans", StatusCode::NOT_FOUND),
        ("/api/history?of=nobody", StatusCode::NOT_FOUND),
        ("/api/lots", StatusCode::NOT_FOUND),
        ("/api/comparison", StatusCode::NOT_FOUND),
        ("/api/results/%ff", StatusCode::BAD_REQUEST),
    ] {
        let answer = browser.get(way);
        assert_eq!(answer.status, status, "{way}");
        let refusal = json(&answer.body);
        assert_eq!(refusal["status"], u64::from(status.as_u16()), "{way}");
        assert!(!refusal["cure"].as_str().unwrap().is_empty(), "{way}");
    }
    let stranger = browser.send("GET", "/api/study", &[("cookie", "")], Vec::new());
    assert_eq!(
        (stranger.status, json(&stranger.body)["status"].as_u64()),
        (StatusCode::UNAUTHORIZED, Some(401))
    );
}

//! The documents for programs: described by one table, and answering as described.

use axum::http::StatusCode;
use serde_json::{Map, Value};

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
        let shapes = &described["components"]["schemas"];
        assert_eq!(departures(shapes, &shapes[name], &document, name), Vec::<String>::new(), "{way}");
    }
}

/// Where a document is not as described, of what these descriptions use; a field that no description names is one.
fn departures(shapes: &Value, shape: &Value, found: &Value, at: &str) -> Vec<String> {
    if let Some(reference) = shape["$ref"].as_str() {
        let name = reference.strip_prefix("#/components/schemas/").unwrap();
        return departures(shapes, &shapes[name], found, at);
    }
    if let Some(choices) = shape["anyOf"].as_array() {
        let all: Vec<_> = choices.iter().map(|choice| departures(shapes, choice, found, at)).collect();
        return if all.iter().any(Vec::is_empty) { Vec::new() } else { all.concat() };
    }
    if shape["type"].is_null() {
        // What each kind of record holds is the ledger's contract, not this one's: any value at all.
        assert!(
            shape == &Value::Bool(true)
                || shape.as_object().is_some_and(|all| all.keys().eq(["description"])),
            "{at}: {shape}"
        );
        return Vec::new();
    }
    let kinds: Vec<&str> = match shape["type"].as_array() {
        Some(kinds) => kinds.iter().map(|kind| kind.as_str().unwrap()).collect(),
        None => vec![shape["type"].as_str().unwrap()],
    };
    let is_of = |kind: &&str| match *kind {
        "object" => found.is_object(),
        "array" => found.is_array(),
        "string" => found.is_string(),
        "boolean" => found.is_boolean(),
        "integer" => found.is_i64() || found.is_u64(),
        "number" => found.is_number(),
        "null" => found.is_null(),
        // No kind of value that these descriptions know.
        _ => false,
    };
    if !kinds.iter().any(is_of) {
        return vec![format!("{at} is {found}, described as {kinds:?}")];
    }
    match found {
        Value::Object(fields) => of_fields(shapes, shape, fields, at),
        Value::Array(items) => {
            let each = items.iter().enumerate();
            each.flat_map(|(n, item)| departures(shapes, &shape["items"], item, &format!("{at}[{n}]")))
                .collect()
        }
        _ => Vec::new(),
    }
}

fn of_fields(shapes: &Value, shape: &Value, fields: &Map<String, Value>, at: &str) -> Vec<String> {
    let required = shape["required"].as_array().into_iter().flatten().map(|name| name.as_str().unwrap());
    let missing =
        required.filter(|name| !fields.contains_key(*name)).map(|name| format!("{at}.{name} is missing"));
    let is_open = shape["additionalProperties"] == Value::Bool(true);
    let others = fields.iter().flat_map(|(name, value)| match shape["properties"].get(name) {
        Some(described) => departures(shapes, described, value, &format!("{at}.{name}")),
        None if is_open => Vec::new(),
        None => vec![format!("{at}.{name} is not described")],
    });
    missing.chain(others).collect()
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

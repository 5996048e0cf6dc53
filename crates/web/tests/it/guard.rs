//! Strangers get nothing: other hosts, other origins, no session, no token, too much.

use axum::http::StatusCode;

use crate::browser::{Browser, form};
use crate::study;

#[test]
fn the_printed_address_lets_in_and_nothing_else_does() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let without = |way: &str| browser.send("GET", way, &[("cookie", "")], Vec::new());
    assert_eq!(without("/").status, StatusCode::UNAUTHORIZED);
    assert!(!without("/").body.contains("wells"), "a stranger learns nothing of the study");
    assert_eq!(without("/enter?token=guess").status, StatusCode::FORBIDDEN);
    assert_eq!(without("/enter").status, StatusCode::FORBIDDEN);

    let address = browser.site.address();
    let way = address.strip_prefix("http://127.0.0.1:4711").unwrap();
    let entered = without(way);
    assert_eq!(entered.status, StatusCode::SEE_OTHER);
    let cookie = entered.header("set-cookie").to_owned();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
    let pair = cookie.split(';').next().unwrap();
    assert_eq!(browser.send("GET", "/", &[("cookie", pair)], Vec::new()).status, StatusCode::OK);
}

#[test]
fn other_hosts_and_origins_are_turned_away() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let get = |header: (&str, &str)| browser.send("GET", "/", &[header], Vec::new()).status;
    for host in [
        "",
        "evil.example",
        "evil.example:4711",
        "127.0.0.1",
        "127.0.0.1:4712",
        "127.0.0.1.evil.example:4711",
    ] {
        assert_eq!(get(("host", host)), StatusCode::MISDIRECTED_REQUEST, "{host}");
    }
    for site in ["cross-site", "same-site", "x"] {
        assert_eq!(get(("sec-fetch-site", site)), StatusCode::FORBIDDEN, "{site}");
    }
    let token = browser.site.launch().form_token("/theme");
    let body = form(&[("form-token", &token), ("theme", "dark")]);
    let post = |header: (&str, &str)| browser.send("POST", "/theme", &[header], body.clone()).status;
    assert_eq!(post(("x-nothing", "1")), StatusCode::SEE_OTHER);
    for origin in ["http://evil.example", "null", "http://127.0.0.1:4712", "https://127.0.0.1:4711"] {
        assert_eq!(post(("origin", origin)), StatusCode::FORBIDDEN, "{origin}");
    }
}

#[test]
fn every_answer_forbids_what_no_page_of_ours_needs() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    for way in ["/", "/nowhere", "/enter", "/api/nowhere"] {
        let answer = browser.get(way);
        let policy = answer.header("content-security-policy");
        assert!(
            policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"),
            "{way}: {policy}"
        );
        assert!(!policy.contains("unsafe"), "{way}: {policy}");
        assert_eq!(answer.header("cache-control"), "no-store", "{way}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{way}");
        assert_eq!(answer.header("referrer-policy"), "same-origin", "{way}");
    }
}

#[test]
fn a_form_without_its_token_does_nothing() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let launch = browser.site.launch();
    for token in ["", "guess", &launch.form_token("/other"), &launch.token(), &launch.session()] {
        let sent = browser.send("POST", "/theme", &[], form(&[("form-token", token), ("theme", "dark")]));
        assert_eq!(sent.status, StatusCode::FORBIDDEN, "{token}");
    }
    assert_eq!(browser.send("POST", "/theme", &[], Vec::new()).status, StatusCode::FORBIDDEN);
}

#[test]
fn too_much_is_not_read() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let sent = browser.post("/theme", &[("theme", &"x".repeat(100_000))]);
    assert_eq!(sent.status, StatusCode::PAYLOAD_TOO_LARGE);
}

#[test]
fn paths_lead_to_no_file() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    for way in [
        "/assets/..%2f..%2fCargo.toml",
        "/assets/%2e%2e/%2e%2e/etc/passwd",
        "/assets/000000000000-page.css",
        "/assets/-",
        "/../../etc/passwd",
        "//etc/passwd",
        "/assets/a-..%5c..%5cx.css",
    ] {
        assert_eq!(browser.get(way).status, StatusCode::NOT_FOUND, "{way}");
    }
}

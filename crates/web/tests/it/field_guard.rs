//! Strangers at the field's address get nothing; and its colours can be read in the sun.

use std::collections::BTreeMap;

use axum::http::StatusCode;
use stillwell_field::Field;
use stillwell_study::Study;

use crate::browser::Answered;
use crate::field::study;
use crate::field_phone::{ORIGIN, Phone, Served, multipart};
use crate::wells::{analyst, campaign_text};

#[test]
fn without_pairing_there_is_only_the_page_that_pairs() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    for way in ["/field", "/field/new", "/field/run/run-000001", "/field/steps"] {
        let answer = at.send("GET", way, &[], Vec::new());
        assert_eq!(answer.status, StatusCode::UNAUTHORIZED, "{way}");
        assert!(!answer.body.contains("AVW-") && !answer.body.contains("Alder"), "{way}: {}", answer.body);
    }
    for way in ["/scans", "/results", "/ledger", "/api/study", "/keys", "/enter", "/field/run"] {
        let paired = at.pair();
        let answer = at.send("GET", way, &[("cookie", &paired)], Vec::new());
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "the analyst's pages are not here: {way}");
    }
}

#[test]
fn a_code_pairs_one_phone_once() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let code = at.site.new_code().unwrap();
    let page = at.send("GET", &format!("/field/pair?code={code}"), &[], Vec::new());
    assert!(page.body.contains(&code), "opening the picture's address uses nothing up");
    let paired = at.try_code(&code, "");
    let cookie = paired.header("set-cookie").to_owned();
    for part in ["HttpOnly", "SameSite=Strict", "Path=/field", "Max-Age="] {
        assert!(cookie.contains(part), "{cookie}");
    }
    assert!(!cookie.contains("Secure"));
    assert_eq!(at.try_code(&code, "").status, StatusCode::FORBIDDEN);
    let late = at.site.new_code().unwrap();
    at.wait(601);
    assert_eq!(at.try_code(&late, "").status, StatusCode::FORBIDDEN);
    let code = at.site.new_code().unwrap();
    at.wait(61);
    let headers = [
        ("host", "wells.example"),
        ("origin", "https://wells.example"),
        ("content-type", "application/x-www-form-urlencoded"),
    ];
    let secure = at.send("POST", "/field/pair", &headers, format!("code={code}").into_bytes());
    assert!(secure.header("set-cookie").contains("; Secure"), "behind TLS");
}

/// A try from an address, as a proxy of this computer states it.
fn tried_from(at: &Served, address: &str, code: &str) -> Answered {
    let headers = [("content-type", "application/x-www-form-urlencoded"), ("x-forwarded-for", address)];
    at.send("POST", "/field/pair", &headers, format!("code={code}").into_bytes())
}

#[test]
fn guessing_is_slowed_down_for_who_guesses() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let code = at.site.new_code().unwrap();
    for _ in 0..5 {
        assert_eq!(tried_from(&at, "192.0.2.66", "22222222").status, StatusCode::FORBIDDEN);
    }
    let slowed = tried_from(&at, "192.0.2.66", &code);
    assert_eq!((slowed.status, slowed.header("retry-after")), (StatusCode::TOO_MANY_REQUESTS, "60"));
    // Nobody else is held up.
    assert_eq!(tried_from(&at, "192.0.2.7", &code).status, StatusCode::SEE_OTHER);
    let code = at.site.new_code().unwrap();
    at.wait(61);
    assert_eq!(tried_from(&at, "192.0.2.66", &code).status, StatusCode::SEE_OTHER);
}

#[test]
fn guesses_of_many_addresses_are_held_up_together() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let code = at.site.new_code().unwrap();
    let answers = (0..80).map(|n| tried_from(&at, &format!("192.0.2.{n}"), "22222222").status);
    assert_eq!(answers.filter(|status| *status == StatusCode::FORBIDDEN).count(), 60);
    assert_eq!(tried_from(&at, "192.0.2.200", &code).status, StatusCode::TOO_MANY_REQUESTS);
    at.wait(61);
    assert_eq!(tried_from(&at, "192.0.2.200", &code).status, StatusCode::SEE_OTHER);
}

#[test]
fn a_pairing_outlives_the_server_and_holds_no_token_on_disk() {
    let (folder, path) = study();
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    phone.at_well(&at, "AVW-11");
    let kept = std::fs::read_to_string(folder.path().join("wells.study.phones")).unwrap();
    assert!(!kept.contains(phone.cookie.split('=').nth(1).unwrap()), "only a hash is kept");
    let at = at.restarted(&path);
    phone.looks(&at);
    // Paired again, it keeps its name and its open run.
    let code = at.site.new_code().unwrap();
    let again = at.try_code(&code, &phone.cookie);
    let old = std::mem::replace(
        &mut phone.cookie,
        again.header("set-cookie").split(';').next().unwrap().to_owned(),
    );
    assert_ne!(old, phone.cookie);
    phone.looks(&at);
    phone.does(&at, "strip", &[("code", "K21A-101")], None);
    assert_eq!(at.send("GET", "/field", &[("cookie", &old)], Vec::new()).status, StatusCode::UNAUTHORIZED);
    // And it ends.
    at.wait(31 * 24 * 3600);
    let ended = at.send("GET", "/field", &[("cookie", &phone.cookie)], Vec::new());
    assert_eq!(ended.status, StatusCode::UNAUTHORIZED);
}

#[test]
fn a_phone_is_paired_for_one_campaign_only() {
    let (_folder, path) = study();
    let one = Served::on(&path);
    let phone = Phone::paired(&one);
    let text = campaign_text().replace("summer round", "autumn round").replace("AVW-1", "AVX-1");
    let mut writing = Study::open_now(&path).unwrap();
    Field::record(&mut writing, "campaign.toml", &text, &analyst()).unwrap();
    drop(writing);
    let other = Served::at(&path, one.now_ms.clone(), Some("2"));
    let token = phone.cookie.split('=').nth(1).unwrap();
    let theirs = other.pair();
    let as_theirs = format!("{}={token}", theirs.split('=').next().unwrap());
    for cookie in [phone.cookie.as_str(), as_theirs.as_str()] {
        let answer = other.send("GET", "/field", &[("cookie", cookie)], Vec::new());
        assert_eq!(answer.status, StatusCode::UNAUTHORIZED, "{cookie}");
    }
    let steps = other.send("GET", "/field/steps", &[("cookie", &theirs)], Vec::new()).body;
    assert!(steps.contains("AVX-11") && !steps.contains("AVW-11"));
}

#[test]
fn other_hosts_origins_and_forms_are_turned_away() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let phone = Phone::paired(&at);
    let cookie = ("cookie", phone.cookie.as_str());
    for host in ["", "evil.example", "192.0.2.7", "192.0.2.7:8091", "127.0.0.1:8090"] {
        let answer = at.send("GET", "/field", &[cookie, ("host", host)], Vec::new());
        assert_eq!(answer.status, StatusCode::MISDIRECTED_REQUEST, "{host}");
    }
    for origin in ["http://evil.example", "null", "https://192.0.2.7:8090", "https://wells.example"] {
        let code = at.site.new_code().unwrap();
        let headers = [("origin", origin), ("content-type", "application/x-www-form-urlencoded")];
        let answer = at.send("POST", "/field/pair", &headers, format!("code={code}").into_bytes());
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{origin}");
    }
    let cross = at.send("GET", "/field", &[cookie, ("sec-fetch-site", "cross-site")], Vec::new());
    assert_eq!(cross.status, StatusCode::FORBIDDEN);
    let other = Phone::paired(&at);
    let theirs = crate::field_phone::attribute(&other.page, "name=\"form-token\" value=\"");
    for token in ["", "guess", theirs.as_str()] {
        let fields = [
            ("form-token", token),
            ("place", "1"),
            ("key", "key-000001"),
            ("deed", "well"),
            ("code", "AVW-11"),
        ];
        assert_eq!(phone.posts(&at, multipart(&fields, None)).status, StatusCode::FORBIDDEN, "{token}");
    }
    assert_eq!(phone.posts(&at, b"no form".to_vec()).status, StatusCode::FORBIDDEN);
}

#[test]
fn too_much_is_not_read() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let phone = Phone::paired(&at);
    let large = vec![b'x'; 5 << 20];
    assert_eq!(phone.posts(&at, phone.form("file", &[], Some(&large))).status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(at.try_code(&"x".repeat(10_000), "").status, StatusCode::PAYLOAD_TOO_LARGE);
    let long = "x".repeat(300);
    assert_eq!(phone.posts(&at, phone.form("well", &[("code", &long)], None)).status, StatusCode::FORBIDDEN);
}

#[test]
fn every_answer_forbids_what_no_page_of_ours_needs() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let phone = Phone::paired(&at);
    for way in ["/field", "/field/pair", "/field/steps", "/field/service-worker.js", "/nowhere"] {
        let answer = at.send("GET", way, &[("cookie", &phone.cookie)], Vec::new());
        let policy = answer.header("content-security-policy");
        for part in
            ["default-src 'none'", "frame-ancestors 'none'", "manifest-src 'self'", "worker-src 'self'"]
        {
            assert!(policy.contains(part), "{way}: {policy}");
        }
        assert!(!policy.contains("unsafe"), "{way}: {policy}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{way}");
        assert_eq!(answer.header("referrer-policy"), "same-origin", "{way}");
        assert!(!answer.body.contains(" style=") && !answer.body.contains("onclick"), "{way}");
    }
    let manifest = at.send("GET", "/field/manifest.webmanifest", &[], Vec::new());
    assert_eq!(manifest.header("content-type"), "application/manifest+json");
    assert!(manifest.body.contains("\"start_url\":\"/field\""), "{}", manifest.body);
    let worker = at.send("GET", "/field/service-worker.js", &[], Vec::new());
    assert!(worker.body.contains("-field.css\"") && !worker.body.contains("FILES\"]"), "{}", worker.body);
    assert_eq!(at.send("GET", "/field", &[("origin", ORIGIN)], Vec::new()).status, StatusCode::UNAUTHORIZED);
}

#[test]
fn the_scripts_are_small_and_evaluate_nothing() {
    for (name, most) in [("field.js", 16_000), ("service-worker.js", 3_000)] {
        let text = std::fs::read_to_string(
            std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("assets").join(name),
        )
        .unwrap();
        assert!(text.len() < most, "{name}: {} bytes", text.len());
        for forbidden in ["eval(", "innerHTML", "document.write", "new Function", "http://", "https://"] {
            assert!(!text.contains(forbidden), "{name}: {forbidden}");
        }
    }
}

/// `rsvg-convert -w SIDE -h SIDE field.svg -o field-SIDE.png` made them; here each colour is looked for where the drawing has it.
#[test]
fn the_icons_in_pixels_are_those_of_the_drawing() {
    let assets = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("assets");
    let drawing = std::fs::read_to_string(assets.join("field.svg")).unwrap();
    for side in [192_u32, 512] {
        let pixels = image::open(assets.join(format!("field-{side}.png"))).unwrap().to_rgb8();
        assert_eq!(pixels.dimensions(), (side, side));
        for (part, colour, [x, y]) in [
            ("ground", "#0b3a3d", [10, 10]),
            ("drop", "#fffdf5", [96, 80]),
            ("line in the drop", "#0b3a3d", [96, 108]),
            ("bar", "#a9e3d6", [96, 150]),
        ] {
            assert!(drawing.contains(colour), "{part}");
            let [red, green, blue] = pixels.get_pixel(x * side / 192, y * side / 192).0;
            assert_eq!(format!("#{red:02x}{green:02x}{blue:02x}"), colour, "{part} at {side}");
        }
        // All that is drawn lies in the circle that a mask may cut out: four fifths across (W3C manifest, icon masks).
        for (x, y, pixel) in pixels.enumerate_pixels() {
            let from_middle = libm::hypot(
                f64::from(x) + 0.5 - f64::from(side) / 2.0,
                f64::from(y) + 0.5 - f64::from(side) / 2.0,
            );
            let is_ground = pixel.0 == [0x0b, 0x3a, 0x3d];
            assert!(is_ground || from_middle <= 0.4 * f64::from(side), "{side}: {x}, {y}");
        }
    }
    let (_folder, path) = study();
    let at = Served::on(&path);
    let manifest = at.send("GET", "/field/manifest.webmanifest", &[], Vec::new()).body;
    let manifest: serde_json::Value = serde_json::from_str(&manifest).unwrap();
    for icon in manifest["icons"].as_array().unwrap() {
        let answer = at.send("GET", icon["src"].as_str().unwrap(), &[], Vec::new());
        assert_eq!(
            (answer.status, answer.header("content-type")),
            (StatusCode::OK, icon["type"].as_str().unwrap())
        );
    }
    assert_eq!(manifest["icons"].as_array().unwrap().len(), 6);
}

/// Relative luminance of `#rrggbb` (WCAG 2.2, definition of relative luminance).
fn luminance(colour: &str) -> f64 {
    let part = |at: usize| {
        let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { libm::pow((value + 0.055) / 1.055, 2.4) }
    };
    0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
}

/// Contrast ratio (WCAG 2.2, definition of contrast ratio).
fn contrast(one: &str, other: &str) -> f64 {
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn every_text_stands_out_seven_to_one_by_day_and_by_night() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    let css =
        std::fs::read_to_string(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/field.css"))
            .unwrap();
    let grounds: Vec<BTreeMap<&str, &str>> = css
        .split('}')
        .filter(|block| block.contains("--ground:"))
        .map(|block| {
            let pairs = block.split([';', '{']).filter_map(|line| line.trim().split_once(':'));
            pairs
                .filter(|(name, _)| name.starts_with("--"))
                .map(|(name, value)| (name.trim(), value.trim()))
                .collect()
        })
        .collect();
    assert_eq!(grounds.len(), 3, "day, night, and night by the system");
    assert_eq!(grounds[1], grounds[2]);
    for colours in &grounds {
        for (ink, ground) in [
            ("--ink", "--ground"),
            ("--ink", "--sheet"),
            ("--soft", "--ground"),
            ("--on-press", "--press"),
            ("--below-ink", "--below-ground"),
            ("--above-ink", "--above-ground"),
            ("--near-ink", "--near-ground"),
            ("--unknown-ink", "--unknown-ground"),
            ("--bad-ink", "--bad-ground"),
            ("--focus", "--ground"),
        ] {
            let found = contrast(colours[ink], colours[ground]);
            println!("{ink} on {ground}: {found:.2}");
            assert!(found >= 7.0, "{ink} on {ground}: {found:.2}");
        }
    }
}

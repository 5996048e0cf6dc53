//! Acts from the page: each needs a person and a reason, and becomes a record; undoing is a new one.

use axum::http::StatusCode;
use stillwell_study::{SigningPerson, Study, StudyRole};

use crate::browser::{Browser, form};
use crate::study;

const BY: [(&str, &str); 2] = [("actor", "Ines Field"), ("reason", "seen at the bench")];

fn with<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    BY.iter().chain(more).copied().collect()
}

fn n_records(path: &std::path::Path) -> u64 {
    Study::open_to_read(path).unwrap().anchor().unwrap().seq
}

/// Every act's address, with fields that would do it.
const ACTS: [(&str, &[(&str, &str)]); 11] = [
    ("/series/1/issue", &[]),
    ("/series/1/scans/50/exclude", &[]),
    ("/series/1/scans/50/override", &[("check", "noise")]),
    ("/results/1/withdraw", &[]),
    ("/calibrations/1/withdraw", &[]),
    ("/calibrations/1/validity", &[("last_day", "2026-12-31"), ("triggers", "new reference, new bottle")]),
    ("/calibrations/1/end", &[("on", "2026-05-31")]),
    (
        "/custody",
        &[
            ("sample", "AV-01"),
            ("place", "mill"),
            ("taken", "2026-05-12"),
            ("taken_by", "Ines Field"),
            ("preservation", "cooled"),
            ("dilution", "none"),
        ],
    ),
    ("/keys", &[("name", "Mara Reed"), ("public_key", "00"), ("role", "approver")]),
    ("/results/1/approve", &[("word", "approved"), ("passphrase", "x")]),
    ("/lots", &[("lot", "L21"), ("last_day", "2027-01-01"), ("passphrase", "x")]),
];

#[test]
fn no_act_without_its_token_person_and_reason() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let before = n_records(&path);
    for (way, more) in ACTS {
        let sent = browser.send("POST", way, &[], form(&with(more)));
        assert_eq!(sent.status, StatusCode::FORBIDDEN, "{way} without a token");
        let other = browser.site.launch().form_token("/theme");
        let mut fields = vec![("form-token", other.as_str())];
        fields.extend(with(more));
        assert_eq!(
            browser.send("POST", way, &[], form(&fields)).status,
            StatusCode::FORBIDDEN,
            "{way} with another's"
        );
        for missing in ["actor", "reason"] {
            if matches!(way, "/results/1/approve" | "/lots") {
                continue;
            }
            let fields: Vec<_> = with(more).into_iter().filter(|(name, _)| *name != missing).collect();
            let sent = browser.post(way, &fields);
            assert_eq!(
                sent.status,
                StatusCode::UNPROCESSABLE_ENTITY,
                "{way} without {missing}: {}",
                sent.body
            );
        }
        let sent = browser.send("GET", way, &[], Vec::new());
        assert!(
            matches!(sent.status, StatusCode::METHOD_NOT_ALLOWED | StatusCode::OK),
            "{way}: reading does nothing"
        );
    }
    assert_eq!(n_records(&path), before, "nothing was recorded");
}

#[test]
fn a_scan_is_left_out_the_result_is_issued_anew_and_all_of_it_is_undone() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let place = (1..=216)
        .find(|place| {
            browser
                .get(&format!("/series/1/scans/{place}"))
                .body
                .contains("sample <strong dir=\"auto\">AV-02</strong>")
        })
        .unwrap();
    let way = format!("/series/1/scans/{place}");
    let done = browser.post(&format!("{way}/exclude"), &BY);
    assert_eq!(done.status, StatusCode::OK, "{}", done.body);
    assert!(done.body.contains("is left out from now on") && done.body.contains("seen at the bench"));
    assert!(done.header("set-cookie").contains("Ines%20Field"), "the name is offered again");
    assert!(browser.get(&way).body.contains("left out: seen at the bench"));
    assert_eq!(
        browser.post(&format!("{way}/exclude"), &BY).status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "left out twice"
    );

    assert_eq!(browser.post("/series/1/issue", &BY).status, StatusCode::OK);
    let old = browser.get("/results/4").body;
    assert!(
        old.contains("No: it no longer counts") && old.contains("replaced"),
        "the earlier result is kept"
    );
    assert!(browser.get("/results?only=past").body.contains("AV-02"));

    let page = browser.get(&way).body;
    let undo = page
        .split("action=\"")
        .filter_map(|rest| rest.split('"').next())
        .find(|act| act.starts_with("/undo/"));
    let done = browser.post(undo.unwrap(), &BY);
    assert_eq!(done.status, StatusCode::OK, "{}", done.body);
    assert!(!browser.get(&way).body.contains("left out: seen at the bench"));
    assert!(browser.get("/ledger").body.contains("undone"));
}

#[test]
fn a_withdrawn_calibration_withholds_the_verdicts_that_rest_on_it() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let before = browser.get("/results/1").body;
    assert!(before.contains("nitrate below"), "{before}");
    let done = browser.post("/calibrations/1/withdraw", &BY);
    assert!(done.body.contains("It touches 3 issued results"), "{}", done.body);
    let after = browser.get("/results/1").body;
    assert!(
        after.contains("Verdict withheld") && !after.contains("nitrate below"),
        "a withheld verdict is shown"
    );
    let api = browser.get("/api/results/1").body;
    assert!(!api.contains("nitrate below"), "a withheld verdict is sent");
    let table = browser.get("/results.csv").body;
    assert!(table.lines().any(|line| line.starts_with("1,") && line.contains("withheld")), "{table}");
}

#[test]
fn only_the_owner_of_the_servers_key_signs_and_never_what_they_recorded() {
    let (folder, path) = study::copy();
    let key = folder.path().join("mara.key");
    let person = SigningPerson::create(&key, "Mara Reed", "three words of mine").unwrap();
    let sign = |browser: &Browser, passphrase: &str| {
        browser.post(
            "/results/1/approve",
            &[("word", "approved"), ("reason", "looked at"), ("passphrase", passphrase)],
        )
    };
    let without = Browser::on(&path);
    let refused = sign(&without, "three words of mine");
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.body.contains("started without a key"), "{}", refused.body);
    assert!(
        without.get("/results/1").body.contains("stillwell study approve"),
        "the command is shown instead"
    );

    let browser = Browser::with_key(&path, Some(&key));
    assert_eq!(
        sign(&browser, "three words of mine").status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "a key the study does not know"
    );
    let digits = person.public_key().to_string();
    let added =
        browser.post("/keys", &with(&[("name", "Mara Reed"), ("public_key", &digits), ("role", "approver")]));
    assert_eq!(added.status, StatusCode::OK, "{}", added.body);
    assert!(browser.get("/results/1").body.contains("Passphrase of your key"));
    assert_eq!(sign(&browser, "another phrase").status, StatusCode::UNPROCESSABLE_ENTITY);
    let signed = sign(&browser, "three words of mine");
    assert_eq!(signed.status, StatusCode::OK, "{}", signed.body);
    assert!(!signed.body.contains("three words of mine"), "the passphrase comes back");
    assert!(browser.get("/results/1").body.contains("its calibration 1 is not approved"));
    let calibration = [("word", "approved"), ("reason", "looked at"), ("passphrase", "three words of mine")];
    assert_eq!(browser.post("/calibrations/1/approve", &calibration).status, StatusCode::OK);
    assert!(browser.get("/results/1").body.contains("Yes, within what the method covers"));
    let study = Study::open_to_read(&path).unwrap();
    assert!(study.keys().unwrap().iter().any(|(_, key)| key.role == StudyRole::Approver));
    drop(study);

    // Ines recorded the results: her own key may not approve them.
    let own = folder.path().join("ines.key");
    let ines = SigningPerson::create(&own, "Ines Field", "other words of mine").unwrap();
    let browser = Browser::with_key(&path, Some(&own));
    let page = browser.get("/results/2").body;
    assert!(page.contains("not that of an approver"), "{page}");
    let digits = ines.public_key().to_string();
    let unvouched = browser
        .post("/keys", &with(&[("name", "Ines Field"), ("public_key", &digits), ("role", "approver")]));
    assert_eq!(
        unvouched.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "a second approver needs the word of the first"
    );
}

#[test]
fn custody_and_validity_go_on_record() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    for (way, more) in ACTS.iter().filter(|(way, _)| way.contains("custody") || way.contains("validity")) {
        let done = browser.post(way, &with(more));
        assert_eq!(done.status, StatusCode::OK, "{way}: {}", done.body);
    }
    let bad = browser.post("/custody", &with(&[("sample", "AV-01"), ("holding_time_h", "soon")]));
    assert_eq!(bad.status, StatusCode::UNPROCESSABLE_ENTITY);
    for taken in ["2136-05-01", "2026-05-12T25:00:00Z", "2026-05-14"] {
        let more = [("sample", "AV-01"), ("place", "mill"), ("taken", taken), ("taken_by", "Ines Field")];
        let more = [&more[..], &[("preservation", "cooled"), ("dilution", "none")]].concat();
        assert_eq!(
            browser.post("/custody", &with(&more)).status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{taken}"
        );
    }
    let ledger = browser.get("/ledger").body;
    assert!(ledger.contains("may be used until 2026-12-31") && ledger.contains("taken at mill"), "{ledger}");
}

#[test]
fn a_program_acts_with_the_launchs_token_alone() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    let bearer = format!("Bearer {}", browser.site.launch().token());
    let as_program =
        [("authorization", bearer.as_str()), ("cookie", ""), ("origin", ""), ("sec-fetch-site", "")];
    let done = browser.send("POST", "/results/1/withdraw", &as_program, form(&BY));
    assert_eq!(done.status, StatusCode::OK, "{}", done.body);
    let wrong = [("authorization", "Bearer guess"), ("cookie", ""), ("origin", ""), ("sec-fetch-site", "")];
    assert_eq!(
        browser.send("POST", "/results/2/withdraw", &wrong, form(&BY)).status,
        StatusCode::UNAUTHORIZED
    );
}

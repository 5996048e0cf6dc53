//! Every path of an operator at the pages: each ends in one number with its basis and one verdict, or in a refusal.

use stillwell_study::Study;
use stillwell_twin::Fault;
use tempfile::TempDir;

use crate::field_phone::{Phone, Served, attribute, multipart};
use crate::wells::{Dip, Station};

/// A study with an approved campaign, and its folder.
pub(crate) fn study() -> (TempDir, std::path::PathBuf) {
    let station = Station::new();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    std::fs::copy(station.folder().join("wells.study"), &path).unwrap();
    (folder, path)
}

/// A living control at a well, and then strips for water.
fn water(dips: &[Dip]) -> (TempDir, Served, Phone) {
    let (folder, path) = study();
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    phone.at_well(&at, "AVW-11");
    phone.control(&at, 101);
    for dip in dips {
        phone.measures(&at, dip);
    }
    (folder, at, phone)
}

const BASIS: &str = "This counts the whole nitrate (NO₃⁻).";
const UNKNOWN: &str = "NO RESULT. Treat this water as unknown. Do not use it for infants (babies).";

fn is_a_result(phone: &Phone, verdict: &str) {
    phone.shows(&[
        verdict,
        BASIS,
        "mg/L as NO₃⁻",
        "Number of this result:",
        "until 2026-08-31",
        "tel:5550100",
    ]);
    phone.hides(&[UNKNOWN, "name=\"deed\""]);
    assert_eq!(phone.page.matches("class=\"number\"").count(), 1);
}

fn is_unknown(phone: &Phone, why: &str) {
    phone.shows(&[UNKNOWN, why, "tel:5550100"]);
    phone.hides(&["class=\"number\"", BASIS, "name=\"deed\""]);
}

#[test]
fn below_and_above_and_far_above() {
    for (truth, verdict) in
        [(17.6, "Below the limit of 50"), (77.7, "ABOVE the limit of 50"), (160.0, "ABOVE the limit of 50")]
    {
        let (_folder, _at, phone) = water(&[Dip::new(102, truth)]);
        is_a_result(&phone, verdict);
    }
}

#[test]
fn near_the_limit_a_second_strip_is_asked_for_and_both_must_agree() {
    let (_folder, at, mut phone) = water(&[Dip::new(102, 40.0)]);
    phone.shows(&["One strip is not enough for this water.", "Water, second strip"]);
    phone.hides(&["class=\"number\"", BASIS]);
    phone.measures(&at, &Dip::new(103, 40.0));
    is_a_result(&phone, "Below the limit of 50");
    let (_folder, _at, phone) = water(&[Dip::new(102, 40.0), Dip::new(103, 60.0)]);
    is_unknown(&phone, "The two strips do not agree.");
}

#[test]
fn a_dead_strip_in_the_control_vial() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    phone.at_well(&at, "AVW-11");
    phone.measures(&at, &Dip::new(101, 25.0).with(Fault::DeadStrip));
    is_unknown(&phone, "The test strip did not show what is in the control vial.");
}

#[test]
fn what_is_wrong_before_the_scan_is_said_and_nothing_is_lost() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    phone.does(&at, "well", &[("code", "AVW-99")], None);
    phone.shows(&["The code “AVW-99” is not on the list of wells."]);
    phone.at_well(&at, "AVW-11");
    phone.does(&at, "strip", &[("code", "K21B-201")], None);
    phone.shows(&["The strip K21B-201 was good until 2026-06-30. It is too old."]);
    phone.does(&at, "strip", &[("code", "<b>K")], None);
    phone.shows(&["The box “&lt;b&gt;K” is not on the list."]);
    phone.does(&at, "strip", &[("code", "K21A-101")], None);
    phone.does(&at, "temperature", &[("temperature", "34,0")], None);
    phone.shows(&["34.0 °C is too warm. It must be at most 30.0 °C."]);
    phone.does(&at, "temperature", &[("temperature", "warm")], None);
    phone.shows(&["This cannot be the right number."]);
    phone.does(&at, "temperature", &[("temperature", "21,5")], None);
    phone.does(&at, "rinse", &[], None);
    at.wait(15);
    phone.does(&at, "apply", &[], None);
    phone.shows(&["Wait 60 seconds.", "data-least=\"60\""]);
    at.wait(32);
    phone.looks(&at);
    phone.shows(&["Wait 28 seconds."]);
    phone.does(&at, "start", &[], None);
    phone.shows(&["It is too soon. Wait 28 more seconds."]);
    phone.does(&at, "file", &[], Some(b"1,2"));
    phone.shows(&["This step does not come now."]);
    at.wait(40);
    phone.does(&at, "start", &[], None);
    at.wait(20);
    phone.does(&at, "file", &[], Some(b"nothing that holds a scan"));
    phone.shows(&["This file cannot be read"]);
    phone.does(&at, "file", &[], Some(&Dip::new(101, 25.0).file(2)));
    phone.shows(&["The test strip works."]);
    phone.does(&at, "abandon", &[("why", "spilt")], None);
    is_unknown(&phone, "The test was stopped.");
}

#[test]
fn two_phones_at_one_well_are_told_and_see_nothing_of_each_other() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let mut one = Phone::paired(&at);
    one.at_well(&at, "AVW-11");
    one.hides(&["Someone else is measuring this well now."]);
    let mut other = Phone::paired(&at);
    other.at_well(&at, "AVW-11");
    one.looks(&at);
    one.shows(&["Someone else is measuring this well now."]);
    other.shows(&["Someone else is measuring this well now."]);
    // One's own test that was stopped is nobody else.
    let mut alone = Phone::paired(&at);
    alone.at_well(&at, "AVW-13");
    alone.does(&at, "abandon", &[("why", "spilt")], None);
    alone.begins(&at);
    alone.at_well(&at, "AVW-13");
    alone.hides(&["Someone else is measuring this well now."]);
    let way = format!("/field/run/{}", one.run);
    assert_eq!(at.send("GET", &way, &[("cookie", &other.cookie)], Vec::new()).status.as_u16(), 404);
    let list = at.send("GET", "/field", &[("cookie", &other.cookie)], Vec::new()).body;
    assert!(list.contains(&other.run) && !list.contains(&one.run));
    let body = other.form("strip", &[("code", "K21A-101")], None);
    let theirs = Phone { cookie: other.cookie.clone(), run: one.run.clone(), page: String::new() };
    assert_eq!(theirs.posts(&at, body).status.as_u16(), 409, "nothing is handed into another's run");
}

#[test]
fn the_server_killed_at_each_step_and_every_form_sent_twice() {
    let (_folder, path) = study();
    let mut at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    let dips = [Dip::new(101, 25.0), Dip::new(102, 17.6)];
    let mut steps = vec![(0, "well", vec![("code", "AVW-11".to_owned())], None)];
    for dip in &dips {
        steps.extend([
            (5, "strip", vec![("code", format!("K21A-{}", dip.strip))], None),
            (20, "temperature", vec![("temperature", "21.0".to_owned())], None),
            (3, "rinse", vec![], None),
            (15, "apply", vec![], None),
            (65, "start", vec![], None),
            (20, "file", vec![], Some(dip.file(2))),
        ]);
    }
    let n = steps.len();
    for (wait, deed, more, file) in steps {
        at.wait(wait);
        let more: Vec<(&str, &str)> = more.iter().map(|(name, value)| (*name, value.as_str())).collect();
        let body = phone.form(deed, &more, file.as_deref());
        assert_eq!(phone.posts(&at, body.clone()).status.as_u16(), 303, "{deed}");
        at = at.restarted(&path);
        // The answer was lost: the same form once more, and once more later.
        assert_eq!(phone.posts(&at, body.clone()).status.as_u16(), 303, "{deed} again");
        assert_eq!(phone.posts(&at, body).status.as_u16(), 303, "{deed} a third time");
        phone.looks(&at);
    }
    is_a_result(&phone, "Below the limit of 50");
    let study = Study::open_now(&path).unwrap();
    assert_eq!(study.field_steps().unwrap().len(), n);
    assert_eq!(study.determinations().unwrap().len(), 1);
}

/// What the script does: steps with the phone's own times, handed in hours later, and why one is not taken.
#[test]
fn a_run_without_a_link_is_handed_in_late_and_in_order() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let phone = Phone::paired(&at);
    let token = attribute(&phone.page, "name=\"form-token\" value=\"");
    let mut steady: u64 = 900_000;
    let mut steps: Vec<(u64, &str, String, Option<Vec<u8>>)> = vec![(steady, "well", "AVW-11".into(), None)];
    for dip in [Dip::new(101, 25.0), Dip::new(102, 77.7)] {
        for (wait, deed) in
            [(5, "strip"), (20, "temperature"), (3, "rinse"), (15, "apply"), (65, "start"), (20, "file")]
        {
            steady += 1000 * wait;
            let file = (deed == "file").then(|| dip.file(2));
            steps.push((steady, deed, format!("K21A-{}", dip.strip), file));
        }
    }
    let now = steady + 5 * 3_600_000;
    at.wait(5 * 3600);
    let hand_in = |place: usize| {
        let (steady, deed, code, file) = &steps[place - 1];
        let (key, place) = (format!("key-{place:06}"), place.to_string());
        let (steady, sent) = (steady.to_string(), now.to_string());
        let fields = [
            ("form-token", token.as_str()),
            ("place", &place),
            ("key", &key),
            ("deed", deed),
            ("code", code),
            ("temperature", "21.0"),
            ("boot", "boot-0001"),
            ("steady", &steady),
            ("sent", &sent),
        ];
        let way = format!("/field/run/{}", phone.run);
        let kind = "multipart/form-data; boundary=a-boundary-of-ours";
        let headers = [("cookie", phone.cookie.as_str()), ("content-type", kind), ("x-field-script", "1")];
        at.send("POST", &way, &headers, multipart(&fields, file.as_deref()))
    };
    let waits = hand_in(4);
    assert_eq!(waits.status.as_u16(), 409);
    assert!(waits.body.contains("\"waits\"") && waits.body.contains("\"expected\":1"), "{}", waits.body);
    for place in 1..steps.len() {
        assert_eq!(hand_in(place).status.as_u16(), 200);
        assert!(!hand_in(place).body.contains("class=\"number\""), "twice is once");
    }
    let last = hand_in(steps.len());
    assert!(last.body.contains("ABOVE the limit of 50"), "{}", last.body);
    let study = Study::open_now(&path).unwrap();
    assert_eq!((study.field_steps().unwrap().len(), study.determinations().unwrap().len()), (steps.len(), 1));
}

#[test]
fn german_by_the_browsers_language_or_by_choice() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let phone = Phone::paired(&at);
    let way = format!("/field/run/{}", phone.run);
    let german = [("cookie", phone.cookie.as_str()), ("accept-language", "de-AT,en;q=0.5")];
    let page = at.send("GET", &way, &german, Vec::new()).body;
    assert!(page.contains("lang=\"de\"") && page.contains("An welchem Brunnen bist du?"), "{page}");
    let chosen = at.send("GET", "/field/language?to=de", &[], Vec::new());
    assert!(chosen.header("set-cookie").starts_with("stillwell-language=de;"));
}

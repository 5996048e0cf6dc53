//! The campaign's file: what is wrong in it is named, all at once, with the nearest known key.

use stillwell_field::{Campaign, Field};
use stillwell_method::Method;

use crate::wells::{Station, analyst, campaign_text, example, method_text};

fn problems(method: &str, campaign: &str) -> String {
    let method = Method::parse("method.toml", method).unwrap();
    Campaign::parse("campaign.toml", campaign, &method).unwrap_err().to_string()
}

#[test]
fn unknown_keys_are_named_with_the_nearest_known_one() {
    let text = campaign_text()
        .replace("wait_least_s = 60", "wait_least = 60")
        .replace("last_day = \"2026-09-30\"", "last_day = \"soon\"")
        .replace("code = \"AVW-12\"", "code = \"avw 12\"");
    let found = problems(&method_text(), &text);
    assert!(found.contains("did you mean `wait_least_s`?"), "{found}");
    assert!(found.contains("a day such as") && found.contains("capitals, digits and hyphens"), "{found}");
}

#[test]
fn a_band_in_the_wrong_species_or_beside_the_limit_is_refused() {
    let as_nitrogen = campaign_text().replace("mg/L as NO3-", "mg/L as N");
    assert!(problems(&method_text(), &as_nitrogen).contains("the unit of the method's results"));
    let beside = campaign_text().replace("band = [35.0, 65.0]", "band = [8.0, 14.0]");
    assert!(problems(&method_text(), &beside).contains("a band on both sides of the limit"));
}

#[test]
fn times_and_temperatures_stay_within_the_methods() {
    let text = campaign_text()
        .replace("wait_least_s = 60", "wait_least_s = 20")
        .replace("span_c = [10.0, 30.0]", "span_c = [2.0, 40.0]");
    let found = problems(&method_text(), &text);
    assert!(
        found.contains("the method waits 60 s") && found.contains("a span within the method's"),
        "{found}"
    );
    let text = campaign_text().replace("rinse_most_s = 120", "rinse_most_s = 4");
    assert!(problems(&method_text(), &text).contains("a least time below the most"));
}

#[test]
fn only_a_method_for_the_field_is_taken() {
    let at_bench = std::fs::read_to_string(example().join("../alder-vale/method.toml")).unwrap();
    let found = problems(&at_bench, &campaign_text());
    for said in ["electrodes = 1", "bracketing = false", "coverage = [0.75, 1.35]"] {
        assert!(found.contains(said), "{found}");
    }
}

#[test]
fn one_code_never_means_two_things() {
    let text = campaign_text().replace("code = \"AVW-12\"", "code = \"AVW-11\"");
    assert!(problems(&method_text(), &text).contains("the code AVW-11 stands twice"));
}

#[test]
fn a_calibration_of_another_lot_is_refused_when_the_campaign_is_recorded() {
    let mut at = Station::new();
    let text = campaign_text().replace("lot = \"L21\"", "lot = \"L22\"");
    let found = Field::record(&mut at.study, "campaign.toml", &text, &analyst()).unwrap_err().to_string();
    assert!(found.contains("calibration 1 is of lot L21, not of L22"), "{found}");
    let text = campaign_text().replace("calibration = \"1\"", "calibration = \"7\"");
    assert!(Field::record(&mut at.study, "campaign.toml", &text, &analyst()).is_err());
}

#[test]
fn the_standards_of_the_example_are_those_of_the_scenario() {
    for name in ["blanks-B1.csv", "standards-B1.csv"] {
        let here = std::fs::read(example().join("standards").join(name)).unwrap();
        assert_eq!(here, std::fs::read(example().join("../alder-vale").join(name)).unwrap(), "{name}");
    }
}

proptest::proptest! {
    /// A campaign's file comes from a person: whatever stands in it is read or refused, never more.
    #[test]
    fn no_text_brings_the_reader_down(at in 0_usize..3000, cut in 0_usize..60, put in "[\\PC\\n]{0,12}") {
        let method = Method::parse("method.toml", &method_text()).unwrap();
        let mut text: Vec<char> = campaign_text().chars().collect();
        let from = at.min(text.len());
        let to = (from + cut).min(text.len());
        text.splice(from..to, put.chars());
        let text: String = text.into_iter().collect();
        if let Ok(campaign) = Campaign::parse("campaign.toml", &text, &method) {
            proptest::prop_assert!(!campaign.wells.is_empty() && !campaign.lots.is_empty());
        }
    }
}

//! Records of older versions keep their meaning: what they say is read, and said again with the same letters.

use stillwell_study::{Act, Withholding};

/// A determination as it was recorded before charts over several series could withhold a verdict.
const BEFORE_CHARTS: &str = include_str!("older/determination.json");

#[test]
fn a_determination_from_before_charts_withheld_verdicts_still_reads() {
    let act: Act = serde_json::from_str(BEFORE_CHARTS).unwrap();
    let Act::Determination(found) = &act else { panic!("{act:?}") };
    assert_eq!(found.result.sample, "W1");
    assert_eq!(found.numbers, 0, "it did not say yet which numbers its software makes");
    let lot_expired =
        Withholding::LotExpired { last_day: "2026-05-01".into(), measured: "2026-05-04".into() };
    let too_late = Withholding::HeldTooLong {
        taken: "2026-05-01".into(),
        holding_time_h: 48.0,
        measured: "2026-05-04".into(),
    };
    assert_eq!(found.withheld, [lot_expired, too_late]);
    assert!(found.verdicts().is_empty() && found.result.decisions.len() == 1);
    // Its hash covers these bytes: nothing may be added to what it says.
    let again: serde_json::Value = serde_json::to_value(&act).unwrap();
    assert_eq!(again, serde_json::from_str::<serde_json::Value>(BEFORE_CHARTS).unwrap());
}

/// What an older version would not know is told by its name and not taken for something else.
#[test]
fn a_reason_that_nobody_knows_is_refused() {
    let unknown = BEFORE_CHARTS.replace("lot-expired", "full-moon");
    let refused = serde_json::from_str::<Act>(&unknown).unwrap_err().to_string();
    assert!(refused.contains("full-moon"), "{refused}");
    let chart =
        Withholding::ControlChart { chart: "blank chart".into(), what: "beyond the action limits".into() };
    let text = serde_json::to_string(&chart).unwrap();
    assert_eq!(serde_json::from_str::<Withholding>(&text).unwrap(), chart);
}

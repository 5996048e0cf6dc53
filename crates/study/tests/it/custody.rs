//! Custody: moments that can be, and verdicts only where it is shown that the sample did not wait too long.

use stillwell_study::{Custody, Study, StudyError};

use crate::scenario::{alder_vale_study, analyst};

/// A well of the scenario, measured on 2026-05-12.
const SAMPLE: &str = "AV-01";

fn custody(taken: &str, holding_time_h: Option<f64>) -> Custody {
    Custody {
        sample: SAMPLE.to_owned(),
        place: "invented well".to_owned(),
        taken: taken.to_owned(),
        taken_by: "Ines Field".to_owned(),
        preservation: "cooled".to_owned(),
        holding_time_h,
        dilution: "none".to_owned(),
    }
}

fn study(folder: &std::path::Path) -> Study {
    alder_vale_study(&folder.join("wells.study"))
}

#[test]
fn only_moments_that_can_be_are_recorded() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = study(folder.path());
    let head = study.anchor().unwrap();
    let bad = [
        "2026-05-12T25:00:00Z",
        "2026-05-12T99:99:99Z",
        "2026-05-01garbage",
        "soon",
        // After the measurement, and after the study's own now.
        "2026-05-14",
        "2036-05-01",
    ];
    for taken in bad {
        let refused = study.record_custody(&custody(taken, Some(48.0)), &analyst()).unwrap_err();
        assert!(matches!(refused, StudyError::Unsayable { what: "taken", .. }), "{taken}: {refused}");
    }
    for hours in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e300, 8785.0] {
        assert!(study.record_custody(&custody("2026-05-11", Some(hours)), &analyst()).is_err(), "{hours}");
    }
    let future = Custody { sample: "not-measured-yet".to_owned(), ..custody("2026-07-01", None) };
    let refused = study.record_custody(&future, &analyst()).unwrap_err();
    assert!(refused.to_string().contains("yet to come"), "{refused}");
    assert_eq!(study.anchor().unwrap(), head);
    study.record_custody(&custody("2026-05-11T08:30:00Z", Some(48.0)), &analyst()).unwrap();
}

#[test]
fn a_holding_time_that_is_not_shown_to_be_kept_withholds_the_verdict() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = study(folder.path());
    let series = study.series().unwrap()[0].record.hash;
    for (taken, hours, expected) in [
        // To the end of the day on which it was measured.
        ("2026-05-12T08:00:00Z", 16.0, None),
        ("2026-05-12T08:00:00Z", 15.9, Some("so that nothing shows it was in time")),
        ("2026-05-11T23:59:59Z", 1.0, Some("so that nothing shows it was in time")),
        ("2026-05-11", 48.0, None),
        ("2026-05-11", 47.0, Some("up to 48 h")),
        ("2026-05-01", 48.0, Some("measured 2026-05-12")),
    ] {
        study.record_custody(&custody(taken, Some(hours)), &analyst()).unwrap();
        let withheld = study.forbidden(&series, (SAMPLE, ""), &["2026-05-12"]).unwrap();
        let words: Vec<String> = withheld.iter().map(stillwell_study::Withholding::found).collect();
        match expected {
            None => assert!(words.is_empty(), "{taken} {hours}: {words:?}"),
            Some(part) => assert!(words.len() == 1 && words[0].contains(part), "{taken} {hours}: {words:?}"),
        }
    }
}

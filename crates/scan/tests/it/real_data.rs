//! Real recordings beside the repository: read without help.

use std::path::Path;

use stillwell_scan::{CurrentUnit, ReadNote, ReadingPin, ReductionCurrent, UnitSource, read};

/// The bytes of a file of `../shared`, or `None` with a printed message where the folder is absent.
fn shared(path: &str) -> Option<Vec<u8>> {
    let full = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared").join(path);
    match std::fs::read(&full) {
        Ok(bytes) => Some(bytes),
        Err(error) => {
            let is_required = std::env::var("STILLWELL_REQUIRE_ALL").is_ok_and(|value| value == "1");
            assert!(!is_required, "../shared/{path}: {error}");
            println!("skipped: ../shared/{path} is not here ({error})");
            None
        }
    }
}

#[test]
fn wide_file_of_225_scans_reads_unaided() {
    let Some(bytes) = shared("realdata/swv-pyocyanin-soak-transfer/i1_uA_wide.csv") else { return };
    let file = read(&bytes, "i1_uA_wide.csv", &ReadingPin::default()).expect("reads");
    assert_eq!(file.scans.len(), 225);
    assert!(file.scans.iter().all(|scan| scan.n_points() == 600 && scan.overload_points.is_empty()));
    assert_eq!(file.reading.current_unit, Some(CurrentUnit::Microampere));
    assert_eq!(file.reading.current_unit_from, UnitSource::FileName);
    assert_eq!(file.reading.reduction_current, None);
    assert!(file.notes.contains(&ReadNote::ReductionSignNotStated));
    let first = &file.scans[0];
    assert_eq!(first.name, "soak_100uM_01");
    assert_eq!((first.potential_v[0], first.potential_v[599]), (0.099, -0.5));
    assert_eq!((first.current_a[0], first.current_a[599]), (0.310555 / 1e6, 1.779852 / 1e6));
    let pin = ReadingPin { reduction_current: Some(ReductionCurrent::Positive), ..ReadingPin::default() };
    let turned = read(&bytes, "i1_uA_wide.csv", &pin).expect("reads");
    assert_eq!(turned.scans[0].current_a[0], -0.310555 / 1e6);
    // Under another name nothing states the unit: the rest of the reading is told, the scans are not given.
    let error = read(&bytes, "wide.csv", &ReadingPin::default()).expect_err("no unit");
    assert!(error.to_string().contains("225 scans of 600 points"), "{error}");
}

/// The README beside the data: max − min of channel 1 = 2.000, 3.899, 6.688, 9.337, 12.105 µA.
#[test]
fn spans_of_the_five_known_concentrations_are_those_of_the_data_readme() {
    let Some(bytes) = shared("realdata/swv-pyocyanin-soak-transfer/i1_uA_wide.csv") else { return };
    let file = read(&bytes, "i1_uA_wide.csv", &ReadingPin::default()).expect("reads");
    for (name, span_ua) in [
        ("soak_010uM_01", 2.000),
        ("soak_025uM_01", 3.899),
        ("soak_050uM_01", 6.688),
        ("soak_075uM_01", 9.337),
        ("soak_100uM_01", 12.105),
    ] {
        let scan = file.scans.iter().find(|scan| scan.name == name).expect(name);
        let high = scan.current_a.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let low = scan.current_a.iter().copied().fold(f64::INFINITY, f64::min);
        let found = (high - low) * 1e6;
        assert!((found - span_ua).abs() <= 0.0005 + 1e-9, "{name}: {found}");
    }
}

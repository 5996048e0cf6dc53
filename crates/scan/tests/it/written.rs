//! What is written is read back as the same scans, whatever the form.

use proptest::prelude::*;
use stillwell_scan::{
    Arrangement, CurrentUnit, DecimalMark, Delimiter, Encoding, PotentialUnit, ReadingPin, Scan, TextForm,
    read, write,
};

const N_POINTS: usize = 40;

fn scan(ordinal: usize, potentials_v: &[f64], currents_a: &[f64], has_halves: bool) -> Scan {
    let reverse_a: Vec<f64> = currents_a.iter().map(|current_a| -0.25 * current_a).collect();
    let forward_a = currents_a.iter().zip(&reverse_a).map(|(current, reverse)| current + reverse).collect();
    Scan {
        name: format!("scan {ordinal}"),
        ordinal,
        potential_v: potentials_v.to_vec(),
        current_a: currents_a.to_vec(),
        forward_a: has_halves.then_some(forward_a),
        reverse_a: has_halves.then_some(reverse_a),
        time_s: None,
        settings: Vec::new(),
        first_line: 1,
        last_line: 1,
        columns: (1, 2),
        overload_points: Vec::new(),
    }
}

/// Two scans on one staircase; currents of some µA.
fn scans(currents_ua: &[f64], has_halves: bool) -> Vec<Scan> {
    let potentials_v: Vec<f64> = (0..N_POINTS).map(|point| -0.3 - 0.004 * point as f64).collect();
    let of =
        |from: usize| -> Vec<f64> { currents_ua[from..from + N_POINTS].iter().map(|i| i * 1e-6).collect() };
    vec![scan(1, &potentials_v, &of(0), has_halves), scan(2, &potentials_v, &of(N_POINTS), has_halves)]
}

fn forms() -> impl Strategy<Value = TextForm> {
    let arrangement =
        prop::sample::select(vec![Arrangement::SharedPotential, Arrangement::Pairs, Arrangement::Stacked]);
    let cells = prop::sample::select(vec![
        (Delimiter::Comma, DecimalMark::Point),
        (Delimiter::Semicolon, DecimalMark::Point),
        (Delimiter::Semicolon, DecimalMark::Comma),
        (Delimiter::Tab, DecimalMark::Point),
        (Delimiter::Tab, DecimalMark::Comma),
    ]);
    let encoding = prop::sample::select(vec![
        Encoding::Utf8,
        Encoding::Utf16Le,
        Encoding::Utf16Be,
        Encoding::Windows1252,
    ]);
    let units = prop::sample::select(vec![
        (PotentialUnit::Volt, 4, CurrentUnit::Microampere, 4),
        (PotentialUnit::Millivolt, 0, CurrentUnit::Microampere, 4),
        (PotentialUnit::Millivolt, 1, CurrentUnit::Nanoampere, 1),
        (PotentialUnit::Volt, 4, CurrentUnit::Ampere, 10),
    ]);
    (arrangement, cells, encoding, units, any::<bool>()).prop_map(
        |(arrangement, cells, encoding, units, crlf)| {
            let (potential_unit, potential_decimals, current_unit, current_decimals) = units;
            TextForm {
                arrangement,
                delimiter: cells.0,
                decimal_mark: cells.1,
                encoding,
                has_carriage_returns: crlf,
                potential_unit,
                potential_decimals,
                current_unit,
                current_decimals,
                settings: vec![("Technique".to_owned(), "square wave".to_owned())],
            }
        },
    )
}

fn assert_same(written: &[Scan], found: &[Scan], form: &TextForm) {
    assert_eq!(found.len(), written.len(), "{form:?}");
    for (written, found) in written.iter().zip(found) {
        let near = |a: &[f64], b: &[f64], most: f64| {
            assert_eq!(a.len(), b.len(), "{form:?}");
            for (a, b) in a.iter().zip(b) {
                assert!((a - b).abs() <= most, "{a} {b} {form:?}");
            }
        };
        near(&written.potential_v, &found.potential_v, 0.51e-4);
        near(&written.current_a, &found.current_a, 0.51e-10);
        if form.arrangement == Arrangement::Stacked
            && let (Some(written_a), Some(found_a)) = (&written.forward_a, &found.forward_a)
        {
            near(written_a, found_a, 0.51e-10);
        }
    }
}

proptest! {
    #[test]
    fn every_form_is_read_back(
        currents_ua in prop::collection::vec(-90.0..90.0_f64, 2 * N_POINTS),
        form in forms(),
        has_halves in any::<bool>(),
    ) {
        let scans = scans(&currents_ua, has_halves);
        let bytes = write(&scans, &form);
        let file = read(&bytes, "written.txt", &ReadingPin::default())
            .unwrap_or_else(|error| panic!("{error}\n{form:?}\n{}", String::from_utf8_lossy(&bytes)));
        assert_same(&scans, &file.scans, &form);
    }
}

#[test]
fn an_overload_is_written_as_a_mark_and_read_as_one() {
    let mut scans = scans(&[-1.5; 2 * N_POINTS], false);
    scans[1].current_a[7] = f64::NAN;
    scans[1].overload_points = vec![7];
    let bytes = write(&scans, &TextForm::plain(3));
    let file = read(&bytes, "written.csv", &ReadingPin::default()).expect("readable");
    assert_eq!(file.scans[1].overload_points, [7]);
    assert!(file.scans[1].current_a[7].is_nan());
}

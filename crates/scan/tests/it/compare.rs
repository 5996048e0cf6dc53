//! Differences between a scan and its technique, and between two scans.

use stillwell_scan::{
    CalendarDate, ReadingPin, Scan, SweepDirection, Technique, TechniqueKind, grid_differences, read,
    settings_differences,
};

fn scan_of(text: &str) -> Scan {
    read(text.as_bytes(), "strip.txt", &ReadingPin::default()).expect("reads").scans.remove(0)
}

fn square_wave() -> Technique {
    let mut technique = Technique::new(TechniqueKind::SquareWave, 0.1, 0.06);
    technique.step_v = Some(0.01);
    technique.amplitude_v = Some(0.025);
    technique.frequency_hz = Some(25.0);
    technique
}

const AS_PROGRAMMED: &str = "Start potential (V) = 0.1\nend: 60 mV\nstep: -10 mV\namplitude = 0.025 V\nfrequency = 25\n\
     E/V,I/uA\n0.10,1\n0.09,2\n0.08,3\n0.07,2\n0.06,1\n";

fn words(differences: &[stillwell_scan::Difference]) -> Vec<String> {
    differences.iter().map(ToString::to_string).collect()
}

#[test]
fn a_scan_as_programmed_has_no_differences() {
    let differences = settings_differences(&scan_of(AS_PROGRAMMED), &square_wave());
    assert_eq!(words(&differences), Vec::<String>::new());
}

#[test]
fn each_departing_setting_is_named_with_both_values() {
    let text = AS_PROGRAMMED
        .replace("step: -10 mV", "step: 5 mV")
        .replace("frequency = 25", "frequency: 0,05 kHz")
        .replace("amplitude = 0.025 V", "amplitude = 50");
    assert_eq!(
        words(&settings_differences(&scan_of(&text), &square_wave())),
        [
            "step: found 0.005 V (line 3), expected 0.01 V",
            "amplitude: found 50 (unit not stated) (line 4), expected 0.025 V",
            "frequency: found 50 Hz (line 5), expected 25 Hz",
        ]
    );
}

#[test]
fn a_grid_that_departs_from_the_technique_is_named() {
    let scan = scan_of("E/V,I/uA\n0.20,1\n0.18,2\n0.16,3\n0.18,2\n0.20,1\n");
    assert_eq!(
        words(&settings_differences(&scan, &square_wave())),
        [
            "first potential: found 0.2 V, expected 0.1 V",
            "last potential: found 0.2 V, expected 0.06 V",
            "step: found 0.02 V, expected 0.01 V",
            "sweep: found a sweep that turns, expected a sweep one way",
        ]
    );
}

#[test]
fn grids_of_two_scans_are_compared_point_by_point() {
    let scan = scan_of(AS_PROGRAMMED);
    assert!(grid_differences(&scan, &scan).is_empty());
    let shorter = scan_of("E/V,I/uA\n0.10,1\n0.09,2\n0.08,3\n0.07,2\n");
    assert_eq!(
        words(&grid_differences(&shorter, &scan)),
        [
            "number of points: found 4 points, expected 5 points",
            "last potential: found 0.07 V, expected 0.06 V",
        ]
    );
    let turned = scan_of("E/V,I/uA\n0.06,1\n0.07,2\n0.08,3\n0.09,2\n0.10,1\n");
    assert!(
        words(&grid_differences(&turned, &scan))
            .contains(&"direction: found rising, expected falling".into())
    );
    let one_off = scan_of("E/V,I/uA\n0.10,1\n0.09,2\n0.081,3\n0.07,2\n0.06,1\n");
    assert_eq!(
        words(&grid_differences(&one_off, &scan)),
        ["potential: found 0.081 V at point 3, expected 0.08 V at point 3"]
    );
}

#[test]
fn a_cyclic_sweep_falls_into_segments_that_share_their_turning_points() {
    let scan = scan_of("E/V,I/uA\n0.0,1\n0.1,2\n0.2,3\n0.1,2\n0.0,1\n-0.1,0\n0.0,1\n");
    let segments: Vec<_> =
        scan.segments().into_iter().map(|segment| (segment.points, segment.direction)).collect();
    assert_eq!(
        segments,
        [(0..3, SweepDirection::Rising), (2..6, SweepDirection::Falling), (5..7, SweepDirection::Rising)]
    );
}

#[test]
fn a_clock_in_the_future_is_flagged_and_kept() {
    let text = format!("date: 2031-02-03 04:05\n{AS_PROGRAMMED}");
    let file = read(text.as_bytes(), "strip.txt", &ReadingPin::default()).expect("reads");
    assert_eq!(file.scans[0].setting("Date").map(|setting| setting.value.as_str()), Some("2031-02-03 04:05"));
    let flagged = file.clocks_after(CalendarDate { year: 2026, month: 11, day: 25 });
    assert_eq!(flagged.len(), 1, "{flagged:?}");
    assert!(flagged[0].to_string().contains("future"));
    assert!(file.clocks_after(CalendarDate { year: 2031, month: 2, day: 3 }).is_empty());
}

#[test]
fn waveforms_follow_their_technique() {
    let mut technique = square_wave();
    let waveform = technique.waveform().expect("complete");
    assert_eq!(waveform.duration_s(), 5.0 / 25.0);
    assert_eq!(waveform.potential_at(-0.001), None);
    assert_eq!(waveform.potential_at(0.01), Some(0.1 - 0.025));
    assert_eq!(waveform.potential_at(0.03), Some(0.1 + 0.025));
    technique.frequency_hz = None;
    assert_eq!(
        technique.waveform().expect_err("incomplete").to_string(),
        "a waveform of square-wave needs frequency_hz in [technique], a positive number"
    );
    let mut cyclic = Technique::new(TechniqueKind::Cyclic, 0.0, 0.0);
    cyclic.vertex_v = Some(0.5);
    cyclic.scan_rate_v_per_s = Some(0.1);
    let waveform = cyclic.waveform().expect("complete");
    assert_eq!(waveform.duration_s(), 10.0);
    assert_eq!(waveform.potential_at(2.5), Some(0.25));
    assert_eq!(waveform.potential_at(5.0), Some(0.5));
    assert_eq!(waveform.potential_at(7.5), Some(0.25));
}

#[test]
fn corners_meet_the_potential_between_them() {
    let pulses = |kind| Technique {
        step_v: Some(0.01),
        amplitude_v: Some(0.05),
        pulse_s: Some(0.05),
        pulse_period_s: Some(0.25),
        ..Technique::new(kind, 0.1, -0.4)
    };
    let sweep = Technique {
        scan_rate_v_per_s: Some(0.1),
        vertex_v: Some(0.5),
        ..Technique::new(TechniqueKind::Cyclic, 0.0, 0.0)
    };
    let kinds = [TechniqueKind::DifferentialPulse, TechniqueKind::NormalPulse].map(pulses);
    for technique in kinds.into_iter().chain([square_wave(), sweep]) {
        let waveform = technique.waveform().expect("complete");
        let corners = waveform.corners(0..usize::MAX);
        let last = corners.last().expect("corners");
        assert!((last.0 - waveform.duration_s()).abs() < 1e-12, "{:?}", technique.kind);
        let mut n_met = 0;
        for pair in corners.windows(2).filter(|pair| pair[1].0 > pair[0].0) {
            let middle_s = f64::midpoint(pair[0].0, pair[1].0);
            let middle_v = f64::midpoint(pair[0].1, pair[1].1);
            let programmed_v = waveform.potential_at(middle_s).expect("within the scan");
            assert!((programmed_v - middle_v).abs() < 1e-12, "{:?} at {middle_s} s", technique.kind);
            n_met += 1;
        }
        assert!(n_met >= 2 && n_met % 2 == 0, "{:?}: {n_met}", technique.kind);
    }
}

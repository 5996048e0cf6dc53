//! Rust and C in lockstep: a step, a check or a code that the Rust kernel gains is missed here until the C has it.

use std::collections::BTreeMap;

use stillwell_evaluate::{
    ALL_FLAGS, Baseline, Flag, FrozenReason, IndexRange, Refusal, SampleRefusal, ScanOutcome, TrustCheck,
    VerdictCode,
};
use stillwell_transfer::C_FILES;

/// `#define STW_NAME 12u` of the headers.
fn defines() -> BTreeMap<String, u64> {
    let headers = C_FILES.iter().filter(|file| file.name == "kernel.h" || file.name == "lot.h");
    headers
        .flat_map(|file| file.text.lines())
        .filter_map(|line| {
            let mut words = line.strip_prefix("#define ")?.split_whitespace();
            let (name, value) = (words.next()?, words.next()?.trim_end_matches('u'));
            let number = value
                .strip_prefix("0x")
                .map_or_else(|| value.parse().ok(), |hex| u64::from_str_radix(hex, 16).ok());
            Some((name.to_owned(), number?))
        })
        .collect()
}

fn assert_defined(defines: &BTreeMap<String, u64>, name: &str, value: u64) {
    assert_eq!(defines.get(name), Some(&value), "{name} in kernel.h");
}

/// `TooFewPoints` to `TOO_FEW_POINTS`.
fn in_capitals(debug: &str) -> String {
    let mut name = String::new();
    for (i, c) in debug.chars().take_while(|c| c.is_alphanumeric()).enumerate() {
        if i > 0 && c.is_uppercase() {
            name.push('_');
        }
        name.push(c.to_ascii_uppercase());
    }
    name
}

#[test]
fn every_trust_check_has_its_place_in_the_c() {
    let defines = defines();
    assert_defined(&defines, "STW_TRUST_CHECKS", TrustCheck::ALL.len() as u64);
    let trust = C_FILES.iter().find(|file| file.name == "trust.c").expect("trust.c").text;
    for check in TrustCheck::ALL {
        let name = format!("STW_CHECK_{}", in_capitals(&format!("{check:?}")));
        assert_defined(&defines, &name, check as u64);
        let of_grid = (TrustCheck::TooFewPoints as usize..=TrustCheck::NonUniformSteps as usize)
            .contains(&(check as usize));
        assert!(of_grid || trust.contains(&name), "{name} is not made in trust.c");
    }
}

#[test]
fn every_flag_refusal_and_outcome_has_its_number_in_the_c() {
    let defines = defines();
    for flag in ALL_FLAGS {
        assert_defined(
            &defines,
            &format!("STW_FLAG_{}", in_capitals(&format!("{flag:?}"))),
            1 << flag as u64,
        );
    }
    let range = stillwell_evaluate::RangeName::Noise;
    let setting = stillwell_evaluate::SettingName::Limit;
    let refusals = [
        Refusal::TooFewPoints { found: 0, needed: 0 },
        Refusal::LengthsDiffer { expected: 0, found: 0 },
        Refusal::WorkspaceTooSmall { found: 0, needed: 0 },
        Refusal::NotFinite { index: 0 },
        Refusal::PotentialNotMonotonic { index: 0 },
        Refusal::RangeNotUsable { range, first: 0, last: 0 },
        Refusal::SettingNotUsable { setting, value: 0.0 },
        Refusal::BaselineNotSettled { iterations: 0 },
        Refusal::MaximumOnWindowEdge { index: 0, height_a: 0.0 },
        Refusal::NoPeak { index: 0, height_a: 0.0, noise_a: 0.0 },
        Refusal::OutOfNumberRange,
    ];
    for refusal in refusals {
        assert_defined(
            &defines,
            &format!("STW_{}", in_capitals(&format!("{refusal:?}"))),
            u64::from(refusal.code()),
        );
    }
    assert_defined(&defines, "STW_SIGNAL_BY_PEAK", ScanOutcome::SignalByPeak as u64);
    assert_defined(&defines, "STW_SIGNAL_AT_PLACE", ScanOutcome::SignalAtPlace as u64);
    assert_defined(&defines, "STW_SCAN_REFUSED", ScanOutcome::Refused as u64);
    for (name, reason) in [
        ("TRUST", FrozenReason::Trust),
        ("EVALUATION", FrozenReason::Evaluation),
        ("PEAK_OUTSIDE", FrozenReason::PeakOutside),
        ("PEAK_WIDTH", FrozenReason::PeakWidth),
        ("BACKGROUND", FrozenReason::Background),
        ("TWO_PEAKS", FrozenReason::TwoPeaks),
        ("PEAK_SHIFT", FrozenReason::PeakShift),
    ] {
        assert_defined(&defines, &format!("STW_BECAUSE_{name}"), reason as u64);
    }
    assert_defined(&defines, "STW_CONDEMNS_SAMPLE", FrozenReason::CondemnsSample as u64);
}

/// What the C calls each step; a step that Rust gains does not compile here until it is named.
fn baseline_in_c(baseline: &Baseline) -> Option<(&'static str, u64)> {
    match baseline {
        Baseline::None => Some(("STW_BASELINE_NONE", 0)),
        Baseline::Line { .. } => Some(("STW_BASELINE_LINE", 1)),
        Baseline::Minima { .. } => Some(("STW_BASELINE_MINIMA", 2)),
        Baseline::Tangent { .. } => Some(("STW_BASELINE_TANGENT", 3)),
        Baseline::Polynomial { .. } => Some(("STW_BASELINE_POLYNOMIAL", 4)),
        // Refused with the alternatives: TransferError::BaselineNotOnDevice.
        Baseline::AsymmetricLeastSquares(_) => None,
    }
}

fn verdict_in_c(code: VerdictCode) -> (&'static str, u64) {
    match code {
        VerdictCode::Below => ("STW_BELOW", 1),
        VerdictCode::Above => ("STW_ABOVE", 2),
        VerdictCode::TooCloseToCall => ("STW_TOO_CLOSE_TO_CALL", 3),
        VerdictCode::NotDecidable => ("STW_NOT_DECIDABLE", 4),
    }
}

fn refusal_in_c(refusal: SampleRefusal) -> (&'static str, u64) {
    match refusal {
        SampleRefusal::NoScan => ("STW_SAMPLE_NO_SCAN", 1),
        SampleRefusal::Condemned => ("STW_SAMPLE_CONDEMNED", 2),
        SampleRefusal::Temperature => ("STW_SAMPLE_TEMPERATURE", 3),
        SampleRefusal::Unresolved(_) => ("STW_SAMPLE_UNRESOLVED", 4),
        SampleRefusal::NoPeakAbove => ("STW_SAMPLE_NO_PEAK_ABOVE", 5),
        SampleRefusal::Negative => ("STW_SAMPLE_NEGATIVE", 6),
        SampleRefusal::NoControl => ("STW_SAMPLE_NO_CONTROL", 7),
        SampleRefusal::NoPeakDetected => ("STW_SAMPLE_NO_PEAK_DETECTED", 8),
        SampleRefusal::NoClaim => ("STW_SAMPLE_NO_CLAIM", 9),
        SampleRefusal::NumberRange => ("STW_SAMPLE_NUMBER_RANGE", 10),
    }
}

#[test]
fn every_baseline_verdict_and_refusal_of_a_sample_is_named_in_the_c() {
    let defines = defines();
    let range = IndexRange { first: 0, last: 1 };
    let baselines = [
        Baseline::None,
        Baseline::Line { before: range, after: range },
        Baseline::Minima { before: range, after: range },
        Baseline::Tangent { search: range },
        Baseline::Polynomial { degree: 1, before: range, after: range },
    ];
    let kernel: String = C_FILES.iter().filter(|file| file.name == "peak.c").map(|file| file.text).collect();
    for baseline in &baselines {
        let (name, value) = baseline_in_c(baseline).expect("a baseline of the device");
        assert_defined(&defines, name, value);
        assert!(kernel.contains(name) || value == 0, "{name} is not drawn in peak.c");
    }
    let codes =
        [VerdictCode::Below, VerdictCode::Above, VerdictCode::TooCloseToCall, VerdictCode::NotDecidable];
    for (name, value) in codes.map(verdict_in_c) {
        assert_defined(&defines, name, value);
    }
    let refusals = [
        SampleRefusal::NoScan,
        SampleRefusal::Condemned,
        SampleRefusal::Temperature,
        SampleRefusal::Unresolved(stillwell_evaluate::InverseFault::NoElectrodes),
        SampleRefusal::NoPeakAbove,
        SampleRefusal::Negative,
        SampleRefusal::NoControl,
        SampleRefusal::NoPeakDetected,
        SampleRefusal::NoClaim,
        SampleRefusal::NumberRange,
    ];
    for (name, value) in refusals.map(refusal_in_c) {
        assert_defined(&defines, name, value);
    }
    assert_defined(&defines, "STW_MOST_ELECTRODES", stillwell_evaluate::MOST_ELECTRODES as u64);
    assert_defined(&defines, "STW_MOST_SCANS", stillwell_evaluate::MOST_SCANS as u64);
    assert_defined(&defines, "STW_MOST_LIMITS", stillwell_transfer::MOST_LIMITS as u64);
    assert_defined(&defines, "STW_MOST_SMOOTHING", stillwell_evaluate::MAX_SMOOTHING_WINDOW as u64);
    assert_defined(&defines, "STW_LAYOUT", u64::from(stillwell_transfer::LAYOUT));
    assert_eq!(Flag::Despiked as u8, 0);
}

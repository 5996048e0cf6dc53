//! CIRCUIT.toml: every key arrives where it belongs, and typical mistakes are told in a way that can be acted on.

use proptest::prelude::*;
use stillwell_foresee::CircuitModel;
use stillwell_twin::{Circuit, Mains, Overload};

const EVERY_KEY: &str = r#"
[circuit]
potential_step_v = 0.0005
range_a = 2e-5
adc_bits = 12
full_scale_v = 1.5
temperature_c = 30.0
corner_hz = 3000.0
flicker_a_per_root_hz = 1e-9
gain_error = -0.003
offset_a = 4e-9
samples_per_reading = 8
sampling_window_s = 0.001
overload = "silent"

[circuit.mains]
amplitude_a = 5e-9
frequency_hz = 60.0
phase_rad = 0.5
"#;

fn problems(source: &str) -> String {
    CircuitModel::parse("circuit.toml", source).unwrap_err().to_string()
}

#[test]
fn every_key_arrives_where_it_belongs() {
    let circuit = Circuit {
        potential_step_v: 0.0005,
        full_scale_v: 1.5,
        temperature_k: 303.15,
        corner_hz: 3000.0,
        flicker_a_per_root_hz: 1e-9,
        mains: Some(Mains { amplitude_a: 5e-9, frequency_hz: 60.0, phase_rad: Some(0.5) }),
        gain_error: -0.003,
        offset_a: 4e-9,
        samples_per_reading: 8,
        overload: Overload::Silent,
        ..Circuit::new(2e-5, 12)
    };
    let model = CircuitModel::parse("circuit.toml", EVERY_KEY);
    assert_eq!(model, Ok(CircuitModel { circuit, sampling_window_s: 0.001 }));
}

#[test]
fn what_is_left_out_is_the_twins_default() {
    let model = CircuitModel::parse("circuit.toml", "[circuit]\nrange_a = 1e-5\nadc_bits = 16");
    assert_eq!(model, Ok(CircuitModel { circuit: Circuit::new(1e-5, 16), sampling_window_s: 0.0 }));
}

#[test]
fn typical_mistakes_are_told_at_their_places() {
    insta::assert_snapshot!("circuit-empty", problems(""));
    let mut text = EVERY_KEY.to_owned();
    for (was, becomes) in [
        ("adc_bits = 12", "adc_bits = 12.5"),
        ("range_a = 2e-5", "range_a = 20"),
        ("corner_hz", "corner_khz"),
        ("temperature_c = 30.0", "temperature_c = 300"),
        ("samples_per_reading = 8", "samples_per_reading = 0"),
        ("\"silent\"", "\"silence\""),
        ("frequency_hz = 60.0", "frequency_hz = 0"),
        ("sampling_window_s = 0.001", "sampling_window_s = -0.001"),
    ] {
        assert!(text.contains(was), "{was}");
        text = text.replacen(was, becomes, 1);
    }
    insta::assert_snapshot!("circuit-out-of-range", problems(&text));
}

#[test]
fn several_samples_need_a_window() {
    let text = EVERY_KEY.replace("sampling_window_s = 0.001\n", "");
    insta::assert_snapshot!("circuit-samples-without-window", problems(&text));
}

proptest! {
    #[test]
    fn no_chance_text_is_a_circuit_or_a_panic(text in ".{0,400}") {
        prop_assert!(CircuitModel::parse("circuit.toml", &text).is_err());
    }

    #[test]
    fn what_is_accepted_is_a_circuit_that_the_twin_accepts(
        at in 0..EVERY_KEY.lines().count(),
        value in prop_oneof![any::<f64>().prop_map(|n| format!("{n:?}")), any::<i32>().prop_map(|n| n.to_string())],
    ) {
        let lines = EVERY_KEY.lines().enumerate().map(|(index, line)| match line.split_once('=') {
            Some((key, _)) if index == at => format!("{key}= {value}"),
            _ => line.to_owned(),
        });
        let text = lines.collect::<Vec<_>>().join("\n");
        if let Ok(model) = CircuitModel::parse("circuit.toml", &text) {
            prop_assert!(model.circuit.check().is_ok());
        }
    }
}

//! What a trade study may vary of a circuit, and how it is asked for.

use proptest::prelude::*;
use stillwell_foresee::{CircuitKey, CircuitModel, Varied, VaryError};

fn handheld() -> CircuitModel {
    let source = include_str!("../../../../examples/cells/handheld.toml");
    CircuitModel::parse("handheld.toml", source).unwrap_or_else(|problems| panic!("{problems}"))
}

#[test]
fn each_key_changes_its_own_number_and_no_other() {
    for key in CircuitKey::ALL {
        let mut model = handheld();
        let other = match key {
            CircuitKey::ConverterBits => 12.0,
            CircuitKey::Samples => 2.0,
            _ => 2.0 * key.get(&model) + 1e-6,
        };
        key.set(&mut model, other).unwrap();
        for read in CircuitKey::ALL {
            let expected = if read == key { other } else { read.get(&handheld()) };
            assert_eq!(read.get(&model), expected, "{} after {}", read.name(), key.name());
        }
        assert_eq!(CircuitKey::parse(key.name()), Ok(key));
        assert!(!key.label().is_empty());
    }
}

/// A study that varies a key finds its number under the same name in the file.
#[test]
fn names_are_those_of_the_file() {
    let source = include_str!("../../../../examples/cells/handheld.toml");
    for key in CircuitKey::ALL.into_iter().filter(|key| *key != CircuitKey::Mains) {
        assert!(source.contains(&format!("\n{} = ", key.name())), "{}", key.name());
    }
}

#[test]
fn a_refused_value_leaves_the_circuit_as_it_was() {
    for (key, value) in [
        (CircuitKey::ConverterBits, 33.0),
        (CircuitKey::Range, -1.0),
        (CircuitKey::Corner, f64::NAN),
        (CircuitKey::Samples, 0.5),
        (CircuitKey::SamplingWindow, f64::INFINITY),
    ] {
        let mut model = handheld();
        assert!(matches!(key.set(&mut model, value), Err(VaryError::OutOfRange { .. })), "{}", key.name());
        assert_eq!(model, handheld());
    }
    let mut quiet = handheld();
    quiet.circuit.mains = None;
    assert_eq!(CircuitKey::Mains.set(&mut quiet, 0.0), Ok(()));
    assert_eq!(CircuitKey::Mains.set(&mut quiet, 1e-9), Err(VaryError::NoMains { found: 1e-9 }));
}

#[test]
fn what_cannot_be_varied_says_why() {
    let wrong = [
        "adc_bits",
        "adc_bit=12",
        "potential=1",
        "adc_bits=",
        "adc_bits=10,,12",
        "adc_bits=10,12,10.0",
        "adc_bits=10,12.5",
        "adc_bits=1,2",
        "range_a=1e-5,0,00001",
        "sampling_window_s=-1",
    ];
    let told: Vec<String> =
        wrong.iter().map(|text| format!("{text}\n  {}", Varied::parse(text).unwrap_err())).collect();
    insta::assert_snapshot!("vary", told.join("\n"));
}

proptest! {
    #[test]
    fn no_text_makes_it_panic(text in "([a-z_]{0,12}|adc_bits|range_a|samples_per_reading)=?[-+.,0-9eE nainf]{0,20}") {
        if let Ok(varied) = Varied::parse(&text) {
            prop_assert!(!varied.values.is_empty());
            for value in varied.values {
                let mut model = handheld();
                prop_assert_eq!(varied.key.set(&mut model, value), Ok(()));
                prop_assert_eq!(varied.key.get(&model), value);
            }
        }
    }
}

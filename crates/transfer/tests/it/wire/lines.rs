//! What a line may go through on its way, and what it may not.

use proptest::prelude::*;
use serde_json::Value;
use stillwell_transfer::wire::{WireError, from_bytes, from_line, to_bytes, to_line};

use super::{outcomes, quantified, with};

#[test]
fn a_gateway_may_reformat_the_line() {
    for record in outcomes().into_iter().map(with) {
        let line = to_line(&record).expect("it goes well");
        let value: Value = serde_json::from_str(&line).expect("it goes well");
        // Keys in another order, numbers with fewer digits where those suffice, lines broken.
        let again = serde_json::to_string_pretty(&value).expect("it goes well");
        assert_ne!(again, line);
        assert_eq!(from_line(&again).expect("it goes well"), record);
    }
}

#[test]
fn every_field_is_held_by_the_checksum() {
    let record = quantified();
    let line = to_line(&record).expect("it goes well");
    let value: Value = serde_json::from_str(&line).expect("it goes well");
    let fields = value[0].as_object().expect("it goes well");
    assert_eq!(fields.len(), 28);
    for label in fields.keys() {
        let mut changed = value.clone();
        let field = &mut changed[0][label.as_str()];
        *field = match field.clone() {
            Value::String(text) if label == "n" => Value::from(format!("{text}x")),
            Value::String(text) => {
                let first = if text.starts_with('a') { "b" } else { "a" };
                Value::from(format!("{first}{}", text.get(1..).expect("it goes well")))
            }
            number if ["v", "low", "high", "level", "level-u"].contains(&label.as_str()) => {
                Value::from(number.as_f64().expect("it goes well").next_up())
            }
            number => Value::from(number.as_f64().expect("it goes well") + 1.0),
        };
        let changed = changed.to_string();
        let error = from_line(&changed).expect_err(label);
        println!("{label}: {error}");
    }
    for label in fields.keys() {
        let mut cut = value.clone();
        cut[0].as_object_mut().expect("it goes well").remove(label);
        from_line(&cut.to_string()).expect_err(label);
    }
}

#[test]
fn a_label_that_must_be_understood_is_not_passed_over() {
    let line = to_line(&quantified()).expect("it goes well");
    let with_more = line.replace("}]", ",\"matrix_\":\"brine\"}]");
    assert_eq!(from_line(&with_more), Err(WireError::MustUnderstand { label: "matrix_".to_owned() }));
    let with_note = line.replace("}]", ",\"note\":\"passed on by a gateway\"}]");
    assert_eq!(from_line(&with_note).expect("it goes well"), quantified());
}

#[test]
fn a_changed_byte_is_found_wherever_it_is() {
    for record in outcomes().into_iter().map(with) {
        let bytes = to_bytes(&record).expect("it goes well");
        for at in 0..bytes.len() {
            for bit in 0..8 {
                let mut changed = bytes.clone();
                changed[at] ^= 1 << bit;
                assert!(from_bytes(&changed).is_err(), "byte {at}, bit {bit}");
            }
        }
        assert!(from_bytes(&bytes[..bytes.len() - 1]).is_err());
        assert!(from_bytes(&[bytes.as_slice(), &[0]].concat()).is_err(), "a byte behind the record");
    }
}

proptest! {
    #[test]
    fn any_finite_number_keeps_its_bits(bits in any::<u64>(), counter in any::<u32>(), lot in "[ -~]{0,32}") {
        let value = f64::from_bits(bits);
        prop_assume!(value.is_finite());
        let outcome = stillwell_transfer::wire::WireOutcome::AboveRange(super::of(value));
        let mut record = with(outcome);
        (record.counter, record.lot) = (counter, lot);
        let read = from_line(&to_line(&record).expect("it goes well")).expect("it goes well");
        prop_assert_eq!(&read, &record);
        prop_assert_eq!(to_bytes(&read).expect("it goes well"), to_bytes(&record).expect("it goes well"));
        prop_assert_eq!(&from_bytes(&to_bytes(&record).expect("it goes well")).expect("it goes well"), &record);
    }

    #[test]
    fn no_bytes_and_no_text_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200), text in "\\PC{0,200}") {
        prop_assert!(from_bytes(&bytes).is_err());
        prop_assert!(from_line(&text).is_err());
    }
}

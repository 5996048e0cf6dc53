//! Examples of the standards, from `checks/wire.toml`.

use stillwell_transfer::wire::{SenmlValue, WireError, resolve, to_bytes};
use toml_edit::{DocumentMut, Table};

use super::quantified;

fn load() -> DocumentMut {
    let path = format!("{}/../../checks/wire.toml", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).expect("it goes well").parse().expect("it goes well")
}

fn entries<'a>(document: &'a DocumentMut, key: &str) -> impl Iterator<Item = &'a Table> {
    document[key].as_array_of_tables().expect("it goes well").iter()
}

#[test]
fn rfc_8428_examples_resolve_as_printed() {
    let document = load();
    let mut n = 0;
    for entry in entries(&document, "senml") {
        let records = resolve(entry["pack"].as_str().expect("it goes well"), &[]).expect("it goes well");
        let expected = entry["resolved"].as_array().expect("it goes well");
        assert_eq!(records.len(), expected.len());
        for (record, expected) in records.iter().zip(expected) {
            let expected = expected.as_inline_table().expect("it goes well");
            let text = |key: &str| expected.get(key).and_then(|value| value.as_str());
            let number = |key: &str| expected.get(key).and_then(toml_edit::Value::as_float);
            assert_eq!(Some(record.name.as_str()), text("n"));
            assert_eq!(record.unit.as_deref(), text("u"));
            assert!((record.time_s - number("t").unwrap_or(0.0)).abs() <= 1e-6, "{record:?}");
            let value = match &record.value {
                SenmlValue::Number(value) => *value,
                other => panic!("{other:?}"),
            };
            assert_eq!(value.to_bits(), number("v").expect("it goes well").to_bits());
            n += 1;
        }
    }
    assert_eq!(n, 10);
}

#[test]
fn rfc_8428_a_label_with_an_underscore_at_its_end_must_be_understood() {
    let pack = r#"[{"n":"a","v":1,"odd_":2}]"#;
    assert_eq!(resolve(pack, &[]), Err(WireError::MustUnderstand { label: "odd_".to_owned() }));
    assert!(resolve(pack, &["odd_"]).is_ok());
    assert!(resolve(r#"[{"n":"a","v":1,"bver":11}]"#, &[]).is_err());
    assert!(resolve(r#"[{"n":"_a","v":1}]"#, &[]).is_err());
}

#[test]
fn rfc_8949_numbers_stand_in_the_record_as_printed() {
    let document = load();
    for entry in entries(&document, "cbor") {
        let expected = entry["hex"].as_str().expect("it goes well");
        let mut record = quantified();
        if let Some(whole) = entry.get("whole").and_then(toml_edit::Item::as_integer) {
            record.counter = u32::try_from(whole).expect("a small number");
        } else {
            let value = entry["number"].as_float().expect("a number");
            record.outcome = stillwell_transfer::wire::WireOutcome::AboveRange(super::of(value));
        }
        let bytes = to_bytes(&record).expect("it goes well");
        let hex = super::hex(&bytes);
        let name = super::hex(record.name.as_bytes());
        // Key and item: the counter stands behind the name, the bound behind the outcome.
        let placed = if entry.contains_key("whole") {
            format!("{name}02{expected}03")
        } else {
            format!("0b0411{expected}14")
        };
        assert!(hex.contains(&placed), "{placed} in {hex}");
    }
}

//! Records that are refused, in the words that a person reads.

use stillwell_transfer::wire::{WireError, WireVerdict, from_bytes, from_line, kind_of, to_bytes, to_line};

use super::quantified;

fn line_with(from: &str, to: &str) -> String {
    let line = to_line(&quantified()).expect("it goes well");
    assert!(line.contains(from), "{line}");
    from_line(&line.replace(from, to)).expect_err("it is refused").to_string()
}

#[test]
fn a_number_without_its_basis_is_no_number() {
    assert_eq!(
        line_with(",\"unit_\":\"mg/L\"", ""),
        "there is no `unit_`; every record of this outcome has it"
    );
    assert_eq!(
        line_with("\"species_\":\"NO3-\"", "\"species_\":\"\""),
        "\"nitrate\" in \"mg/L\" as \"\" is no basis for a concentration: the form is none of this analyte, or the analyte has another \
         name here"
    );
    // The same digits as N would be a 4.4 times larger amount: the checksum tells.
    assert!(line_with("NO3-", "N\"\t,\"note\":\"").starts_with("the checksum is "));
    assert!(kind_of("nitrate", "mg/dL", "N").is_err());
    assert_eq!(kind_of("pyocyanin", "umol/L", "pyocyanin").expect("it goes well").to_string(), "µmol/L");
}

#[test]
fn a_later_version_is_told_from_a_broken_record() {
    let words = "version 2 of the record is not known here; accepted: 1. Update this software";
    assert_eq!(line_with("\"wire\":1", "\"wire\":2"), words);
    let mut bytes = to_bytes(&quantified()).expect("it goes well");
    bytes[3] = 2;
    assert_eq!(from_bytes(&bytes).expect_err("it is refused").to_string(), words);
}

#[test]
fn what_a_device_cannot_send_is_not_written() {
    let mut record = quantified();
    record.withheld = 4;
    assert!(matches!(to_line(&record), Err(WireError::Unusable { .. })));
    record.verdicts = vec![WireVerdict::Withheld, WireVerdict::NotDecidable];
    assert!(to_line(&record).is_ok());
    record.name = "well 7".to_owned();
    assert_eq!(
        to_bytes(&record).expect_err("it is refused").to_string(),
        "`bn` is \"well 7\"; accepted: 1 to 48 of A-Z a-z 0-9 - : . / _, the first a letter or digit (RFC 8428, 4.5.1)"
    );
}

#[test]
fn other_texts_and_bytes_are_refused_in_words() {
    assert_eq!(
        from_line("{}").expect_err("it is refused").to_string(),
        "no list of records; expected one SenML pack (RFC 8428) on one line"
    );
    assert!(
        from_line(r#"[{"n":"a","v":1}]"#)
            .expect_err("it is refused")
            .to_string()
            .starts_with("there is no `wire`")
    );
    assert_eq!(from_bytes(&[0; 513]), Err(WireError::TooLong { n: 513, most: 512 }));
    assert!(matches!(from_bytes(&[]), Err(WireError::NotCompact { at: 0, .. })));
    // The same map, the version in two bytes instead of one.
    let bytes = to_bytes(&quantified()).expect("it goes well");
    let longer = [&bytes[..3], &[0x18, 0x01], &bytes[4..]].concat();
    assert!(matches!(from_bytes(&longer), Err(WireError::ChecksumDiffers { .. })));
}

//! Units and concentrations as people write them.

use proptest::prelude::*;
use stillwell_quantity::{Analyte, Concentration, QuantityError, QuantityKind, ReadingNote};

fn label(text: &str, analyte: Option<&Analyte>) -> String {
    match QuantityKind::parse(text, analyte) {
        Ok(parsed) => format!("{}: {}", parsed.value.species.analyte(), parsed.value),
        Err(refusal) => format!("refused: {refusal}"),
    }
}

#[test]
fn texts_that_name_everything_need_no_context() {
    let table = [
        ("mg/L as NO3-", "nitrate: mg/L as NO₃⁻"),
        ("mg/L as NO₃⁻", "nitrate: mg/L as NO₃⁻"),
        ("mg/L NO3", "nitrate: mg/L as NO₃⁻"),
        ("mg/l (NO3-)", "nitrate: mg/L as NO₃⁻"),
        ("mg NO3-/L", "nitrate: mg/L as NO₃⁻"),
        ("mg / L NO3", "nitrate: mg/L as NO₃⁻"),
        ("mg/L NO3- N", "nitrate: mg/L as N"),
        ("mg L-1 NO3", "nitrate: mg/L as NO₃⁻"),
        ("mg·L⁻¹ NO₃⁻", "nitrate: mg/L as NO₃⁻"),
        ("mg/L NO3-N", "nitrate: mg/L as N"),
        ("mg/L NO₃⁻-N", "nitrate: mg/L as N"),
        ("mg/L nitrate-N", "nitrate: mg/L as N"),
        ("mg/L nitrate as N", "nitrate: mg/L as N"),
        ("mg/L nitrate as NO3", "nitrate: mg/L as NO₃⁻"),
        ("µmol/L nitrate", "nitrate: µmol/L"),
        ("μM NO2-", "nitrite: µmol/L"),
        ("ug/L NO2-N", "nitrite: µg/L as N"),
        ("mg/L as NH4+", "ammonium: mg/L as NH₄⁺"),
        ("mg/L NH4-N", "ammonium: mg/L as N"),
        ("mg/L nitrate + nitrite as N", "nitrate + nitrite: mg/L as N"),
        ("mg/L NO3+NO2-N", "nitrate + nitrite: mg/L as N"),
    ];
    for (text, expected) in table {
        assert_eq!(label(text, None), expected, "{text}");
    }
}

#[test]
fn the_expected_analyte_completes_the_text() {
    let nitrate = Analyte::Nitrate;
    for (text, expected) in [
        ("mg/L as N", "nitrate: mg/L as N"),
        ("mg/L N", "nitrate: mg/L as N"),
        ("mg N/L", "nitrate: mg/L as N"),
        ("umol/L", "nitrate: µmol/L"),
        ("µmol/L", "nitrate: µmol/L"),
        ("uM", "nitrate: µmol/L"),
        ("mM", "nitrate: mmol/L"),
        ("M", "nitrate: mol/L"),
        ("nM", "nitrate: nmol/L"),
        ("mol/dm3", "nitrate: mol/L"),
        ("g/L as NO3-", "nitrate: g/L as NO₃⁻"),
    ] {
        assert_eq!(label(text, Some(&nitrate)), expected, "{text}");
    }
    let both = Analyte::NitratePlusNitrite;
    assert_eq!(label("mg/L as NO3-", Some(&both)), "nitrate + nitrite: mg/L as NO₃⁻");
    assert_eq!(label("mg/L as N", Some(&both)), "nitrate + nitrite: mg/L as N");
    let named = Analyte::from_name("pyocyanin", None).unwrap();
    for (text, expected) in
        [("µM", "pyocyanin: µmol/L"), ("mg/L", "pyocyanin: mg/L"), ("mg/L Pyocyanin", "pyocyanin: mg/L")]
    {
        assert_eq!(label(text, Some(&named)), expected, "{text}");
    }
}

#[test]
fn an_open_form_is_refused_with_the_factor() {
    for text in ["mg/L", "ppm", "µg/L", "mg/L nitrate"] {
        let refusal = QuantityKind::parse(text, Some(&Analyte::Nitrate)).unwrap_err();
        assert!(matches!(refusal, QuantityError::FormMissing { .. }), "{text}: {refusal}");
        assert!(refusal.to_string().contains("4.43-fold"), "{refusal}");
    }
    let refusal = QuantityKind::parse("mg/L", Some(&Analyte::Nitrite)).unwrap_err();
    assert!(refusal.to_string().contains("3.28-fold"), "{refusal}");
}

#[test]
fn ppm_is_read_with_a_note() {
    let parsed = QuantityKind::parse("ppm as NO3-", None).unwrap();
    assert_eq!(parsed.note, Some(ReadingNote::PpmAsMilligramPerLitre));
    assert_eq!(parsed.value.to_string(), "mg/L as NO₃⁻");
    assert_eq!(QuantityKind::parse("mg/L NO3", None).unwrap().note, None);
}

#[test]
fn what_is_not_understood_is_refused() {
    let nitrate = Some(&Analyte::Nitrate);
    for text in ["", "mg", "mg/kg", "MG/L", "furlong", "mg/Lx", "mMol", "%", "mg/L/L", "mg/m3", "Mg/L"] {
        let refusal = QuantityKind::parse(text, nitrate);
        assert!(matches!(refusal, Err(QuantityError::UnknownUnit { .. })), "{text}: {refusal:?}");
    }
    assert!(matches!(QuantityKind::parse("mg/L as KNO3", nitrate), Err(QuantityError::UnknownForm { .. })));
    assert!(matches!(
        QuantityKind::parse("mg/L nitrate as NO2-", None),
        Err(QuantityError::UnknownForm { .. })
    ));
    assert!(matches!(
        QuantityKind::parse("mg/L as NO2-", nitrate),
        Err(QuantityError::FormOfAnotherAnalyte { .. })
    ));
    assert!(matches!(
        QuantityKind::parse("mg/L NO3-N", Some(&Analyte::NitratePlusNitrite)),
        Err(QuantityError::FormOfAnotherAnalyte { .. })
    ));
    for text in ["mg/L as N", "µM", "ppm"] {
        assert!(
            matches!(QuantityKind::parse(text, None), Err(QuantityError::AnalyteMissing { .. })),
            "{text}"
        );
    }
    let named = Analyte::from_name("pyocyanin", None).unwrap();
    assert!(QuantityKind::parse("mg/L as N", Some(&named)).is_err());
}

#[test]
fn concentrations_begin_with_a_plain_number() {
    for (text, expected) in [
        ("48.2 mg/L as NO3-", "48.2 mg/L as NO₃⁻"),
        ("48.2mg/L NO3", "48.2 mg/L as NO₃⁻"),
        ("1e-3 mol/L nitrate", "0.001 mol/L"),
        ("−0.4 mg/L as NO3-", "-0.4 mg/L as NO₃⁻"),
    ] {
        assert_eq!(Concentration::parse(text, None).unwrap().value.to_string(), expected);
    }
    for text in
        ["mg/L NO3", "48,2 mg/L NO3", "1 000 mg/L NO3", "1e999 mg/L NO3", "--1 mg/L NO3", "NaN mg/L NO3", ""]
    {
        assert!(Concentration::parse(text, None).is_err(), "{text}");
    }
}

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,40}|[0-9. eE+-]{0,6}(mg|u|µ|g|mol|M)?(/L| L-1)?( as )?[A-Z0-9+-]{0,6}") {
        for analyte in [None, Some(&Analyte::Nitrate)] {
            if let Ok(parsed) = QuantityKind::parse(&text, analyte) {
                let again = QuantityKind::parse(&parsed.value.to_string(), Some(parsed.value.species.analyte())).unwrap();
                prop_assert_eq!(again.value, parsed.value);
            }
            if let Ok(parsed) = Concentration::parse(&text, analyte) {
                prop_assert!(parsed.value.value().is_finite());
            }
        }
    }
}

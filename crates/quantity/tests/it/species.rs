//! Conversions and their refusals.

use proptest::prelude::*;
use stillwell_quantity::{
    Analyte, Concentration, NamedAnalyte, QuantityError, QuantityKind, Species, Unit, formula_molar_mass,
};

fn pyocyanin(molar_mass: Option<f64>) -> Species {
    Species::itself(Analyte::from_name("pyocyanin", molar_mass).unwrap())
}

#[test]
fn different_analytes_are_never_exchanged() {
    let nitrate = Concentration::new(50.0, Unit::MilligramPerLitre, Species::nitrate()).unwrap();
    for other in [Species::nitrite(), Species::nitrate_plus_nitrite_as_n(), pyocyanin(Some(210.23))] {
        let refusal = nitrate.to(Unit::MilligramPerLitre, &other).unwrap_err();
        assert!(matches!(refusal, QuantityError::DifferentAnalyte { .. }), "{refusal}");
    }
}

#[test]
fn mass_and_amount_need_a_molar_mass() {
    let without = Concentration::new(100.0, Unit::MicromolePerLitre, pyocyanin(None)).unwrap();
    assert!((without.to(Unit::MillimolePerLitre, &pyocyanin(None)).unwrap().value() - 0.1).abs() < 1e-15);
    let refusal = without.to(Unit::MilligramPerLitre, &pyocyanin(None)).unwrap_err();
    assert!(matches!(refusal, QuantityError::MolarMassMissing { .. }), "{refusal}");
    // Either side may state it.
    let milligram = without.to(Unit::MilligramPerLitre, &pyocyanin(Some(210.23))).unwrap();
    assert!((milligram.value() - 21.023).abs() < 1e-12);
    let other_mass = milligram.to(Unit::MilligramPerLitre, &pyocyanin(Some(210.0))).unwrap_err();
    assert!(matches!(other_mass, QuantityError::MolarMassesDiffer { .. }), "{other_mass}");
}

#[test]
fn unusable_numbers_and_names_are_refused() {
    assert!(Concentration::new(f64::NAN, Unit::GramPerLitre, Species::nitrate()).is_err());
    let huge = Concentration::new(1e305, Unit::GramPerLitre, Species::nitrate()).unwrap();
    assert!(matches!(
        huge.to(Unit::MicrogramPerLitre, &Species::nitrate()),
        Err(QuantityError::NotFinite { .. })
    ));
    for mass in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(NamedAnalyte::new("pyocyanin", Some(mass)).is_err());
    }
    assert!(NamedAnalyte::new("  ", None).is_err());
    for form in ["NO3-N", "nitrate-N", "N", "NO₃⁻-N"] {
        assert!(matches!(Analyte::from_name(form, None), Err(QuantityError::NameIsForm { .. })), "{form}");
    }
    assert!(matches!(NamedAnalyte::new("NO3-", None), Err(QuantityError::NameTaken { .. })));
    assert!(matches!(Analyte::from_name("nitrate", Some(62.0)), Err(QuantityError::MolarMassFixed { .. })));
}

#[test]
fn formulas_that_cannot_be_read_name_the_place() {
    for (formula, position) in
        [("", 1), ("kno3", 1), ("KNO3)", 5), ("K(NO3", 6), ("KNO0", 4), ("K NO3", 2), ("3", 2), ("H99999", 6)]
    {
        match formula_molar_mass(formula) {
            Err(QuantityError::FormulaNotUnderstood { position: found, .. }) => {
                assert_eq!(found, position, "{formula}");
            }
            other => panic!("{formula}: {other:?}"),
        }
    }
    assert!(
        matches!(formula_molar_mass("PbNO3"), Err(QuantityError::ElementNotInTable { element, .. }) if element == "Pb")
    );
    assert!(formula_molar_mass(&"(".repeat(100_000)).is_err());
}

#[test]
fn field_names_carry_unit_and_form() {
    let suffix = |unit, species| QuantityKind { unit, species }.suffix();
    assert_eq!(suffix(Unit::MilligramPerLitre, Species::nitrate()), "mg_per_l_as_no3");
    assert_eq!(suffix(Unit::MilligramPerLitre, Species::nitrate_plus_nitrite_as_n()), "mg_per_l_as_n");
    assert_eq!(suffix(Unit::MicromolePerLitre, Species::nitrate()), "umol_per_l");
    assert_eq!(suffix(Unit::MicrogramPerLitre, pyocyanin(None)), "ug_per_l");
}

proptest! {
    #[test]
    fn there_and_back_is_the_same_number(value in -1e6_f64..1e6, from in 0_usize..7, to in 0_usize..7) {
        let start = Concentration::new(value, Unit::ALL[from], Species::nitrate()).unwrap();
        let back = start.to(Unit::ALL[to], &Species::nitrate_as_n()).unwrap().to_kind(start.kind()).unwrap();
        prop_assert!((back.value() - value).abs() <= 1e-14 * value.abs(), "{} {}", value, back.value());
    }

    #[test]
    fn formulas_never_panic(formula in "[A-Za-z0-9().·* ]{0,20}|\\PC{0,20}") {
        if let Ok(mass) = formula_molar_mass(&formula) {
            prop_assert!(mass > 0.0 && mass.is_finite());
        }
    }
}

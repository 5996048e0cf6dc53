//! What a number on the wire is a number of: analyte, unit and form, as plain ASCII where they are known to us.

use stillwell_quantity::{Analyte, ExpressedAs, QuantityKind, Species, Unit};

use super::error::WireError;

/// The texts that stand in `basis.c`: analyte, unit and form of a method's results.
///
/// # Example
/// ```
/// use stillwell_quantity::{QuantityKind, Species, Unit};
/// let kind = QuantityKind { unit: Unit::MicromolePerLitre, species: Species::nitrate() };
/// assert_eq!(stillwell_transfer::wire::basis_texts(&kind), ["nitrate", "umol/L", "NO3-"]);
/// ```
pub fn basis_texts(kind: &QuantityKind) -> [String; 3] {
    let analyte = kind.species.analyte();
    let form = match (analyte, kind.species.expressed_as()) {
        (_, ExpressedAs::Nitrogen) => "N",
        (Analyte::Nitrate | Analyte::NitratePlusNitrite, ExpressedAs::Itself) => "NO3-",
        (Analyte::Nitrite, ExpressedAs::Itself) => "NO2-",
        (Analyte::Ammonium, ExpressedAs::Itself) => "NH4+",
        (Analyte::Named(named), ExpressedAs::Itself) => named.name(),
    };
    [analyte.name().to_owned(), unit_text(kind.unit), form.to_owned()]
}

/// `umol/L` for `µmol/L`: a device's display need not know the letter.
fn unit_text(unit: Unit) -> String {
    unit.symbol().replace('µ', "u")
}

/// The quantity that three texts from a device name.
///
/// # Errors
/// [`WireError::BasisUnusable`]: a unit that there is not, or a form that is not one of this analyte.
///
/// # Example
/// ```
/// use stillwell_transfer::wire::kind_of;
/// assert_eq!(kind_of("nitrate", "mg/L", "N")?.to_string(), "mg/L as N");
/// assert!(kind_of("nitrate", "mg/L", "").is_err());
/// # Ok::<(), stillwell_transfer::wire::WireError>(())
/// ```
pub fn kind_of(analyte: &str, unit: &str, species: &str) -> Result<QuantityKind, WireError> {
    let refused = |found: String| WireError::BasisUnusable {
        analyte: analyte.to_owned(),
        unit: unit.to_owned(),
        species: species.to_owned(),
        found,
    };
    let known = Analyte::from_name(analyte, None).map_err(|error| refused(error.to_string()))?;
    let Some(unit_known) = Unit::ALL.into_iter().find(|one| unit_text(*one) == unit) else {
        return Err(refused("there is no such unit of concentration".to_owned()));
    };
    for form in [ExpressedAs::Itself, ExpressedAs::Nitrogen] {
        let Ok(species_known) = Species::new(known.clone(), form) else { continue };
        let kind = QuantityKind { unit: unit_known, species: species_known };
        if basis_texts(&kind) == [analyte, unit, species] {
            return Ok(kind);
        }
    }
    Err(refused("the form is none of this analyte, or the analyte has another name here".to_owned()))
}

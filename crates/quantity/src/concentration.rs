//! A concentration: value, unit and species, and its conversion.

use std::fmt;

use crate::{Analyte, ExpressedAs, QuantityError, Species, Unit};

/// A unit together with what it counts, such as `mg/L as NO₃⁻` of nitrate.
#[derive(Debug, Clone, PartialEq)]
pub struct QuantityKind {
    /// The unit.
    pub unit: Unit,
    /// What is counted.
    pub species: Species,
}

impl QuantityKind {
    /// The kind in a field name: `mg_per_l_as_no3`, `mg_per_l_as_n`, `umol_per_l`.
    ///
    /// # Example
    /// ```
    /// use stillwell_quantity::{QuantityKind, Species, Unit};
    /// let kind = QuantityKind { unit: Unit::MilligramPerLitre, species: Species::nitrate() };
    /// assert_eq!(kind.suffix(), "mg_per_l_as_no3");
    /// ```
    pub fn suffix(&self) -> String {
        let unit = self.unit.suffix();
        if !self.unit.is_mass() {
            return unit.to_owned();
        }
        let form = match (self.species.analyte(), self.species.expressed_as()) {
            (Analyte::Named(_), _) => return unit.to_owned(),
            (_, ExpressedAs::Nitrogen) => "n",
            (Analyte::Nitrate | Analyte::NitratePlusNitrite, ExpressedAs::Itself) => "no3",
            (Analyte::Nitrite, ExpressedAs::Itself) => "no2",
            (Analyte::Ammonium, ExpressedAs::Itself) => "nh4",
        };
        format!("{unit}_as_{form}")
    }
}

/// The unit and, where mass is counted in more than one form, the form: `mg/L as NO₃⁻`, `µmol/L`.
impl fmt::Display for QuantityKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.unit.symbol())?;
        match self.species.form() {
            Some(form) if self.unit.is_mass() => write!(f, " as {form}"),
            _ => Ok(()),
        }
    }
}

/// A concentration that knows its unit and what it counts. Its value is finite; it may be negative, since an
/// estimate near zero is.
#[derive(Debug, Clone, PartialEq)]
pub struct Concentration {
    value: f64,
    kind: QuantityKind,
}

impl Concentration {
    /// `value` in `unit` of `species`.
    ///
    /// # Errors
    /// [`QuantityError::NotFinite`].
    ///
    /// # Example
    /// ```
    /// use stillwell_quantity::{Concentration, Species, Unit};
    /// let limit = Concentration::new(50.0, Unit::MilligramPerLitre, Species::nitrate())?;
    /// let as_n = limit.to(Unit::MilligramPerLitre, &Species::nitrate_as_n())?;
    /// assert!((as_n.value() - 11.295).abs() < 0.001);
    /// # Ok::<(), stillwell_quantity::QuantityError>(())
    /// ```
    pub fn new(value: f64, unit: Unit, species: Species) -> Result<Self, QuantityError> {
        Self::of_kind(value, QuantityKind { unit, species })
    }

    /// `value` of `kind`.
    ///
    /// # Errors
    /// [`QuantityError::NotFinite`].
    pub fn of_kind(value: f64, kind: QuantityKind) -> Result<Self, QuantityError> {
        if value.is_finite() { Ok(Self { value, kind }) } else { Err(QuantityError::NotFinite { value }) }
    }

    /// The number in [`Self::unit`].
    pub const fn value(&self) -> f64 {
        self.value
    }

    /// The unit.
    pub const fn unit(&self) -> Unit {
        self.kind.unit
    }

    /// What is counted.
    pub const fn species(&self) -> &Species {
        &self.kind.species
    }

    /// Unit and species.
    pub const fn kind(&self) -> &QuantityKind {
        &self.kind
    }

    /// The same concentration in another unit or form of the same analyte:
    /// mass = amount × molar mass of the form, with the molar masses of one table only.
    ///
    /// # Units
    /// The result is in `unit`.
    ///
    /// # Errors
    /// Another analyte, an unknown molar mass, or a result beyond all numbers.
    ///
    /// # Source
    /// [`crate::ATOMIC_WEIGHTS_SOURCE`].
    pub fn to(&self, unit: Unit, species: &Species) -> Result<Self, QuantityError> {
        self.species().check_same_analyte(species)?;
        let from = self.unit();
        let value = match (from.is_mass(), unit.is_mass()) {
            (true, true) if self.species().expressed_as() == species.expressed_as() => {
                from.rescale(self.value, unit)
            }
            (true, true) => {
                let (old, new) = (self.molar_mass(self.species(), unit)?, self.molar_mass(species, unit)?);
                from.rescale(self.value, unit) * new / old
            }
            (false, false) => from.rescale(self.value, unit),
            (true, false) => {
                from.rescale(self.value / self.molar_mass_of_pair(self.species(), species, unit)?, unit)
            }
            (false, true) => {
                from.rescale(self.value * self.molar_mass_of_pair(species, self.species(), unit)?, unit)
            }
        };
        Self::new(value, unit, species.clone())
    }

    /// [`Self::to`] with unit and species as one.
    ///
    /// # Errors
    /// As [`Self::to`].
    pub fn to_kind(&self, kind: &QuantityKind) -> Result<Self, QuantityError> {
        self.to(kind.unit, &kind.species)
    }

    fn molar_mass(&self, species: &Species, to: Unit) -> Result<f64, QuantityError> {
        species.molar_mass_g_per_mol().ok_or_else(|| QuantityError::MolarMassMissing {
            analyte: species.analyte().name().to_owned(),
            from: self.unit().symbol(),
            to: to.symbol(),
        })
    }

    /// The molar mass of the side counted by mass; for a user-named analyte either side may state it.
    fn molar_mass_of_pair(
        &self,
        mass_side: &Species,
        other: &Species,
        to: Unit,
    ) -> Result<f64, QuantityError> {
        mass_side.molar_mass_g_per_mol().map_or_else(|| self.molar_mass(other, to), Ok)
    }
}

/// Full precision; for people, round to the uncertainty first.
impl fmt::Display for Concentration {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.value, self.kind)
    }
}

//! What is counted, and in which form it is expressed.

use std::fmt;

use crate::{QuantityError, molar_mass};

/// A dissolved substance that a method determines.
#[derive(Debug, Clone, PartialEq)]
pub enum Analyte {
    /// Nitrate, NO₃⁻.
    Nitrate,
    /// Nitrite, NO₂⁻.
    Nitrite,
    /// Ammonium, NH₄⁺.
    Ammonium,
    /// Nitrate and nitrite together, as a signal that includes both gives them.
    NitratePlusNitrite,
    /// A substance named by the user.
    Named(NamedAnalyte),
}

/// A substance named by the user, with its molar mass where it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedAnalyte {
    name: String,
    molar_mass_g_per_mol: Option<f64>,
}

/// The form in which an analyte's mass is expressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ExpressedAs {
    /// As the analyte's own ion or molecule (nitrate + nitrite: every ion counted as NO₃⁻).
    Itself,
    /// As the nitrogen in it.
    Nitrogen,
}

impl Analyte {
    /// The analyte of this name: a known one where the name or formula is known, else one named by the user.
    ///
    /// # Units
    /// `molar_mass_g_per_mol` in g/mol; only for substances that the table lacks.
    ///
    /// # Errors
    /// An unusable name, a form (`NO3-N`) in its place, a molar mass that is not positive, or one given for a known analyte.
    ///
    /// # Example
    /// ```
    /// use stillwell_quantity::Analyte;
    /// assert_eq!(Analyte::from_name("NO3-", None)?, Analyte::Nitrate);
    /// assert_eq!(Analyte::from_name("pyocyanin", Some(210.23))?.name(), "pyocyanin");
    /// # Ok::<(), stillwell_quantity::QuantityError>(())
    /// ```
    pub fn from_name(name: &str, molar_mass_g_per_mol: Option<f64>) -> Result<Self, QuantityError> {
        match (crate::parse::known_analyte(name), molar_mass_g_per_mol) {
            (Some(known), None) => Ok(known),
            (Some(known), Some(given)) => Err(QuantityError::MolarMassFixed {
                analyte: known.known_name(),
                table_g_per_mol: known.ion_molar_mass(),
                given_g_per_mol: given,
            }),
            (None, _) => NamedAnalyte::new(name, molar_mass_g_per_mol).map(Self::Named),
        }
    }

    /// The name in running text, such as `nitrate + nitrite`.
    pub fn name(&self) -> &str {
        match self {
            Self::Named(named) => named.name(),
            known => known.known_name(),
        }
    }

    const fn known_name(&self) -> &'static str {
        match self {
            Self::Nitrate => "nitrate",
            Self::Nitrite => "nitrite",
            Self::Ammonium => "ammonium",
            Self::NitratePlusNitrite => "nitrate + nitrite",
            Self::Named(_) => "",
        }
    }

    /// The ion as printed and as typed; none for a user's own analyte, which has one form only.
    pub(crate) const fn ion(&self) -> Option<(&'static str, &'static str)> {
        match self {
            Self::Nitrate | Self::NitratePlusNitrite => Some(("NO₃⁻", "NO3-")),
            Self::Nitrite => Some(("NO₂⁻", "NO2-")),
            Self::Ammonium => Some(("NH₄⁺", "NH4+")),
            Self::Named(_) => None,
        }
    }

    const fn ion_molar_mass(&self) -> f64 {
        match self {
            Self::Nitrate | Self::NitratePlusNitrite => molar_mass::NO3,
            Self::Nitrite => molar_mass::NO2,
            Self::Ammonium => molar_mass::NH4,
            Self::Named(_) => f64::NAN,
        }
    }

    /// The refusal for a mass whose form is not stated; none for an analyte with one form only.
    pub(crate) fn form_missing(&self, text: &str, unit: crate::Unit) -> Option<QuantityError> {
        self.ion().map(|(ion, ion_ascii)| QuantityError::FormMissing {
            text: text.to_owned(),
            analyte: self.known_name(),
            ion,
            ion_ascii,
            unit: unit.symbol(),
            factor: self.ion_molar_mass() / molar_mass::N,
        })
    }
}

impl fmt::Display for Analyte {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl NamedAnalyte {
    /// A substance of this name; without a molar mass its mass and amount cannot be exchanged.
    ///
    /// # Units
    /// g/mol.
    ///
    /// # Errors
    /// A name that is empty, unprintable, longer than 64 characters, that of a known analyte or of a form (`NO3-N`); a
    /// molar mass that is not positive and finite.
    pub fn new(name: &str, molar_mass_g_per_mol: Option<f64>) -> Result<Self, QuantityError> {
        let name = name.trim();
        if name.is_empty() || name.chars().count() > 64 || name.chars().any(char::is_control) {
            return Err(QuantityError::NameUnusable { name: name.to_owned() });
        }
        if crate::parse::is_nitrogen_form(name) {
            return Err(QuantityError::NameIsForm { name: name.to_owned() });
        }
        if let Some(known) = crate::parse::known_analyte(name) {
            return Err(QuantityError::NameTaken { name: name.to_owned(), known: known.known_name() });
        }
        match molar_mass_g_per_mol {
            Some(mass) if !(mass.is_finite() && mass > 0.0) => {
                Err(QuantityError::MolarMassInvalid { analyte: name.to_owned(), molar_mass_g_per_mol: mass })
            }
            _ => Ok(Self { name: name.to_owned(), molar_mass_g_per_mol }),
        }
    }

    /// The name as the user wrote it.
    pub fn name(&self) -> &str {
        &self.name
    }
}

/// An analyte and the form in which its mass is expressed.
#[derive(Debug, Clone, PartialEq)]
pub struct Species {
    analyte: Analyte,
    expressed_as: ExpressedAs,
}

impl Species {
    /// `analyte` in the form `expressed_as`.
    ///
    /// # Errors
    /// [`QuantityError::NoNitrogenForm`] for a user-named analyte "as N".
    pub fn new(analyte: Analyte, expressed_as: ExpressedAs) -> Result<Self, QuantityError> {
        if expressed_as == ExpressedAs::Nitrogen && analyte.ion().is_none() {
            return Err(QuantityError::NoNitrogenForm { analyte: analyte.name().to_owned() });
        }
        Ok(Self { analyte, expressed_as })
    }

    /// `analyte` as its own ion or molecule.
    pub const fn itself(analyte: Analyte) -> Self {
        Self { analyte, expressed_as: ExpressedAs::Itself }
    }

    /// Nitrate as NO₃⁻.
    pub const fn nitrate() -> Self {
        Self::itself(Analyte::Nitrate)
    }

    /// Nitrate as N.
    pub const fn nitrate_as_n() -> Self {
        Self { analyte: Analyte::Nitrate, expressed_as: ExpressedAs::Nitrogen }
    }

    /// Nitrite as NO₂⁻.
    pub const fn nitrite() -> Self {
        Self::itself(Analyte::Nitrite)
    }

    /// Nitrite as N.
    pub const fn nitrite_as_n() -> Self {
        Self { analyte: Analyte::Nitrite, expressed_as: ExpressedAs::Nitrogen }
    }

    /// Nitrate + nitrite as N.
    pub const fn nitrate_plus_nitrite_as_n() -> Self {
        Self { analyte: Analyte::NitratePlusNitrite, expressed_as: ExpressedAs::Nitrogen }
    }

    /// The analyte.
    pub const fn analyte(&self) -> &Analyte {
        &self.analyte
    }

    /// The form.
    pub const fn expressed_as(&self) -> ExpressedAs {
        self.expressed_as
    }

    /// The form as printed: `NO₃⁻`, `N`; none for a user-named analyte.
    pub fn form(&self) -> Option<&'static str> {
        let (ion, _) = self.analyte.ion()?;
        Some(if self.expressed_as == ExpressedAs::Nitrogen { "N" } else { ion })
    }

    /// Molar mass of the form in g/mol; none where the user gave none.
    ///
    /// # Source
    /// [`crate::ATOMIC_WEIGHTS_SOURCE`], or the user's own value.
    pub const fn molar_mass_g_per_mol(&self) -> Option<f64> {
        match (&self.analyte, self.expressed_as) {
            (Analyte::Named(named), _) => named.molar_mass_g_per_mol,
            (_, ExpressedAs::Nitrogen) => Some(molar_mass::N),
            (known, ExpressedAs::Itself) => Some(known.ion_molar_mass()),
        }
    }

    /// Whether a value of this species can be expressed as `other`.
    pub(crate) fn check_same_analyte(&self, other: &Self) -> Result<(), QuantityError> {
        match (&self.analyte, &other.analyte) {
            (Analyte::Named(a), Analyte::Named(b)) if a.name == b.name => {
                match (a.molar_mass_g_per_mol, b.molar_mass_g_per_mol) {
                    (Some(first), Some(second)) if first.to_bits() != second.to_bits() => {
                        Err(QuantityError::MolarMassesDiffer {
                            analyte: a.name.clone(),
                            first_g_per_mol: first,
                            second_g_per_mol: second,
                        })
                    }
                    _ => Ok(()),
                }
            }
            (a, b) if a == b => Ok(()),
            (a, b) => {
                Err(QuantityError::DifferentAnalyte { from: a.name().to_owned(), to: b.name().to_owned() })
            }
        }
    }
}

impl fmt::Display for Species {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.analyte.name())?;
        self.form().map_or(Ok(()), |form| write!(f, " as {form}"))
    }
}

//! Units of concentration.

use std::fmt;

/// A unit of mass concentration or of amount concentration.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unit {
    /// g/L
    GramPerLitre,
    /// mg/L
    MilligramPerLitre,
    /// µg/L
    MicrogramPerLitre,
    /// mol/L
    MolePerLitre,
    /// mmol/L
    MillimolePerLitre,
    /// µmol/L
    MicromolePerLitre,
    /// nmol/L
    NanomolePerLitre,
}

impl Unit {
    /// Every unit, mass first.
    pub const ALL: [Self; 7] = [
        Self::GramPerLitre,
        Self::MilligramPerLitre,
        Self::MicrogramPerLitre,
        Self::MolePerLitre,
        Self::MillimolePerLitre,
        Self::MicromolePerLitre,
        Self::NanomolePerLitre,
    ];

    /// The symbol as printed, such as `µmol/L`.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::GramPerLitre => "g/L",
            Self::MilligramPerLitre => "mg/L",
            Self::MicrogramPerLitre => "µg/L",
            Self::MolePerLitre => "mol/L",
            Self::MillimolePerLitre => "mmol/L",
            Self::MicromolePerLitre => "µmol/L",
            Self::NanomolePerLitre => "nmol/L",
        }
    }

    /// The unit in a field name, such as `umol_per_l`.
    pub const fn suffix(self) -> &'static str {
        match self {
            Self::GramPerLitre => "g_per_l",
            Self::MilligramPerLitre => "mg_per_l",
            Self::MicrogramPerLitre => "ug_per_l",
            Self::MolePerLitre => "mol_per_l",
            Self::MillimolePerLitre => "mmol_per_l",
            Self::MicromolePerLitre => "umol_per_l",
            Self::NanomolePerLitre => "nmol_per_l",
        }
    }

    /// Whether mass is counted (otherwise amount of substance).
    pub const fn is_mass(self) -> bool {
        matches!(self, Self::GramPerLitre | Self::MilligramPerLitre | Self::MicrogramPerLitre)
    }

    /// How many thousandths below g/L or mol/L.
    const fn thousandths(self) -> i32 {
        match self {
            Self::GramPerLitre | Self::MolePerLitre => 0,
            Self::MilligramPerLitre | Self::MillimolePerLitre => 1,
            Self::MicrogramPerLitre | Self::MicromolePerLitre => 2,
            Self::NanomolePerLitre => 3,
        }
    }

    /// `value` of this unit in `to`, prefixes only: one multiplication or division by an exact power of ten.
    pub(crate) fn rescale(self, value: f64, to: Self) -> f64 {
        match to.thousandths() - self.thousandths() {
            3 => value * 1e9,
            2 => value * 1e6,
            1 => value * 1e3,
            -1 => value / 1e3,
            -2 => value / 1e6,
            -3 => value / 1e9,
            _ => value,
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

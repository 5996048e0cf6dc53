//! The units of potential and current that a file may state, and how they are spelled.

use crate::pin::words;

words! {
    /// A unit of potential.
    PotentialUnit {
        /// volt
        Volt = "V",
        /// millivolt
        Millivolt = "mV",
    }
}

words! {
    /// A unit of current.
    CurrentUnit {
        /// ampere
        Ampere = "A",
        /// milliampere
        Milliampere = "mA",
        /// microampere
        Microampere = "µA",
        /// nanoampere
        Nanoampere = "nA",
        /// picoampere
        Picoampere = "pA",
    }
}

impl PotentialUnit {
    /// The potential in volts. Millivolts are divided by 1000, which rounds once.
    pub fn to_volts(self, value: f64) -> f64 {
        match self {
            Self::Volt => value,
            Self::Millivolt => value / 1e3,
        }
    }
}

impl CurrentUnit {
    /// How many of the unit make an ampere: an exact power of ten. Dividing by it rounds once.
    pub(crate) fn per_ampere(self) -> f64 {
        match self {
            Self::Ampere => 1.0,
            Self::Milliampere => 1e3,
            Self::Microampere => 1e6,
            Self::Nanoampere => 1e9,
            Self::Picoampere => 1e12,
        }
    }
}

/// What a unit text stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum UnitWord {
    Potential(PotentialUnit),
    Current(CurrentUnit),
    /// A current per area: it cannot be turned back into a current without the area.
    CurrentDensity,
    /// Seconds per unit.
    Time(f64),
    /// A unit of something else, or a size of volt or ampere that is not supported.
    Other,
}

/// Recognises a unit text, both micro signs and `u` included.
pub(crate) fn unit_from_text(text: &str) -> Option<UnitWord> {
    let text: String = text.trim().chars().map(|c| if matches!(c, 'µ' | 'μ') { 'u' } else { c }).collect();
    Some(match text.as_str() {
        "V" | "volt" | "Volt" | "volts" | "Volts" => UnitWord::Potential(PotentialUnit::Volt),
        "mV" | "millivolt" | "millivolts" => UnitWord::Potential(PotentialUnit::Millivolt),
        "A" | "Amp" | "amp" | "Amps" | "amps" | "Ampere" | "ampere" | "amperes" => {
            UnitWord::Current(CurrentUnit::Ampere)
        }
        "mA" | "milliampere" => UnitWord::Current(CurrentUnit::Milliampere),
        "uA" | "microampere" | "microamp" | "microamps" => UnitWord::Current(CurrentUnit::Microampere),
        "nA" | "nanoampere" | "nanoamp" | "nanoamps" => UnitWord::Current(CurrentUnit::Nanoampere),
        "pA" | "picoampere" => UnitWord::Current(CurrentUnit::Picoampere),
        "s" | "sec" | "seconds" => UnitWord::Time(1.0),
        "ms" => UnitWord::Time(1e-3),
        "min" | "minutes" => UnitWord::Time(60.0),
        "h" => UnitWord::Time(3600.0),
        "uV" | "kV" | "fA" | "kA" | "C" | "uC" | "mC" | "nC" | "Ohm" | "ohm" | "Ω" | "kΩ" | "W" | "°C"
        | "degC" | "K" | "%" | "Hz" | "kHz" | "F" | "uF" | "V/s" | "mV/s" => UnitWord::Other,
        other => return density(other),
    })
}

/// `µA/cm²`, `uA cm-2`, `A m^-2` and the like.
fn density(text: &str) -> Option<UnitWord> {
    let at = text.find(['/', ' ', '·', '*', '.'])?;
    let (current, area) = text.split_at(at);
    let area: String = area
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '/' | '·' | '*' | '^' | '.' | '(' | ')'))
        .map(|c| match c {
            '²' => '2',
            '⁻' | '−' | '–' => '-',
            c => c,
        })
        .collect();
    let is_area = matches!(
        area.as_str(),
        "cm2" | "cm-2" | "mm2" | "mm-2" | "m2" | "m-2" | "um2" | "um-2" | "dm2" | "dm-2"
    );
    (is_area && matches!(unit_from_text(current), Some(UnitWord::Current(_))))
        .then_some(UnitWord::CurrentDensity)
}

/// A current unit that a file name states as a word of its own (`i1_uA_wide.csv`). A bare `A` is a letter, not a unit;
/// two different units in one name state nothing.
pub(crate) fn current_unit_from_file_name(file_name: &str) -> Option<CurrentUnit> {
    let base = file_name.rsplit(['/', '\\']).next().unwrap_or(file_name);
    let mut found = None;
    for word in base.split(|c: char| !c.is_alphanumeric()) {
        if word == "A" {
            continue;
        }
        if let Some(UnitWord::Current(unit)) = unit_from_text(word) {
            if found.is_some_and(|earlier| earlier != unit) {
                return None;
            }
            found = Some(unit);
        }
    }
    found
}

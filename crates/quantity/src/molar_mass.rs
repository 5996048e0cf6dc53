//! The one table of atomic weights, and molar masses from formulas.

use crate::QuantityError;

/// The document behind [`ATOMIC_WEIGHTS`].
pub const ATOMIC_WEIGHTS_SOURCE: &str =
    "IUPAC abridged standard atomic weights 2021: Prohaska et al., Pure Appl. Chem. 94 (2022) 573, table 1";

/// Abridged standard atomic weights in g/mol.
///
/// The widely quoted factor 4.4268 from N to NO₃⁻ belongs to older weights (N 14.0067, O 15.9994); this table gives
/// 4.4266.
///
/// # Source
/// [`ATOMIC_WEIGHTS_SOURCE`].
pub const ATOMIC_WEIGHTS: [(&str, f64); 9] = [
    ("H", 1.008),
    ("C", 12.011),
    ("N", NITROGEN),
    ("O", OXYGEN),
    ("Na", 22.990),
    ("S", 32.06),
    ("Cl", 35.45),
    ("K", 39.098),
    ("Fe", 55.845),
];

const NITROGEN: f64 = 14.007;
const OXYGEN: f64 = 15.999;
const HYDROGEN: f64 = 1.008;

/// Molar mass of N, g/mol.
pub(crate) const N: f64 = NITROGEN;
/// Molar mass of NO₃⁻, g/mol (the electron's mass is far below the table's last digit).
pub(crate) const NO3: f64 = NITROGEN + 3.0 * OXYGEN;
/// Molar mass of NO₂⁻, g/mol.
pub(crate) const NO2: f64 = NITROGEN + 2.0 * OXYGEN;
/// Molar mass of NH₄⁺, g/mol.
pub(crate) const NH4: f64 = NITROGEN + 4.0 * HYDROGEN;

/// Molar mass of a chemical formula such as `KNO3`, `K3Fe(CN)6` or `K4Fe(CN)6.3H2O`: the sum of its atomic weights.
///
/// # Units
/// g/mol.
///
/// # Errors
/// [`QuantityError::FormulaNotUnderstood`] names the place; [`QuantityError::ElementNotInTable`] the element.
///
/// # Source
/// [`ATOMIC_WEIGHTS_SOURCE`].
///
/// # Example
/// ```
/// let potassium_nitrate = stillwell_quantity::formula_molar_mass("KNO3")?;
/// assert!((potassium_nitrate - 101.102).abs() < 1e-9);
/// # Ok::<(), stillwell_quantity::QuantityError>(())
/// ```
pub fn formula_molar_mass(formula: &str) -> Result<f64, QuantityError> {
    let mut reader = FormulaReader { formula, characters: formula.chars().collect(), at: 0 };
    let mut total = reader.part(0)?;
    while reader.peek().is_some_and(|c| matches!(c, '.' | '·' | '*')) {
        reader.at += 1;
        total += reader.part(0)?;
    }
    if reader.at < reader.characters.len() {
        return Err(reader.not_understood());
    }
    Ok(total)
}

/// Deeper nesting than any real formula has.
const MAX_DEPTH: usize = 8;

struct FormulaReader<'a> {
    formula: &'a str,
    characters: Vec<char>,
    at: usize,
}

impl FormulaReader<'_> {
    fn peek(&self) -> Option<char> {
        self.characters.get(self.at).copied()
    }

    /// An optional leading factor and its groups, up to a closing bracket, a dot or the end.
    fn part(&mut self, depth: usize) -> Result<f64, QuantityError> {
        let factor = self.count()?;
        let mut sum = 0.0;
        let start = self.at;
        while let Some(c) = self.peek() {
            let group = if c == '(' && depth < MAX_DEPTH {
                self.at += 1;
                let inner = self.part(depth + 1)?;
                if self.peek() != Some(')') {
                    return Err(self.not_understood());
                }
                self.at += 1;
                inner
            } else if c.is_ascii_uppercase() {
                self.element()?
            } else {
                break;
            };
            sum += group * self.count()?;
        }
        if self.at == start { Err(self.not_understood()) } else { Ok(sum * factor) }
    }

    fn element(&mut self) -> Result<f64, QuantityError> {
        let mut symbol = String::new();
        symbol.extend(self.peek());
        self.at += 1;
        while let Some(c) = self.peek().filter(char::is_ascii_lowercase) {
            symbol.push(c);
            self.at += 1;
        }
        let known = ATOMIC_WEIGHTS.iter().find(|(name, _)| *name == symbol);
        known.map(|(_, weight)| *weight).ok_or_else(|| QuantityError::ElementNotInTable {
            formula: self.formula.to_owned(),
            element: symbol,
            known: ATOMIC_WEIGHTS.map(|(name, _)| name).join(", "),
        })
    }

    /// The number here, or 1 where there is none; zero is refused.
    fn count(&mut self) -> Result<f64, QuantityError> {
        let start = self.at;
        let mut count = 0_u32;
        while let Some(digit) = self.peek().and_then(|c| c.to_digit(10)) {
            if count > 999 {
                return Err(self.not_understood());
            }
            count = count * 10 + digit;
            self.at += 1;
        }
        if self.at == start {
            return Ok(1.0);
        }
        if count == 0 {
            self.at = start;
            return Err(self.not_understood());
        }
        Ok(f64::from(count))
    }

    fn not_understood(&self) -> QuantityError {
        let found: String = self.characters.iter().skip(self.at).take(12).collect();
        QuantityError::FormulaNotUnderstood {
            formula: self.formula.to_owned(),
            found: if found.is_empty() { "end of formula".to_owned() } else { found },
            position: self.at + 1,
        }
    }
}

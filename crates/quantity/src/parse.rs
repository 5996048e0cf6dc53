//! Reading units and concentrations as people write them.

use std::fmt;

use crate::{Analyte, Concentration, ExpressedAs, QuantityError, QuantityKind, Species, Unit};

/// Something that was read, with what the reader should know about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Parsed<T> {
    /// What was read.
    pub value: T,
    /// What was taken for granted; to be shown beside the value.
    pub note: Option<ReadingNote>,
}

/// What was taken for granted when a unit was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadingNote {
    /// `ppm` was taken as mg/L.
    PpmAsMilligramPerLitre,
    /// `ppb` was taken as µg/L.
    PpbAsMicrogramPerLitre,
}

impl fmt::Display for ReadingNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::PpmAsMilligramPerLitre => "ppm taken as mg/L, which holds for dilute water only",
            Self::PpbAsMicrogramPerLitre => "ppb taken as µg/L, which holds for dilute water only",
        })
    }
}

impl QuantityKind {
    /// Reads a unit with its form: `mg/L as NO3-`, `mg/L NO3-N`, `µmol/L`, `uM`.
    ///
    /// `analyte` is what the number is known to count (from a method or a column); without it the text must name it.
    ///
    /// # Errors
    /// An unknown unit or form, a form of another analyte, or a mass unit that leaves the form open.
    ///
    /// # Example
    /// ```
    /// use stillwell_quantity::{Analyte, QuantityKind};
    /// let kind = QuantityKind::parse("mg/L as N", Some(&Analyte::Nitrate))?.value;
    /// assert_eq!(kind.to_string(), "mg/L as N");
    /// assert!(QuantityKind::parse("mg/L", Some(&Analyte::Nitrate)).is_err());
    /// # Ok::<(), stillwell_quantity::QuantityError>(())
    /// ```
    pub fn parse(text: &str, analyte: Option<&Analyte>) -> Result<Parsed<Self>, QuantityError> {
        let plain = plain_text(text);
        let Some((unit, note, form_text)) = split_unit(&plain) else {
            return Err(QuantityError::UnknownUnit { text: text.trim().to_owned() });
        };
        let species = read_species(text.trim(), &form_text, unit, analyte)?;
        Ok(Parsed { value: Self { unit, species }, note })
    }
}

impl Concentration {
    /// Reads a number followed by its unit: `48.2 mg/L as NO3-`. The number has a decimal point, no separators.
    ///
    /// # Errors
    /// No number at the start, a number that is not finite, or what [`QuantityKind::parse`] refuses.
    ///
    /// # Example
    /// ```
    /// use stillwell_quantity::Concentration;
    /// assert_eq!(Concentration::parse("48.2 mg/L NO3", None)?.value.to_string(), "48.2 mg/L as NO₃⁻");
    /// # Ok::<(), stillwell_quantity::QuantityError>(())
    /// ```
    pub fn parse(text: &str, analyte: Option<&Analyte>) -> Result<Parsed<Self>, QuantityError> {
        let trimmed = text.trim().replace('\u{2212}', "-");
        let end = trimmed
            .char_indices()
            .find(|(at, c)| !continues_number(&trimmed, *at, *c))
            .map_or(trimmed.len(), |(at, _)| at);
        let (number, unit) = trimmed.split_at(end);
        let value: Option<f64> = number.parse().ok();
        let value = value.ok_or_else(|| QuantityError::NumberMissing { text: text.trim().to_owned() })?;
        let kind = QuantityKind::parse(unit, analyte)?;
        Ok(Parsed { value: Self::of_kind(value, kind.value)?, note: kind.note })
    }
}

fn continues_number(text: &str, at: usize, c: char) -> bool {
    let next_is_digit = |from: usize| {
        text.get(from..)
            .is_some_and(|rest| rest.trim_start_matches(['+', '-']).starts_with(|d: char| d.is_ascii_digit()))
    };
    match c {
        '0'..='9' | '.' | '+' | '-' => true,
        'e' | 'E' => next_is_digit(at + 1),
        _ => false,
    }
}

/// The same text in the letters the tables below use: µ as u, sub- and superscripts as digits and signs.
fn plain_text(text: &str) -> String {
    let plain: String = text
        .chars()
        .map(|c| match c {
            'µ' | 'μ' => 'u',
            '₂' => '2',
            '₃' | '³' => '3',
            '₄' => '4',
            '¹' => '1',
            '⁻' | '−' | '–' => '-',
            '⁺' => '+',
            '·' | '⋅' | '\u{a0}' | '\u{202f}' | '\t' => ' ',
            other => other,
        })
        .collect();
    plain.trim().replace(" /", "/").replace("/ ", "/")
}

/// Numerators of the units made of a quantity per litre; longer ones first.
const PER_LITRE: [(&str, Unit); 7] = [
    ("mmol", Unit::MillimolePerLitre),
    ("umol", Unit::MicromolePerLitre),
    ("nmol", Unit::NanomolePerLitre),
    ("mol", Unit::MolePerLitre),
    ("mg", Unit::MilligramPerLitre),
    ("ug", Unit::MicrogramPerLitre),
    ("g", Unit::GramPerLitre),
];

const LITRES: [&str; 8] = ["/L", "/l", "/dm3", "L-1", "l-1", "L^-1", "l^-1", "dm-3"];

/// Units of one word.
const WORDS: [(&str, Unit, Option<ReadingNote>); 6] = [
    ("mM", Unit::MillimolePerLitre, None),
    ("uM", Unit::MicromolePerLitre, None),
    ("nM", Unit::NanomolePerLitre, None),
    ("M", Unit::MolePerLitre, None),
    ("ppm", Unit::MilligramPerLitre, Some(ReadingNote::PpmAsMilligramPerLitre)),
    ("ppb", Unit::MicrogramPerLitre, Some(ReadingNote::PpbAsMicrogramPerLitre)),
];

/// The unit, and what is said about the form: behind the unit (`mg/L NO3`) or inside it (`mg NO3/L`).
fn split_unit(plain: &str) -> Option<(Unit, Option<ReadingNote>, String)> {
    for (word, unit, note) in WORDS {
        if let Some(form) = plain.strip_prefix(word).and_then(form_after) {
            return Some((unit, note, form));
        }
    }
    for (numerator, unit) in PER_LITRE {
        let Some(rest) = plain.strip_prefix(numerator).map(str::trim_start) else { continue };
        for litre in LITRES {
            if let Some(form) = rest.strip_prefix(litre).and_then(form_after) {
                return Some((unit, None, form));
            }
        }
        for litre in ["/L", "/l"] {
            if let Some(form) = rest.strip_suffix(litre).filter(|form| !form.contains('/')) {
                return Some((unit, None, form.trim().to_owned()));
            }
        }
    }
    None
}

/// The rest behind a unit, if the unit ends here.
fn form_after(rest: &str) -> Option<String> {
    let ends_here = rest.chars().next().is_none_or(|c| c.is_whitespace() || matches!(c, '(' | '[' | ','));
    ends_here.then(|| rest.trim_matches([' ', '(', ')', '[', ']', ',']).to_owned())
}

/// What the form text says: the analyte where it names one, and the form where it states one.
struct FormText {
    analyte: Option<Analyte>,
    expressed_as: Option<ExpressedAs>,
}

fn read_species(
    text: &str,
    form_text: &str,
    unit: Unit,
    expected: Option<&Analyte>,
) -> Result<Species, QuantityError> {
    let said = read_form(text, form_text, expected)?;
    let analyte = match (said.analyte, expected) {
        (Some(named), None) => named,
        (None, Some(expected)) => expected.clone(),
        (None, None) => return Err(QuantityError::AnalyteMissing { text: text.to_owned() }),
        (Some(named), Some(expected))
            if named == *expected || counts_as_nitrate(&named, said.expressed_as, expected) =>
        {
            expected.clone()
        }
        (Some(_), Some(expected)) => return Err(form_of_another(text, form_text, expected)),
    };
    match (said.expressed_as, unit.is_mass()) {
        (Some(ExpressedAs::Nitrogen), _) if analyte.ion().is_none() => {
            Err(form_of_another(text, form_text, &analyte))
        }
        (Some(form), true) => Species::new(analyte, form),
        // An amount is the same number in every form.
        (_, false) => Ok(Species::itself(analyte)),
        (None, true) => analyte.form_missing(text, unit).map_or_else(|| Ok(Species::itself(analyte)), Err),
    }
}

/// "as NO3-" is also a form of nitrate + nitrite.
fn counts_as_nitrate(named: &Analyte, form: Option<ExpressedAs>, expected: &Analyte) -> bool {
    *named == Analyte::Nitrate
        && form == Some(ExpressedAs::Itself)
        && *expected == Analyte::NitratePlusNitrite
}

fn form_of_another(text: &str, form_text: &str, expected: &Analyte) -> QuantityError {
    QuantityError::FormOfAnotherAnalyte {
        text: text.to_owned(),
        found: form_text.to_owned(),
        analyte: expected.name().to_owned(),
        accepted: expected
            .ion()
            .map_or_else(|| expected.name().to_owned(), |(_, ascii)| format!("as {ascii}, as N")),
    }
}

fn read_form(text: &str, form_text: &str, expected: Option<&Analyte>) -> Result<FormText, QuantityError> {
    if form_text.is_empty() {
        return Ok(FormText { analyte: None, expressed_as: None });
    }
    let unknown = || QuantityError::UnknownForm { text: text.to_owned(), found: form_text.to_owned() };
    let (named, form) = match form_text.split_once("as ") {
        Some((before, form)) if before.is_empty() || before.ends_with(' ') => (before.trim(), form.trim()),
        _ => ("", form_text),
    };
    if let Some(own) =
        expected.filter(|own| own.ion().is_none() && own.name().to_lowercase() == form.to_lowercase())
    {
        return Ok(FormText { analyte: Some(own.clone()), expressed_as: Some(ExpressedAs::Itself) });
    }
    let (of_form, expressed_as) = known_form(form).ok_or_else(unknown)?;
    if named.is_empty() {
        // A bare word ("mg/L nitrate") names the analyte; a formula, "as" or "-N" states the form too.
        let stated = form_text != form || expressed_as == ExpressedAs::Nitrogen || !is_word(form);
        return Ok(FormText { analyte: of_form, expressed_as: stated.then_some(expressed_as) });
    }
    let analyte = known_analyte(named).ok_or_else(unknown)?;
    let fits =
        of_form.is_none_or(|form| form == analyte || counts_as_nitrate(&form, Some(expressed_as), &analyte));
    if fits {
        Ok(FormText { analyte: Some(analyte), expressed_as: Some(expressed_as) })
    } else {
        Err(unknown())
    }
}

/// Whether an analyte is named in words rather than by its formula.
fn is_word(form: &str) -> bool {
    !form.contains(|c: char| c.is_ascii_digit())
}

/// The analyte of a name or formula such as `nitrate`, `NO3-`, `nitrate + nitrite`.
pub(crate) fn known_analyte(name: &str) -> Option<Analyte> {
    match known_form(&plain_text(name)) {
        Some((Some(analyte), ExpressedAs::Itself)) => Some(analyte),
        _ => None,
    }
}

/// Whether a name is that of a form: `N`, `NO3-N`, `nitrate-N`.
pub(crate) fn is_nitrogen_form(name: &str) -> bool {
    matches!(known_form(&plain_text(name)), Some((_, ExpressedAs::Nitrogen)))
}

/// The analyte, where one is named, and the form of `NO3-`, `NO3-N`, `N` and their spellings.
fn known_form(form: &str) -> Option<(Option<Analyte>, ExpressedAs)> {
    let compact: String =
        form.chars().filter(|c| !matches!(c, ' ' | '^' | '_')).collect::<String>().to_lowercase();
    if matches!(compact.as_str(), "n" | "nitrogen") {
        return Some((None, ExpressedAs::Nitrogen));
    }
    if let Some(analyte) = compact.strip_suffix("-n").or_else(|| compact.strip_prefix("n-")).and_then(ion_of)
    {
        return Some((Some(analyte), ExpressedAs::Nitrogen));
    }
    ion_of(&compact).map(|analyte| (Some(analyte), ExpressedAs::Itself))
}

fn ion_of(compact: &str) -> Option<Analyte> {
    Some(match compact {
        "no3" | "no3-" | "nitrate" => Analyte::Nitrate,
        "no2" | "no2-" | "nitrite" => Analyte::Nitrite,
        "nh4" | "nh4+" | "ammonium" => Analyte::Ammonium,
        "nox" | "no3+no2" | "no3-+no2-" | "nitrate+nitrite" => Analyte::NitratePlusNitrite,
        _ => return None,
    })
}

//! What a column's header says: its role and its unit.

use crate::units::{UnitWord, unit_from_text};

/// What a column holds, as far as its header says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    Potential,
    Current,
    Difference,
    Forward,
    Reverse,
    Time,
    ScanNumber,
    CurrentDensity,
    Other,
    Unknown,
}

/// One column's header.
#[derive(Debug, Clone)]
pub(crate) struct ColumnHead {
    /// The text as it stands in the file; empty where there is none.
    pub(crate) text: String,
    /// The text without its unit.
    pub(crate) name: String,
    pub(crate) role: Role,
    pub(crate) unit: Option<UnitWord>,
    /// The words say that the current was worked on (smoothed, corrected …).
    pub(crate) is_processed: bool,
}

const POTENTIAL: [&str; 8] = ["potential", "e", "voltage", "u", "spannung", "potenzial", "pot", "volts"];
const CURRENT: [&str; 5] = ["current", "i", "strom", "amps", "courant"];
const DIFFERENCE: [&str; 8] = ["difference", "diff", "delta", "di", "net", "δi", "Δi", "idiff"];
const FORWARD: [&str; 5] = ["forward", "fwd", "for", "if", "ifwd"];
const REVERSE: [&str; 7] = ["reverse", "rev", "backward", "bwd", "back", "ir", "irev"];
const TIME: [&str; 4] = ["time", "t", "zeit", "elapsed"];
const SCAN_NUMBER: [&str; 4] = ["scan", "sweep", "run", "measurement"];
const COUNTING: [&str; 5] = ["no", "nr", "number", "index", "id"];
const OTHER: [&str; 20] = [
    "point",
    "points",
    "index",
    "no",
    "nr",
    "n",
    "number",
    "cycle",
    "temperature",
    "temp",
    "charge",
    "q",
    "resistance",
    "power",
    "ph",
    "count",
    "status",
    "flag",
    "range",
    "date",
];
const PROCESSED: [&str; 16] = [
    "smoothed",
    "smooth",
    "filtered",
    "baseline",
    "corrected",
    "background",
    "fit",
    "fitted",
    "subtracted",
    "derivative",
    "absolute",
    "abs",
    "noise",
    "sd",
    "error",
    "normalised",
];

/// Whether any cell of a line names a potential or a current.
pub(crate) fn names_a_column(line: &str) -> bool {
    line.split([',', ';', '\t'])
        .map(column_head)
        .any(|head| matches!(head.role, Role::Potential | Role::Current | Role::Difference | Role::Forward))
}

/// Understands one header cell.
pub(crate) fn column_head(text: &str) -> ColumnHead {
    let text = text.trim();
    let (name, unit) = name_and_unit(text);
    let words: Vec<String> = name
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(|word| word.trim_end_matches(|c: char| c.is_ascii_digit()).to_lowercase())
        .collect();
    let has = |list: &[&str]| words.iter().any(|word| list.contains(&word.as_str()));
    let worded_current = if has(&DIFFERENCE) {
        Some(Role::Difference)
    } else if has(&FORWARD) {
        Some(Role::Forward)
    } else if has(&REVERSE) {
        Some(Role::Reverse)
    } else {
        None
    };
    let role = match unit {
        Some(UnitWord::Potential(_)) => Role::Potential,
        Some(UnitWord::Current(_)) => worded_current.unwrap_or(Role::Current),
        Some(UnitWord::CurrentDensity) => Role::CurrentDensity,
        Some(UnitWord::Time(_)) => Role::Time,
        Some(UnitWord::Other) => Role::Other,
        None => match words.as_slice() {
            [] => Role::Unknown,
            _ if has(&["density"]) => Role::CurrentDensity,
            [word] if SCAN_NUMBER.contains(&word.as_str()) && !ends_in_digit(&name) => Role::ScanNumber,
            [word, counting]
                if SCAN_NUMBER.contains(&word.as_str()) && COUNTING.contains(&counting.as_str()) =>
            {
                Role::ScanNumber
            }
            _ if has(&TIME) => Role::Time,
            _ if worded_current.is_some() && (has(&CURRENT) || words.len() <= 2) => {
                worded_current.unwrap_or(Role::Current)
            }
            _ if has(&CURRENT) => Role::Current,
            _ if has(&POTENTIAL) => Role::Potential,
            _ if has(&OTHER) && !ends_in_digit(&name) => Role::Other,
            _ => Role::Unknown,
        },
    };
    ColumnHead { text: text.to_owned(), is_processed: has(&PROCESSED), name, role, unit }
}

fn ends_in_digit(name: &str) -> bool {
    name.ends_with(|c: char| c.is_ascii_digit())
}

/// Parts `i (µA)`, `E / V`, `Potential [mV]`, `E_V`, `current, uA` into name and unit.
fn name_and_unit(text: &str) -> (String, Option<UnitWord>) {
    if let Some(unit) = unit_or_against_reference(text) {
        return (String::new(), Some(unit));
    }
    for (open, close) in [('(', ')'), ('[', ']'), ('{', '}'), ('<', '>')] {
        let inner = text
            .rsplit_once(open)
            .and_then(|(before, rest)| rest.rsplit_once(close).map(|(inner, after)| (before, inner, after)));
        if let Some((before, inner, after)) = inner
            && let Some(unit) = unit_or_against_reference(inner)
        {
            return (format!("{before} {after}").trim().to_owned(), Some(unit));
        }
    }
    if let Some((name, rest)) = text.split_once('/')
        && let Some(unit) = unit_or_against_reference(rest)
    {
        return (name.trim().to_owned(), Some(unit));
    }
    let Some((name, last)) = text.rsplit_once(['_', ' ', ',', '.', ':']) else {
        return (text.to_owned(), None);
    };
    let name = name.trim_end_matches(|c: char| !c.is_alphanumeric()).trim();
    let name = name.strip_suffix(" in").unwrap_or(name);
    match unit_from_text(last) {
        Some(unit) if is_credible_suffix(name, last, unit) => (name.to_owned(), Some(unit)),
        _ => (text.to_owned(), None),
    }
}

/// `V`, or `V vs reference`.
fn unit_or_against_reference(text: &str) -> Option<UnitWord> {
    let text = text.trim();
    unit_from_text(text).or_else(|| {
        let (unit, rest) = text.split_once(char::is_whitespace)?;
        let is_against = ["vs", "vs.", "versus", "v.", "against"]
            .iter()
            .any(|word| rest.split_whitespace().next() == Some(*word));
        if is_against { unit_from_text(unit) } else { None }
    })
}

/// A single letter at the end (`sample A`) is a unit only behind a word that fits it.
fn is_credible_suffix(name: &str, suffix: &str, unit: UnitWord) -> bool {
    if suffix.chars().count() > 1 && !matches!(unit, UnitWord::Other) {
        return true;
    }
    let fits = column_head(name).role;
    match unit {
        UnitWord::Potential(_) => fits == Role::Potential,
        UnitWord::Current(_) => {
            matches!(fits, Role::Current | Role::Difference | Role::Forward | Role::Reverse)
        }
        UnitWord::Time(_) => fits == Role::Time,
        UnitWord::CurrentDensity | UnitWord::Other => false,
    }
}

#[cfg(test)]
mod tests {
    use super::{Role, column_head};
    use crate::units::{CurrentUnit, PotentialUnit, UnitWord};

    #[test]
    fn understands_units_in_every_usual_spelling() {
        let volt = Some(UnitWord::Potential(PotentialUnit::Volt));
        let millivolt = Some(UnitWord::Potential(PotentialUnit::Millivolt));
        let microampere = Some(UnitWord::Current(CurrentUnit::Microampere));
        let ampere = Some(UnitWord::Current(CurrentUnit::Ampere));
        for (text, role, unit) in [
            ("E / V", Role::Potential, volt),
            ("E_V", Role::Potential, volt),
            ("V", Role::Potential, volt),
            ("Potential [mV]", Role::Potential, millivolt),
            ("Potential (V vs Ag/AgCl)", Role::Potential, volt),
            ("i (µA)", Role::Current, microampere),
            ("i (μA)", Role::Current, microampere),
            ("current_uA", Role::Current, microampere),
            ("Current, A", Role::Current, ampere),
            ("I forward / uA", Role::Forward, microampere),
            ("I_rev (uA)", Role::Reverse, microampere),
            ("ΔI/µA", Role::Difference, microampere),
            ("j / µA cm-2", Role::CurrentDensity, Some(UnitWord::CurrentDensity)),
            ("i (µA/cm²)", Role::CurrentDensity, Some(UnitWord::CurrentDensity)),
            ("sample A", Role::Unknown, None),
            ("soak_100uM_01", Role::Unknown, None),
            ("scan 3", Role::Unknown, None),
            ("scan", Role::ScanNumber, None),
            ("t/s", Role::Time, Some(UnitWord::Time(1.0))),
            ("Cycle", Role::Other, None),
        ] {
            let head = column_head(text);
            assert_eq!((head.role, head.unit), (role, unit), "{text}");
        }
    }
}

//! One line of the run sheet: typed cells, and what each role must state.

use std::borrow::Cow;
use std::collections::BTreeMap;

use stillwell_quantity::{Concentration, QuantityKind};
use stillwell_scan::{CurrentUnit, PotentialUnit, ReductionCurrent};

use crate::check::Check;
use crate::problem::{Place, Problem, nearest};
use crate::run_sheet::{Dilution, Interferent, Override, Role, Row, StatedReading};
use crate::sheet_text::Cell;

pub(crate) struct RowReader<'a> {
    pub(crate) file: &'a str,
    pub(crate) columns: BTreeMap<&'static str, usize>,
    pub(crate) decimal_comma: bool,
    pub(crate) reported_as: &'a QuantityKind,
}

/// Reads one line; complains of every cell that is wrong.
pub(crate) fn read_row(reader: &RowReader<'_>, cells: &[Cell], problems: &mut Vec<Problem>) -> Option<Row> {
    let before = problems.len();
    let mut line = Line { reader, cells, problems };
    line.refuse_surplus_cells();
    let role = line.role();
    let file = line.required_text("file", "the name of the raw file");
    let scan = line.whole_number("scan");
    if scan.is_none() && !line.text("scan").is_empty() {
        return None;
    }
    if line.text("scan").is_empty() {
        line.complain("scan", "no scan number", "the number of the scan within the file, from 1");
    }
    let row = Row {
        place: line.place("file"),
        file: file.unwrap_or_default(),
        scan: scan.unwrap_or(1) as usize,
        role: role.unwrap_or(Role::Sample),
        sample: line.text("sample").to_owned(),
        level: line.level(),
        lot: line.text("lot").to_owned(),
        electrode: line.text("electrode").to_owned(),
        electrode_scan: line.whole_number("electrode_scan"),
        channel: line.text("channel").to_owned(),
        batch: line.text("batch").to_owned(),
        date: line.date(),
        temperature_c: line.number("temperature_c", -10.0, 100.0, "a temperature in °C"),
        ph: line.number("ph", -2.0, 16.0, "a pH"),
        chloride_mg_per_l: line.number("chloride_mg_per_l", 0.0, 1e6, "chloride in mg/L"),
        conductivity_us_per_cm: line.number("conductivity_us_per_cm", 0.0, 1e7, "conductivity in µS/cm"),
        dilution: line.dilution(),
        exclude: line.exclude(),
        overrides: line.overrides(),
        note: line.text("note").to_owned(),
        stated: StatedReading {
            potential_unit: line.word("potential_unit", PotentialUnit::WORDS, PotentialUnit::from_word),
            current_unit: line.word("current_unit", CurrentUnit::WORDS, CurrentUnit::from_word),
            reduction_current: line.word(
                "reduction_current",
                ReductionCurrent::WORDS,
                ReductionCurrent::from_word,
            ),
        },
        interferent: line.interferent(),
    };
    if role.is_some() {
        line.what_the_role_needs(&row);
    }
    (problems.len() == before).then_some(row)
}

struct Line<'a> {
    reader: &'a RowReader<'a>,
    cells: &'a [Cell],
    problems: &'a mut Vec<Problem>,
}

impl<'a> Line<'a> {
    fn cell(&self, column: &str) -> Option<&'a Cell> {
        self.reader.columns.get(column).and_then(|index| self.cells.get(*index))
    }

    fn text(&self, column: &str) -> &'a str {
        self.cell(column).map_or("", |cell| cell.text.as_str())
    }

    fn place(&self, column: &str) -> Place {
        self.cell(column)
            .or(self.cells.first())
            .map_or_else(|| Place::whole_file(self.reader.file), |cell| cell.place(self.reader.file))
    }

    fn complain(&mut self, column: &str, found: impl Into<String>, cure: impl Into<String>) {
        let problem = Problem::new(self.place(column), format!("{column}: {}", found.into()), cure);
        self.problems.push(problem);
    }

    fn refuse_surplus_cells(&mut self) {
        let known = self.reader.columns.values().max().map_or(0, |last| last + 1);
        if let Some(cell) = self.cells.iter().skip(known).find(|cell| !cell.text.is_empty()) {
            let cure = "one cell for each column; quote a text that holds the separator";
            let found = "more cells than the header has columns";
            self.problems.push(Problem::new(cell.place(self.reader.file), found, cure));
        }
    }

    fn required_text(&mut self, column: &str, accepted: &str) -> Option<String> {
        let text = self.text(column);
        if text.is_empty() {
            self.complain(column, "is blank", accepted);
            return None;
        }
        Some(text.to_owned())
    }

    fn role(&mut self) -> Option<Role> {
        let of_word = |text: &str| Role::WORDS.iter().find(|(word, _)| *word == text).map(|(_, role)| *role);
        if let Some(role) = of_word(self.text("role")) {
            return Some(role);
        }
        let text = self.text("role").to_lowercase().replace([' ', '_'], "-");
        let found = of_word(&text);
        if found.is_none() {
            let words: Vec<&str> = Role::WORDS.iter().map(|(word, _)| *word).collect();
            let mut cure = format!("accepted: {}", words.join(", "));
            if let Some(hint) = nearest(&text, &words) {
                cure = format!("{cure}; did you mean \"{hint}\"?");
            }
            self.complain("role", format!("\"{}\" is not a role", self.text("role")), cure);
        }
        found
    }

    /// One of the words of `[reading]`; `u` and both micro signs are one.
    fn word<T>(&mut self, column: &str, words: &[&str], from_word: fn(&str) -> Option<T>) -> Option<T> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        let value = from_word(text).or_else(|| from_word(&text.replace(['u', 'μ'], "µ")));
        if value.is_none() {
            self.complain(
                column,
                format!("\"{text}\" is not accepted"),
                format!("one of {}", words.join(", ")),
            );
        }
        value
    }

    fn whole_number(&mut self, column: &str) -> Option<u32> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        let value = text.parse::<u32>().ok().filter(|value| *value >= 1);
        if value.is_none() {
            self.complain(column, format!("\"{text}\" is not a count"), "a whole number from 1");
        }
        value
    }

    fn number(&mut self, column: &str, low: f64, high: f64, accepted: &str) -> Option<f64> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        let plain = if self.reader.decimal_comma { Cow::from(text.replace(',', ".")) } else { text.into() };
        let value = plain.parse::<f64>().ok().filter(|value| (low..=high).contains(value));
        if value.is_none() {
            let cure = format!("{accepted} from {low} to {high}");
            self.complain(column, format!("\"{text}\" is not accepted"), cure);
        }
        value
    }

    fn date(&mut self) -> String {
        let text = self.text("date");
        let digits = |range: std::ops::Range<usize>| {
            text.get(range).is_some_and(|part| part.bytes().all(|byte| byte.is_ascii_digit()))
        };
        let is_iso = digits(0..4) && digits(5..7) && digits(8..10) && text.get(4..5) == Some("-");
        if !text.is_empty() && !is_iso {
            self.complain("date", format!("\"{text}\" is not a date"), "a date such as 2026-05-04");
        }
        text.to_owned()
    }

    fn level(&mut self) -> Option<Concentration> {
        let (number, unit) = (self.text("level"), self.text("unit"));
        if number.is_empty() {
            return None;
        }
        let value = self.number("level", 0.0, 1e12, "a concentration")?;
        if unit.is_empty() {
            self.complain("unit", "is blank beside a level", "the unit and species, such as mg/L as NO3-");
            return None;
        }
        match convert(value, unit, self.reader.reported_as) {
            Ok(level) => Some(level),
            Err(words) => {
                let cure = format!("a unit of the method's analyte, such as {}", self.reader.reported_as);
                self.complain("unit", words, cure);
                None
            }
        }
    }

    fn dilution(&mut self) -> Option<Dilution> {
        // One flask after another makes 1 : 100 000 at most before the dilution is all that is measured (common practice, no source).
        let factor = self.number("dilution", 1.0, 1e5, "a factor, sample over measured solution,");
        let standard_u = self.number("dilution_u", 0.0, 1e5, "a standard uncertainty of the factor,");
        match (factor, standard_u) {
            (Some(factor), _) => Some(Dilution { factor, standard_u: standard_u.unwrap_or(0.0) }),
            (None, Some(_)) => {
                self.complain("dilution_u", "stands without a dilution", "fill the column `dilution`");
                None
            }
            (None, None) => None,
        }
    }

    fn interferent(&mut self) -> Option<Interferent> {
        const LEVEL: &str = "interferent_mg_per_l";
        let (name, level) = (self.text("interferent"), self.text(LEVEL));
        if name.is_empty() && level.is_empty() {
            return None;
        }
        if name.is_empty() {
            self.complain("interferent", "is blank beside a level", "name the substance, such as chloride");
        }
        if level.is_empty() {
            self.complain(LEVEL, "is blank beside an interferent", "its level in mg/L");
        }
        let mg_per_l = self.number(LEVEL, 0.0, 1e6, "the interferent in mg/L")?;
        if mg_per_l <= 0.0 {
            let cure = "leave both cells blank for the same solution without it";
            self.complain(LEVEL, "none of the interferent was added", cure);
        }
        Some(Interferent { name: name.to_owned(), mg_per_l })
    }

    fn exclude(&mut self) -> Option<String> {
        let reason = self.text("exclude");
        if reason.is_empty() {
            return None;
        }
        if is_no_reason(reason) {
            let cure = "why the scan is left out; leave the cell blank where it counts";
            self.complain("exclude", format!("\"{reason}\" gives no reason"), cure);
        }
        Some(reason.to_owned())
    }

    fn overrides(&mut self) -> Vec<Override> {
        let mut overrides = Vec::new();
        for part in self.text("override").split(';').filter(|part| !part.trim().is_empty()) {
            match part.split_once(':').map(|(check, reason)| (check.trim(), reason.trim())) {
                Some((check, reason)) if !is_no_reason(reason) => {
                    overrides.push(Override { check: check.to_owned(), reason: reason.to_owned() });
                }
                _ => self.complain("override", format!("\"{part}\" gives no reason"), "check: reason"),
            }
        }
        let known = Check::ids();
        for given in &overrides {
            if !known.contains(&given.check.as_str()) {
                let cure = nearest(&given.check, &known).map_or_else(
                    || format!("known: {}", known.join(", ")),
                    |hint| format!("did you mean {hint}?"),
                );
                self.complain("override", format!("\"{}\" is not a check", given.check), cure);
            } else if Check::of_id(&given.check).is_some_and(|check| !check.can_be_overridden()) {
                let cure = format!("remove it and do what `stillwell explain {}` says", given.check);
                self.complain("override", format!("{} cannot be overridden on a scan", given.check), cure);
            }
        }
        overrides
    }

    fn what_the_role_needs(&mut self, row: &Row) {
        let word = row.role.word();
        if row.role.has_level() && row.level.is_none() && self.text("level").is_empty() {
            self.complain("level", format!("a {word} needs its level"), "the level and its unit");
        }
        if row.role.has_sample() && row.sample.is_empty() {
            self.complain("sample", format!("a {word} needs the sample's identity"), "the sample's identity");
        }
        if row.role != Role::Blank && row.electrode.is_empty() {
            let cure =
                "the electrode's identity; scans of one electrode share it, for they are not independent";
            self.complain("electrode", "is blank", cure);
        }
        if row.interferent.is_some() && row.role != Role::Interference {
            let cure = "give the line the role interference, or leave interferent and its level blank";
            self.complain("interferent", format!("a {word} has none"), cure);
        }
        let is_zero = row.level.as_ref().is_some_and(|level| level.value() <= 0.0);
        if row.role == Role::Interference && is_zero {
            let cure = "a level above zero: what changes is stated in % of it";
            self.complain("level", "an interference at level zero", cure);
        }
        if row.dilution.is_some() && !row.role.has_sample() {
            self.complain("dilution", format!("a {word} is not diluted"), "state the level as measured");
        }
    }
}

/// A tick or a bare yes or no: "no" under `exclude` would leave the scan out and mean the opposite.
fn is_no_reason(text: &str) -> bool {
    let letters = text.chars().filter(|c| c.is_alphabetic()).count();
    letters < 3 || ["yes", "true", "false", "exclude", "excluded"].contains(&text.to_lowercase().as_str())
}

fn convert(value: f64, unit: &str, reported_as: &QuantityKind) -> Result<Concentration, String> {
    let parsed = QuantityKind::parse(unit, Some(reported_as.species.analyte())).map_err(|e| e.to_string())?;
    Concentration::of_kind(value, parsed.value)
        .and_then(|level| level.to_kind(reported_as))
        .map_err(|error| error.to_string())
}

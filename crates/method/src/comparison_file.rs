//! What an accredited laboratory found in the same waters: one line a result, as it was reported.
//!
//! Every line is checked before anything is compared; a value in another form of the analyte is converted and never averaged with
//! others; a bound stays a bound.

use std::collections::BTreeMap;

use stillwell_assure::compare::Reported;
use stillwell_quantity::{Concentration, QuantityKind};

use crate::problem::{Place, Problem, Problems};
use crate::sheet_text::{Cell, columns_by_name, cut, delimiter_of};

/// The columns: `sample`, `value` and `unit` must be there, and `u` (standard) or `expanded_u` (k = 2) for every value that is a number.
pub const COMPARISON_COLUMNS: [&str; 7] = ["sample", "value", "unit", "u", "expanded_u", "batch", "date"];

/// One result of the laboratory.
#[derive(Debug, Clone, PartialEq)]
pub struct LaboratoryResult {
    /// Where it stands.
    pub place: Place,
    /// The sample, as the run sheet names it.
    pub sample: String,
    /// The batch in which we measured it; empty where not stated.
    pub batch: String,
    /// The day of the laboratory's measurement; empty where not stated.
    pub date: String,
    /// What was reported, in the method's reporting unit.
    pub reported: Reported,
}

/// The results of a laboratory.
#[derive(Debug, Clone, PartialEq)]
pub struct LaboratoryResults {
    /// One for each line, in their order.
    pub results: Vec<LaboratoryResult>,
}

impl LaboratoryResults {
    /// Reads the file.
    ///
    /// # Units
    /// Values are converted to `reported_as`; a unit that is no form of the same analyte is refused.
    ///
    /// # Errors
    /// Every line that is wrong, each with its place and what would be accepted.
    ///
    /// # Example
    /// ```
    /// use stillwell_method::LaboratoryResults;
    /// use stillwell_quantity::{Analyte, QuantityKind};
    /// let kind = QuantityKind::parse("mg/L as NO3-", Some(&Analyte::Nitrate))?.value;
    /// let text = "sample,value,unit,u\nW1,11.3,mg/L as N,0.2\nW2,<5,mg/L as NO3-,\n";
    /// let read = LaboratoryResults::parse("comparison.csv", text, &kind)?;
    /// assert_eq!(read.results.len(), 2);
    /// let problems = LaboratoryResults::parse("comparison.csv", "sample,value,unit\nW1,11.3,mg/L as N\n", &kind).unwrap_err();
    /// assert!(problems.to_string().contains("comparison.csv:2"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn parse(file: &str, text: &str, reported_as: &QuantityKind) -> Result<Self, Problems> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let delimiter = delimiter_of(text);
        let mut lines = cut(text, delimiter).into_iter();
        let header = lines.next().unwrap_or_default();
        let mut problems = Vec::new();
        let columns = columns(file, &header, &mut problems);
        if !problems.is_empty() {
            return Err(Problems { problems });
        }
        let reader = Lines { file, columns, decimal_comma: delimiter != ',', reported_as };
        let results: Vec<LaboratoryResult> =
            lines.filter_map(|cells| reader.read(&cells, &mut problems)).collect();
        twice(&results, &mut problems);
        if results.is_empty() && problems.is_empty() {
            let found = "holds no result";
            problems.push(Problem::new(Place::whole_file(file), found, "write one line for each sample"));
        }
        problems.sort_by_key(|problem| (problem.place.line, problem.place.column));
        Problems::or(problems, Some(Self { results }))
    }

    /// These results and those of a later file beside them.
    ///
    /// # Errors
    /// A sample of the later file that stands in these already: nothing is averaged, and no result takes another's place unsaid.
    pub fn and(mut self, later: Self) -> Result<Self, Problems> {
        let mut problems = Vec::new();
        for one in &later.results {
            let is_same = |known: &&LaboratoryResult| {
                // A result without a batch stands for every batch of its sample.
                let shares_batch = known.batch == one.batch || known.batch.is_empty() || one.batch.is_empty();
                known.sample == one.sample && shares_batch
            };
            if let Some(first) = self.results.iter().find(is_same) {
                let at = &first.place;
                let found = format!("sample {} was reported already, in {}:{}", one.sample, at.file, at.line);
                let cure = "nothing is averaged: keep the result that counts, or give each its batch";
                problems.push(Problem::new(one.place.clone(), found, cure));
            }
        }
        self.results.extend(later.results);
        Problems::or(problems, Some(self))
    }
}

fn columns(file: &str, header: &[Cell], problems: &mut Vec<Problem>) -> BTreeMap<&'static str, usize> {
    let first_line = "first line: sample,value,unit,u (or expanded_u, k = 2); batch and date may be added";
    let columns = columns_by_name(file, header, &COMPARISON_COLUMNS, first_line, problems);
    for required in ["sample", "value", "unit"] {
        if !columns.contains_key(required) && problems.is_empty() {
            let found = format!("the header has no column `{required}`");
            problems.push(Problem::new(Place::whole_file(file), found, first_line));
        }
    }
    columns
}

struct Lines<'a> {
    file: &'a str,
    columns: BTreeMap<&'static str, usize>,
    decimal_comma: bool,
    reported_as: &'a QuantityKind,
}

impl Lines<'_> {
    fn text<'c>(&self, cells: &'c [Cell], column: &str) -> &'c str {
        self.columns.get(column).and_then(|at| cells.get(*at)).map_or("", |cell| cell.text.as_str())
    }

    fn place(&self, cells: &[Cell], column: &str) -> Place {
        let cell = self.columns.get(column).and_then(|at| cells.get(*at)).or_else(|| cells.first());
        cell.map_or_else(|| Place::whole_file(self.file), |cell| cell.place(self.file))
    }

    fn read(&self, cells: &[Cell], problems: &mut Vec<Problem>) -> Option<LaboratoryResult> {
        let mut complain = |column: &str, found: String, cure: &str| {
            problems.push(Problem::new(self.place(cells, column), found, cure));
        };
        let sample = self.text(cells, "sample");
        if sample.is_empty() {
            complain(
                "sample",
                "a result without a sample".to_owned(),
                "name the sample as the run sheet does",
            );
            return None;
        }
        let unit = self.text(cells, "unit");
        let analyte = self.reported_as.species.analyte();
        let kind = match QuantityKind::parse(unit, Some(analyte)) {
            Ok(parsed) => parsed.value,
            Err(error) => {
                complain(
                    "unit",
                    error.to_string(),
                    "a unit with its form, such as mg/L as NO3- or mg/L as N",
                );
                return None;
            }
        };
        let reported = match self.reported(cells, &kind) {
            Ok(reported) => reported,
            Err((column, found, cure)) => {
                complain(column, found, cure);
                return None;
            }
        };
        Some(LaboratoryResult {
            place: self.place(cells, "sample"),
            sample: sample.to_owned(),
            batch: self.text(cells, "batch").to_owned(),
            date: self.text(cells, "date").to_owned(),
            reported,
        })
    }

    fn reported(
        &self,
        cells: &[Cell],
        kind: &QuantityKind,
    ) -> Result<Reported, (&'static str, String, &'static str)> {
        const VALUE: &str = "a number of 0 or more, or a bound such as <5 or >100";
        const UNCERTAINTY: &str = "a standard uncertainty above 0 under u, or an expanded one (k = 2) under expanded_u, in the unit of the value; the laboratory's report states it";
        let text = self.text(cells, "value");
        let converted = |number: f64, column: &'static str| {
            let value = Concentration::of_kind(number, kind.clone());
            let value = value.and_then(|value| value.to_kind(self.reported_as));
            value.map(|value| value.value()).map_err(|error| (column, error.to_string(), VALUE))
        };
        let bad_value = || ("value", format!("\"{text}\" is not accepted"), VALUE);
        let number_of = |text: &str| self.number(text).filter(|number| *number >= 0.0).ok_or_else(bad_value);
        if let Some(bound) = text.strip_prefix('<') {
            return Ok(Reported::LessThan(converted(number_of(bound)?, "value")?));
        }
        if let Some(bound) = text.strip_prefix('>') {
            return Ok(Reported::MoreThan(converted(number_of(bound)?, "value")?));
        }
        let value = converted(number_of(text)?, "value")?;
        let stated = [("u", 1.0), ("expanded_u", 0.5)].map(|(column, factor)| {
            let text = self.text(cells, column);
            (!text.is_empty()).then_some((column, factor, text))
        });
        let (column, factor, text) = match stated {
            [Some(_), Some(_)] => {
                return Err(("u", "both u and expanded_u are stated".to_owned(), "keep one of them"));
            }
            [Some(one), None] | [None, Some(one)] => one,
            [None, None] => return Err(("value", "a value without uncertainty".to_owned(), UNCERTAINTY)),
        };
        let number = self.number(text).filter(|number| *number > 0.0);
        let number = number.ok_or_else(|| (column, format!("\"{text}\" is not accepted"), UNCERTAINTY))?;
        Ok(Reported::Found { value, standard_u: factor * converted(number, column)? })
    }

    fn number(&self, text: &str) -> Option<f64> {
        let text = text.trim();
        let plain = if self.decimal_comma { text.replace(',', ".") } else { text.to_owned() };
        plain.parse::<f64>().ok().filter(|number| number.is_finite())
    }
}

/// Two results for one sample are not averaged: a person says which one counts.
fn twice(results: &[LaboratoryResult], problems: &mut Vec<Problem>) {
    let mut seen: BTreeMap<(&str, &str), &LaboratoryResult> = BTreeMap::new();
    for one in results {
        if let Some(first) = seen.insert((&one.sample, &one.batch), one) {
            let found = format!("sample {} stands twice, first in line {}", one.sample, first.place.line);
            let cure = "nothing is averaged: keep the result that counts, or give each its batch";
            problems.push(Problem::new(one.place.clone(), found, cure));
        }
    }
}

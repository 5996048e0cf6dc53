//! Which column is the potential and which are currents: from the pin, else from the header's words and units, else from
//! the numbers; refused where two answers are plausible.

use crate::blocks::{Block, is_empty_cell};
use crate::error::{Place, ReadError, shortened};
use crate::note::ReadNote;
use crate::pin::{ColumnChoice, Layout, ReadingPin};
use crate::roles::{ColumnHead, Role};
use crate::steps::is_plausible_potential;
use crate::units::UnitWord;

/// The columns of one scan (or of all scans stacked below each other), counted from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ScanColumns {
    pub(crate) potential: usize,
    /// `None` = forward minus reverse.
    pub(crate) current: Option<usize>,
    pub(crate) forward: Option<usize>,
    pub(crate) reverse: Option<usize>,
}

impl ScanColumns {
    /// The column whose header names the scan and states its unit.
    pub(crate) fn leading(&self) -> usize {
        self.current.or(self.forward).unwrap_or(self.potential)
    }

    pub(crate) fn currents(&self) -> impl Iterator<Item = usize> {
        [self.current, self.forward, self.reverse].into_iter().flatten()
    }
}

/// The columns of a file with scans in columns.
pub(crate) struct Columns {
    pub(crate) is_pairs: bool,
    pub(crate) scans: Vec<ScanColumns>,
    pub(crate) time: Option<usize>,
    pub(crate) scan_number: Option<usize>,
    pub(crate) notes: Vec<ReadNote>,
}

/// What the choice is made from.
pub(crate) struct ColumnEvidence<'a> {
    pub(crate) heads: &'a [ColumnHead],
    pub(crate) block: &'a Block<'a>,
    pub(crate) is_text: &'a [bool],
    pub(crate) pin: &'a ReadingPin,
    /// The file and the line of the names.
    pub(crate) place: Place,
}

/// Chooses the columns.
pub(crate) fn choose_columns(evidence: &ColumnEvidence<'_>) -> Result<Columns, ReadError> {
    let pin = evidence.pin;
    let time = match &pin.time_column {
        Some(choice) => Some(evidence.pinned("time_column", choice)?),
        None => evidence.with_role(Role::Time).into_iter().find(|&column| {
            matches!(evidence.heads.get(column).and_then(|head| head.unit), Some(UnitWord::Time(_)))
        }),
    };
    let potentials = potentials(evidence)?;
    let is_pairs = pin.layout == Some(Layout::Pairs)
        || (pin.layout.is_none() && pin.potential_column.is_none() && potentials.len() > 1);
    let scans = if is_pairs { pairs(evidence, &potentials)? } else { beside(evidence, &potentials)? };
    let scan_number = evidence.with_role(Role::ScanNumber).into_iter().find(|&column| {
        let values = evidence.values(column);
        !values.is_empty() && values.iter().all(|value| libm::trunc(*value) - *value == 0.0)
    });
    let mut columns = Columns { is_pairs, scans, time, scan_number, notes: Vec::new() };
    columns.notes = not_used(evidence, &columns);
    Ok(columns)
}

impl ColumnEvidence<'_> {
    fn values(&self, column: usize) -> &[f64] {
        let values = self.block.columns.get(column).map_or(&[][..], Vec::as_slice);
        let n_written = values.iter().rposition(|value| !is_empty_cell(*value)).map_or(0, |last| last + 1);
        values.get(..n_written).unwrap_or_default()
    }

    fn has_numbers(&self, column: usize) -> bool {
        !self.is_text.get(column).copied().unwrap_or(true) && !self.values(column).is_empty()
    }

    fn with_role(&self, role: Role) -> Vec<usize> {
        let heads = self.heads.iter().enumerate();
        heads
            .filter(|(column, head)| head.role == role && self.has_numbers(*column))
            .map(|(column, _)| column)
            .collect()
    }

    fn head_text(&self, column: usize) -> &str {
        self.heads.get(column).map_or("", |head| head.text.as_str())
    }

    /// `column 2 "I/µA"`.
    fn in_words(&self, column: usize) -> String {
        match self.head_text(column) {
            "" => format!("column {}", column + 1),
            text => format!("column {} \"{}\"", column + 1, shortened(text)),
        }
    }

    fn all_in_words(&self) -> String {
        let n_shown = 6;
        let mut words: Vec<String> =
            (0..self.heads.len()).take(n_shown).map(|column| self.in_words(column)).collect();
        if self.heads.len() > n_shown {
            words.push(format!("… {} columns in all", self.heads.len()));
        }
        words.join(", ")
    }

    fn pinned(&self, key: &'static str, choice: &ColumnChoice) -> Result<usize, ReadError> {
        let missing = || ReadError::PinnedColumnMissing {
            place: self.place.clone(),
            key,
            wanted: choice.to_string(),
            available: self.all_in_words(),
        };
        let column = match choice {
            ColumnChoice::Number(number) => number.checked_sub(1).ok_or_else(missing)?,
            ColumnChoice::Header(wanted) => {
                let named: Vec<usize> =
                    (0..self.heads.len()).filter(|&column| self.head_text(column) == wanted.trim()).collect();
                match named.as_slice() {
                    [only] => *only,
                    [] => return Err(missing()),
                    several => {
                        return Err(ReadError::PinnedColumnNotUnique {
                            place: self.place.clone(),
                            key,
                            wanted: choice.to_string(),
                            count: several.len(),
                        });
                    }
                }
            }
        };
        if self.has_numbers(column) { Ok(column) } else { Err(missing()) }
    }

    fn ambiguous(&self, first: String, second: String, key: &'static str) -> ReadError {
        ReadError::Ambiguous { place: self.place.clone(), first, second, key }
    }
}

fn potentials(evidence: &ColumnEvidence<'_>) -> Result<Vec<usize>, ReadError> {
    if let Some(choice) = &evidence.pin.potential_column {
        return Ok(vec![evidence.pinned("potential_column", choice)?]);
    }
    let named = evidence.with_role(Role::Potential);
    let has_unit = |column: &usize| evidence.heads.get(*column).is_some_and(|head| head.unit.is_some());
    let with_unit: Vec<usize> = named.iter().copied().filter(has_unit).collect();
    let named = if with_unit.is_empty() { named } else { with_unit };
    if !named.is_empty() {
        return Ok(named);
    }
    let stepping: Vec<usize> = evidence
        .with_role(Role::Unknown)
        .into_iter()
        .filter(|&column| is_plausible_potential(evidence.values(column), None))
        .collect();
    if let [only] = stepping.as_slice() {
        let values = evidence.values(*only);
        let starts_at_zero = values.first() == Some(&0.0) && values.iter().all(|value| *value >= 0.0);
        let may_be_time = starts_at_zero
            && evidence.head_text(*only).is_empty()
            && values.iter().zip(values.iter().skip(1)).all(|(before, after)| after > before);
        if may_be_time {
            let words = evidence.in_words(*only);
            return Err(evidence.ambiguous(
                format!("{words} is the potential"),
                format!("{words} is the time"),
                "potential_column",
            ));
        }
    }
    if stepping.is_empty() {
        return Err(ReadError::NoPotentialColumn {
            place: evidence.place.clone(),
            found: evidence.all_in_words(),
        });
    }
    Ok(stepping)
}

/// Potential and currents in turn: every group begins with its potential and has the same roles.
fn pairs(evidence: &ColumnEvidence<'_>, potentials: &[usize]) -> Result<Vec<ScanColumns>, ReadError> {
    let mut scans: Vec<ScanColumns> = Vec::new();
    let mut ends: Vec<usize> = potentials.iter().skip(1).copied().collect();
    ends.push(evidence.heads.len());
    for (&potential, &end) in potentials.iter().zip(&ends) {
        let mut group = ScanColumns { potential, current: None, forward: None, reverse: None };
        for column in potential + 1..end {
            let role = evidence.heads.get(column).map_or(Role::Unknown, |head| head.role);
            let slot = match role {
                Role::Current | Role::Difference | Role::Unknown => &mut group.current,
                Role::Forward => &mut group.forward,
                Role::Reverse => &mut group.reverse,
                Role::CurrentDensity => return Err(density(evidence, column)),
                Role::Potential | Role::Time | Role::ScanNumber | Role::Other => continue,
            };
            let is_pointless = role == Role::Unknown && !evidence.has_numbers(column);
            if slot.is_some() && !is_pointless {
                return Err(not_in_pairs(evidence, potentials));
            }
            if !is_pointless {
                *slot = Some(column);
            }
        }
        let same_roles = scans.first().is_none_or(|first| {
            (first.current.is_some(), first.forward.is_some(), first.reverse.is_some())
                == (group.current.is_some(), group.forward.is_some(), group.reverse.is_some())
        });
        let is_whole = group.current.is_some() || (group.forward.is_some() && group.reverse.is_some());
        if !same_roles || !is_whole {
            return Err(not_in_pairs(evidence, potentials));
        }
        scans.push(group);
    }
    Ok(scans)
}

fn not_in_pairs(evidence: &ColumnEvidence<'_>, potentials: &[usize]) -> ReadError {
    let words = |index: usize| {
        let column = potentials.get(index).copied().unwrap_or(0);
        format!("the potential is {}", evidence.in_words(column))
    };
    evidence.ambiguous(words(0), words(1), "potential_column")
}

fn density(evidence: &ColumnEvidence<'_>, column: usize) -> ReadError {
    let text = shortened(evidence.head_text(column));
    ReadError::CurrentDensity { place: Place { column: column + 1, text, ..evidence.place.clone() } }
}

/// One potential column with one or more scans beside it.
fn beside(evidence: &ColumnEvidence<'_>, potentials: &[usize]) -> Result<Vec<ScanColumns>, ReadError> {
    let Some(&potential) = potentials.first() else { return Ok(Vec::new()) };
    let pin = evidence.pin;
    let pinned = |key: &'static str, choice: &Option<ColumnChoice>| {
        choice.as_ref().map(|choice| evidence.pinned(key, choice)).transpose()
    };
    let forward = pinned("forward_column", &pin.forward_column)?;
    let reverse = pinned("reverse_column", &pin.reverse_column)?;
    let currents: Vec<Option<usize>> = match &pin.current_columns {
        Some(choices) if !choices.is_empty() => {
            let mut currents = Vec::new();
            for choice in choices {
                currents.push(Some(evidence.pinned("current_columns", choice)?));
            }
            currents
        }
        _ if forward.is_some() && reverse.is_some() => vec![None],
        _ => return inferred_scans(evidence, potential),
    };
    if let Some(column) = currents
        .iter()
        .flatten()
        .find(|column| evidence.heads.get(**column).is_some_and(|head| head.role == Role::CurrentDensity))
    {
        return Err(density(evidence, *column));
    }
    let is_one = currents.len() == 1;
    Ok(currents
        .into_iter()
        .map(|current| ScanColumns {
            potential,
            current,
            forward: forward.filter(|_| is_one),
            reverse: reverse.filter(|_| is_one),
        })
        .collect())
}

fn inferred_scans(evidence: &ColumnEvidence<'_>, potential: usize) -> Result<Vec<ScanColumns>, ReadError> {
    let of = |role: Role| -> Vec<usize> {
        evidence.with_role(role).into_iter().filter(|&column| column != potential).collect()
    };
    let (plain, difference) = (of(Role::Current), of(Role::Difference));
    let (forward, reverse) = (of(Role::Forward), of(Role::Reverse));
    if let (Some(&one), Some(&other)) = (plain.first(), difference.first()) {
        return Err(which_current(evidence, one, other));
    }
    let currents = if difference.is_empty() { plain } else { difference };
    refuse_processed(evidence, &currents)?;
    if forward.is_empty() && reverse.is_empty() {
        let currents = if currents.is_empty() { unnamed_currents(evidence, potential)? } else { currents };
        return Ok(currents
            .into_iter()
            .map(|column| ScanColumns { potential, current: Some(column), forward: None, reverse: None })
            .collect());
    }
    let n_scans = currents.len().max(forward.len()).max(reverse.len());
    let is_even = |columns: &Vec<usize>| columns.is_empty() || columns.len() == n_scans;
    let has_current = !currents.is_empty() || (!forward.is_empty() && !reverse.is_empty());
    if ![&currents, &forward, &reverse].into_iter().all(is_even) || !has_current {
        let found = evidence.all_in_words();
        return Err(ReadError::NoCurrentColumn { place: evidence.place.clone(), found });
    }
    Ok((0..n_scans)
        .map(|index| ScanColumns {
            potential,
            current: currents.get(index).copied(),
            forward: forward.get(index).copied(),
            reverse: reverse.get(index).copied(),
        })
        .collect())
}

fn which_current(evidence: &ColumnEvidence<'_>, one: usize, other: usize) -> ReadError {
    evidence.ambiguous(
        format!("the current is {}", evidence.in_words(one)),
        format!("the current is {}", evidence.in_words(other)),
        "current_columns",
    )
}

/// A smoothed or corrected current beside the one recorded: both are plausible.
fn refuse_processed(evidence: &ColumnEvidence<'_>, currents: &[usize]) -> Result<(), ReadError> {
    let is_processed = |column: &&usize| evidence.heads.get(**column).is_some_and(|head| head.is_processed);
    let processed = currents.iter().find(is_processed);
    let recorded = currents.iter().find(|column| !is_processed(column));
    match (recorded, processed) {
        (Some(&recorded), Some(&processed)) => Err(which_current(evidence, recorded, processed)),
        _ => Ok(()),
    }
}

/// Columns of numbers whose header names no quantity: one is the current by elimination; several are scans side by side
/// where their names count or repeat.
fn unnamed_currents(evidence: &ColumnEvidence<'_>, potential: usize) -> Result<Vec<usize>, ReadError> {
    let unknown: Vec<usize> =
        evidence.with_role(Role::Unknown).into_iter().filter(|&column| column != potential).collect();
    let (first, second) = match unknown.as_slice() {
        [] => {
            if let Some(&column) = evidence.with_role(Role::CurrentDensity).first() {
                return Err(density(evidence, column));
            }
            let found = evidence.all_in_words();
            return Err(ReadError::NoCurrentColumn { place: evidence.place.clone(), found });
        }
        [only] => return Ok(vec![*only]),
        [first, second, ..] => (*first, *second),
    };
    let stepping = unknown.iter().find(|column| is_plausible_potential(evidence.values(**column), None));
    if let Some(&column) = stepping {
        let other = if column == first { second } else { first };
        return Err(which_current(evidence, other, column));
    }
    let counts =
        unknown.iter().all(|&column| evidence.head_text(column).contains(|c: char| c.is_ascii_digit()));
    let first_text = evidence.head_text(first);
    let repeats =
        !first_text.is_empty() && unknown.iter().all(|&column| evidence.head_text(column) == first_text);
    if counts || repeats {
        return Ok(unknown);
    }
    Err(evidence.ambiguous(
        format!("{} scans side by side from {}", unknown.len(), evidence.in_words(first)),
        format!("one scan, its current in {} or {}", evidence.in_words(first), evidence.in_words(second)),
        "current_columns",
    ))
}

fn not_used(evidence: &ColumnEvidence<'_>, columns: &Columns) -> Vec<ReadNote> {
    let used: Vec<usize> = columns
        .scans
        .iter()
        .flat_map(|scan| scan.currents().chain([scan.potential]))
        .chain(columns.time)
        .chain(columns.scan_number)
        .collect();
    let mut is_used = vec![false; evidence.heads.len()];
    for column in used {
        if let Some(flag) = is_used.get_mut(column) {
            *flag = true;
        }
    }
    let unused = is_used.iter().enumerate().filter(|(_, is_used)| !**is_used);
    unused
        .map(|(column, _)| ReadNote::ColumnNotUsed {
            column: column + 1,
            header: shortened(evidence.head_text(column)),
            reason: match evidence.heads.get(column).map(|head| head.role) {
                _ if evidence.is_text.get(column) == Some(&true) => "it holds text",
                _ if !evidence.has_numbers(column) => "it is empty",
                Some(Role::Time) => "the unit of time is not stated",
                Some(Role::CurrentDensity) => "it is a current density",
                _ => "it is neither potential nor current",
            }
            .into(),
        })
        .collect()
}

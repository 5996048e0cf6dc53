//! From columns of numbers to scans: joining and parting blocks, ragged ends, overload marks, names.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::blocks::{Block, Body, is_empty_cell};
use crate::cells::{Lines, cells_of};
use crate::columns::{Columns, ScanColumns};
use crate::dialect::Frame;
use crate::error::{Place, ReadError, shortened};
use crate::header::Header;
use crate::layout::RowsLayout;
use crate::note::ReadNote;
use crate::roles::{Role, column_head};
use crate::scan::Setting;
use crate::settings::setting_from_line;
use crate::steps::{differences, usual_step};

/// A scan in the units of the file.
pub(crate) struct RawScan {
    pub(crate) name: String,
    pub(crate) potential: Vec<f64>,
    pub(crate) current: Vec<f64>,
    pub(crate) forward: Option<Vec<f64>>,
    pub(crate) reverse: Option<Vec<f64>>,
    pub(crate) time: Option<Vec<f64>>,
    pub(crate) settings: Vec<Setting>,
    pub(crate) lines: (usize, usize),
    pub(crate) columns: (usize, usize),
}

/// Joins neighbouring blocks where only blank or comment lines part them and the potential simply goes on.
pub(crate) fn join_blocks<'a>(
    blocks: Vec<Block<'a>>,
    potential: usize,
    frame: &Frame<'_>,
    notes: &mut Vec<ReadNote>,
) -> Vec<Block<'a>> {
    let mut joined: Vec<Block<'a>> = Vec::new();
    for block in blocks {
        if let Some(last) = joined.last_mut()
            && goes_on(last, &block, potential, frame)
        {
            if let Some(line) = block.before.first() {
                notes.push(ReadNote::JoinedAcrossLine { line: line.number });
            }
            let n_rows = last.n_rows();
            last.has_gaps |= block.has_gaps;
            last.runs.extend(block.runs.iter().map(|(row, line)| (row + n_rows, *line)));
            for (column, more) in last.columns.iter_mut().zip(block.columns) {
                column.extend(more);
            }
            continue;
        }
        joined.push(block);
    }
    joined
}

fn goes_on(before: &Block<'_>, after: &Block<'_>, potential: usize, frame: &Frame<'_>) -> bool {
    let has_words = after.has_header_again
        || after
            .before
            .iter()
            .any(|line| !line.is_blank() && setting_from_line(line, frame.delimiter).is_some());
    let column = |block: &Block<'_>| block.columns.get(potential).cloned().unwrap_or_default();
    let (earlier, later) = (column(before), column(after));
    let (Some(&last), Some(&first)) = (earlier.last(), later.first()) else { return false };
    let step = earlier.iter().rev().nth(1).map(|before_last| last - before_last);
    let next = later.get(1).map(|second| second - first);
    let keeps_step = |d: f64| step.is_some_and(|step| (d - step).abs() <= 0.5 * step.abs());
    !has_words && keeps_step(first - last) && next.is_none_or(keeps_step)
}

/// All scans of a file with scans in columns.
pub(crate) fn scans_from_columns(
    body: &mut Body<'_>,
    columns: &Columns,
    header: &Header,
    frame: &Frame<'_>,
    place: &Place,
    notes: &mut Vec<ReadNote>,
) -> Result<Vec<RawScan>, ReadError> {
    let mut scans = Vec::new();
    let n_blocks = body.blocks.len();
    for block in &mut body.blocks {
        let mut settings = header.settings.clone();
        settings.extend(block.before.iter().filter_map(|line| setting_from_line(line, frame.delimiter)));
        let extents = extents(block, columns, place, notes, n_blocks == 1)?;
        let pieces = pieces(block, columns, notes);
        let is_alone = pieces.len() == 1 && extents.len() == 1;
        for rows in &pieces {
            for (scan_columns, n_written) in &extents {
                let rows = rows.start..rows.end.min(*n_written);
                if rows.is_empty() {
                    continue;
                }
                let mut part = |column: usize| part(block, column, &rows, is_alone);
                let forward = scan_columns.forward.map(&mut part);
                let reverse = scan_columns.reverse.map(&mut part);
                let current = match (scan_columns.current, &forward, &reverse) {
                    (Some(column), _, _) => part(column),
                    (None, Some(forward), Some(reverse)) => {
                        forward.iter().zip(reverse).map(|(forward, reverse)| forward - reverse).collect()
                    }
                    _ => Vec::new(),
                };
                let time = columns.time.map(&mut part);
                let potential = part(scan_columns.potential);
                let lines = (block.line_of_row(rows.start), block.line_of_row(rows.end - 1));
                refuse_missing_potential(&potential, lines.0, scan_columns.potential, place)?;
                scans.push(RawScan {
                    name: name_of(header, scan_columns),
                    potential,
                    current,
                    forward,
                    reverse,
                    time,
                    settings: settings.clone(),
                    lines,
                    columns: (scan_columns.potential + 1, scan_columns.leading() + 1),
                });
            }
        }
    }
    Ok(scans)
}

/// The values of some rows; moved out where nothing else needs the column.
fn part(block: &mut Block<'_>, column: usize, rows: &Range<usize>, is_alone: bool) -> Vec<f64> {
    let Some(values) = block.columns.get_mut(column) else { return Vec::new() };
    if is_alone && rows.start == 0 {
        // The line numbers of a block need only its first column's length, which is asked before.
        let mut taken = std::mem::take(values);
        taken.truncate(rows.end);
        return taken;
    }
    values.get(rows.clone()).unwrap_or_default().to_vec()
}

/// How many rows each scan's columns fill; an empty cell above a filled one is refused.
fn extents(
    block: &Block<'_>,
    columns: &Columns,
    place: &Place,
    notes: &mut Vec<ReadNote>,
    is_only_block: bool,
) -> Result<Vec<(ScanColumns, usize)>, ReadError> {
    let mut extents = Vec::new();
    let mut longest: BTreeMap<usize, usize> = BTreeMap::new();
    for scan in &columns.scans {
        let mut n_rows = None;
        for column in scan.currents() {
            let n_written = n_written(block, column, place)?;
            if n_rows.is_some_and(|n_rows| n_rows != n_written) {
                let row = n_written.min(n_rows.unwrap_or(0));
                return Err(empty_cell(block, row, column, place));
            }
            n_rows = Some(n_written);
        }
        let n_rows = n_rows.unwrap_or(0);
        if n_rows == 0 {
            if is_only_block && columns.scans.len() > 1 {
                notes.push(ReadNote::ColumnNotUsed {
                    column: scan.leading() + 1,
                    header: Box::default(),
                    reason: "it is empty".into(),
                });
            }
            continue;
        }
        let n_potentials = n_written(block, scan.potential, place)?;
        if n_potentials < n_rows {
            let place = cell_place(block, n_potentials, scan.potential, place);
            return Err(ReadError::PotentialMissing { place });
        }
        let entry = longest.entry(scan.potential).or_default();
        *entry = (*entry).max(n_rows);
        extents.push((scan.clone(), n_rows));
    }
    for (potential, n_rows) in longest {
        if n_written(block, potential, place)? > n_rows {
            let column = extents.iter().find(|(scan, _)| scan.potential == potential);
            let column = column.map_or(potential, |(scan, _)| scan.leading());
            return Err(empty_cell(block, n_rows, column, place));
        }
    }
    Ok(extents)
}

fn n_written(block: &Block<'_>, column: usize, place: &Place) -> Result<usize, ReadError> {
    let values = block.columns.get(column).map_or(&[][..], Vec::as_slice);
    if !block.has_gaps {
        return Ok(values.len());
    }
    let n_written = values.iter().rposition(|value| !is_empty_cell(*value)).map_or(0, |last| last + 1);
    let written = values.get(..n_written).unwrap_or_default();
    match written.iter().position(|value| is_empty_cell(*value)) {
        None => Ok(n_written),
        Some(row) => Err(empty_cell(block, row, column, place)),
    }
}

fn cell_place(block: &Block<'_>, row: usize, column: usize, place: &Place) -> Place {
    Place { line: block.line_of_row(row), column: column + 1, ..place.clone() }
}

fn empty_cell(block: &Block<'_>, row: usize, column: usize, place: &Place) -> ReadError {
    ReadError::EmptyCell { place: cell_place(block, row, column, place) }
}

fn refuse_missing_potential(
    potential: &[f64],
    first_line: usize,
    column: usize,
    place: &Place,
) -> Result<(), ReadError> {
    match potential.iter().position(|value| value.is_nan()) {
        None => Ok(()),
        Some(index) => Err(ReadError::PotentialMissing {
            place: Place { line: first_line + index, column: column + 1, ..place.clone() },
        }),
    }
}

/// Where a block falls into several scans: at a new scan number, or where the potential starts again.
fn pieces(block: &Block<'_>, columns: &Columns, notes: &mut Vec<ReadNote>) -> Vec<Range<usize>> {
    let n_rows = block.n_rows();
    let values = |column: usize| block.columns.get(column).map_or(&[][..], Vec::as_slice);
    let starts: Vec<usize> = if let Some(column) = columns.scan_number {
        let numbers = values(column);
        differences(numbers)
            .enumerate()
            .filter(|(_, difference)| *difference != 0.0)
            .map(|(index, _)| index + 1)
            .collect()
    } else if let (Some(scan), false) = (columns.scans.first(), columns.is_pairs) {
        let starts = restarts(values(scan.potential));
        let lines = starts.iter().map(|row| block.line_of_row(*row));
        notes.extend(lines.map(|line| ReadNote::PotentialRestart { line }));
        starts
    } else {
        Vec::new()
    };
    let mut pieces = Vec::new();
    let mut from = 0;
    for start in starts.into_iter().chain([n_rows]) {
        pieces.push(from..start);
        from = start;
    }
    pieces
}

/// Rows at which the potential jumps back against its direction and then goes on as before.
fn restarts(potential: &[f64]) -> Vec<usize> {
    let Some(step) = usual_step(potential) else { return Vec::new() };
    let mut starts = Vec::new();
    let mut scan_start = potential.first().copied().unwrap_or(0.0);
    for (index, window) in potential.windows(3).enumerate() {
        let [before, last, first] = *window else { continue };
        let (running, jump) = (last - before, first - last);
        if jump.abs() <= 3.0 * step || running * jump >= 0.0 {
            continue;
        }
        let row = index + 2;
        let next = potential.get(row + 1).map(|next| next - first);
        let goes_on = next.is_none_or(|next| next * running > 0.0 && next.abs() <= 1.5 * step);
        if goes_on && ((first - scan_start).abs() <= 1.5 * step || next.is_some()) {
            starts.push(row);
            scan_start = first;
        }
    }
    starts
}

/// All scans of a file with one scan a row.
pub(crate) fn scans_from_rows(
    text: &str,
    body: &Body<'_>,
    rows: &RowsLayout,
    header: &Header,
    frame: &Frame<'_>,
    place: &Place,
) -> Result<Vec<RawScan>, ReadError> {
    let labels = row_labels(text, body, rows, frame);
    let mut scans = Vec::new();
    for (index, block) in body.blocks.iter().enumerate() {
        let first_row = if index == 0 { rows.first_row } else { 0 };
        for row in first_row..block.n_rows() {
            let cells = block.columns.iter().skip(rows.first_column);
            let mut current: Vec<f64> =
                cells.map(|values| values.get(row).copied().unwrap_or(f64::NAN)).collect();
            let n_written =
                current.iter().rposition(|value| !is_empty_cell(*value)).map_or(0, |last| last + 1);
            current.truncate(n_written);
            if let Some(gap) = current.iter().position(|value| is_empty_cell(*value)) {
                return Err(empty_cell(block, row, rows.first_column + gap, place));
            }
            if current.is_empty() {
                continue;
            }
            let line = block.line_of_row(row);
            scans.push(RawScan {
                name: labels.get(&line).cloned().unwrap_or_default(),
                potential: rows.potentials.iter().take(n_written).copied().collect(),
                current,
                forward: None,
                reverse: None,
                time: None,
                settings: header.settings.clone(),
                lines: (line, line),
                columns: (rows.first_column + 1, rows.first_column + n_written),
            });
        }
    }
    Ok(scans)
}

/// The text before the currents of each row.
fn row_labels(text: &str, body: &Body<'_>, rows: &RowsLayout, frame: &Frame<'_>) -> BTreeMap<usize, String> {
    let n_rows: usize = body.blocks.iter().map(Block::n_rows).sum();
    let mut labels = BTreeMap::new();
    if rows.first_column == 0 {
        return labels;
    }
    let lines = Lines::starting_at(text, frame.body_offset, frame.header.len());
    for line in lines.take(n_rows + 10_000) {
        let cells = cells_of(line.text, frame.delimiter);
        let label: Vec<&str> = cells.into_iter().take(rows.first_column).collect();
        labels.insert(line.number, shortened(label.join(" ").trim()).into());
    }
    labels
}

/// The header's name for a scan; empty where the header only says "current".
fn name_of(header: &Header, columns: &ScanColumns) -> String {
    let Some(head) = header.heads.get(columns.leading()) else { return String::new() };
    match head.role {
        Role::Unknown => head.text.clone(),
        _ if is_more_than_a_quantity(&head.name) => head.name.clone(),
        _ => String::new(),
    }
}

/// `blank current` says more than `current`, `I2` more than `I`.
fn is_more_than_a_quantity(name: &str) -> bool {
    let words: Vec<&str> =
        name.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let is_quantity = |word: &&str| {
        let role = column_head(word).role;
        role != Role::Unknown && !word.ends_with(|c: char| c.is_ascii_digit())
    };
    !words.iter().all(is_quantity)
}

/// Gives every scan a name of its own, and says which header texts several columns share.
pub(crate) fn make_names_unique(scans: &mut [RawScan], notes: &mut Vec<ReadNote>) {
    let is_single = scans.len() == 1;
    let mut count: BTreeMap<String, usize> = BTreeMap::new();
    for (index, scan) in scans.iter_mut().enumerate() {
        if scan.name.is_empty() {
            scan.name = if is_single { "scan".to_owned() } else { format!("scan {}", index + 1) };
        }
        *count.entry(scan.name.clone()).or_default() += 1;
    }
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut taken: std::collections::BTreeSet<String> = count.keys().cloned().collect();
    for scan in scans.iter_mut() {
        if count.get(&scan.name).copied().unwrap_or(0) < 2 {
            continue;
        }
        let number = seen.entry(scan.name.clone()).or_default();
        loop {
            *number += 1;
            let candidate = format!("{} ({number})", scan.name);
            if taken.insert(candidate.clone()) {
                scan.name = candidate;
                break;
            }
        }
    }
    let shared = count.into_iter().filter(|(_, count)| *count > 1);
    notes
        .extend(shared.map(|(header, count)| ReadNote::DuplicateColumnName { header: header.into(), count }));
}

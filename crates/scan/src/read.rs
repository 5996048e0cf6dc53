//! `read`: the way of a text to its scans, one call a link.

use crate::assemble::{RawScan, join_blocks, make_names_unique, scans_from_columns, scans_from_rows};
use crate::blocks::{Body, read_blocks};
use crate::clock;
use crate::columns::{ColumnEvidence, Columns, ScanColumns, choose_columns};
use crate::decode::decode;
use crate::dialect::{Frame, frame};
use crate::error::{Place, ReadError, shortened};
use crate::header::{Header, header};
use crate::layout::{RowsLayout, rows_layout};
use crate::note::ReadNote;
use crate::pin::{Encoding, Layout, ReadingPin, ReductionCurrent};
use crate::reading::{Reading, UnitSource};
use crate::roles::{Role, column_head};
use crate::scan::{ReadFile, Scan};
use crate::settings::{setting_from_line, stated_current_unit, stated_potential_unit, without_comment_mark};
use crate::steps::possible_potential_unit;
use crate::units::{CurrentUnit, PotentialUnit, UnitWord, current_unit_from_file_name};

/// The largest file that is read: 64 MiB.
pub const MAX_BYTES: usize = 64 << 20;
/// The largest number of cells that is read.
pub const MAX_CELLS: usize = 20_000_000;
/// The largest number of columns that is read.
pub const MAX_COLUMNS: usize = 100_000;
/// In so many lines a line of numbers must come, unless `header_lines` says otherwise.
pub const MAX_HEADER_LINES: usize = 10_000;

/// Reads the scans of one text file.
///
/// What `pinned` leaves open is inferred from the text, and said in [`ReadFile::reading`]; with every field pinned nothing
/// is inferred. `file_name` appears in errors, and a current unit that is a word of it (`strip7_uA.csv`) counts as stated.
///
/// # Units
///
/// Potentials come out in V, currents in A, times in s. Currents are turned only where `reduction_current` is pinned
/// as positive; else they keep the sign of the file (with [`ReadNote::ReductionSignNotStated`]).
///
/// # Errors
///
/// [`ReadError`], each with its place: no text, no numbers, a cell that is no number, two plausible readings, a unit that
/// nobody states, more than the limits ([`MAX_BYTES`], [`MAX_CELLS`], [`MAX_COLUMNS`]). Never panics.
///
/// # Example
///
/// ```
/// let text = "E / V;i / µA\n0,10;1,5\n0,09;1,75\n0,08;2,0\n";
/// let file = stillwell_scan::read(text.as_bytes(), "strip1.txt", &Default::default())?;
/// assert_eq!(file.scans[0].potential_v, [0.1, 0.09, 0.08]);
/// assert_eq!(file.scans[0].current_a, [1.5e-6, 1.75e-6, 2e-6]);
/// assert_eq!(
///     file.reading.to_string(),
///     "semicolons; decimal comma; 1 header line; potential column 1; current column 2; V, µA; \
///      sign of reduction not stated; 1 scan of 3 points"
/// );
/// # Ok::<(), stillwell_scan::ReadError>(())
/// ```
pub fn read(bytes: &[u8], file_name: &str, pinned: &ReadingPin) -> Result<ReadFile, ReadError> {
    let blake3 = blake3::hash(bytes).to_hex();
    read_hashed(bytes, &blake3, file_name, pinned)
}

/// [`read`] for those who know the BLAKE3 of the bytes already: 64 hexadecimal digits, taken as they are.
///
/// # Units
///
/// As [`read`].
///
/// # Errors
///
/// As [`read`].
pub fn read_hashed(
    bytes: &[u8],
    blake3: &str,
    file_name: &str,
    pinned: &ReadingPin,
) -> Result<ReadFile, ReadError> {
    let place = Place { file_name: file_name.into(), line: 0, column: 0, text: Box::default() };
    if bytes.len() > MAX_BYTES {
        return Err(too_large(&place, "bytes", bytes.len(), MAX_BYTES));
    }
    let decoded = decode(bytes, &place, pinned.encoding)?;
    let text = decoded.text.as_ref();
    let frame = frame(text, &place, pinned)?;
    if frame.width() > MAX_COLUMNS {
        return Err(too_large(&place, "columns", frame.width(), MAX_COLUMNS));
    }
    let header = header(&frame, text, pinned, &place)?;
    let mut body = read_blocks(text, &frame, &place)?;
    let mut notes = header.notes.clone();
    let arrangement = arrangement(&body, &frame, &header, pinned, &place)?;
    let mut scans = match &arrangement {
        Arrangement::Rows(rows) => scans_from_rows(text, &body, rows, &header, &frame, &place)?,
        Arrangement::Columns(columns) => {
            notes.extend(columns.notes.iter().cloned());
            let potential = columns.scans.first().map_or(0, |scan| scan.potential);
            let blocks = std::mem::take(&mut body.blocks);
            body.blocks = join_blocks(blocks, potential, &frame, &mut notes);
            scans_from_columns(&mut body, columns, &header, &frame, &place, &mut notes)?
        }
    };
    if scans.is_empty() {
        return Err(ReadError::HeaderOnly { place });
    }
    let units = units(&arrangement, &header, &scans, pinned, &place)?;
    make_names_unique(&mut scans, &mut notes);
    let layout = layout_of(&arrangement, &scans);
    refuse_other_layout(layout, pinned, &scans, &place)?;
    let reading = reading(decoded.encoding, &frame, layout, &arrangement, &units, &scans, pinned);
    notes.extend(closing_notes(&body, &frame, &reading, &scans, &arrangement));
    let Some(current_unit) = reading.current_unit else {
        return Err(ReadError::CurrentUnitNotStated { place, reading: Box::new(reading) });
    };
    let time_scale = time_scale(&arrangement, &header);
    let scans = scans
        .into_iter()
        .enumerate()
        .map(|(index, raw)| scaled(raw, index + 1, &reading, current_unit, time_scale))
        .collect::<Vec<Scan>>();
    for scan in scans.iter().filter(|scan| !scan.overload_points.is_empty()) {
        let count = scan.overload_points.len();
        notes.push(ReadNote::Overload { scan: scan.name.clone(), count });
    }
    let (file_name, blake3) = (file_name.to_owned(), blake3.to_owned());
    Ok(ReadFile { file_name, blake3, reading, scans, notes })
}

fn too_large(place: &Place, what: &'static str, found: usize, limit: usize) -> ReadError {
    ReadError::TooLarge { place: place.clone(), what, found, limit }
}

/// How the numbers are arranged.
enum Arrangement {
    Columns(Columns),
    Rows(RowsLayout),
}

fn arrangement(
    body: &Body<'_>,
    frame: &Frame<'_>,
    header: &Header,
    pinned: &ReadingPin,
    place: &Place,
) -> Result<Arrangement, ReadError> {
    let Some(block) = body.blocks.first() else {
        return Err(ReadError::HeaderOnly { place: place.clone() });
    };
    let line = if header.names_line > 0 { header.names_line } else { frame.header.len() + 1 };
    let place = Place { line, ..place.clone() };
    let mark = frame.decimal_mark;
    let rows = rows_layout(block, &header.heads, &frame.is_text, mark, pinned, &place)?;
    if let Some(rows) = rows {
        return Ok(Arrangement::Rows(rows));
    }
    let evidence =
        ColumnEvidence { heads: &header.heads, block, is_text: &frame.is_text, pin: pinned, place };
    choose_columns(&evidence).map(Arrangement::Columns)
}

fn layout_of(arrangement: &Arrangement, scans: &[RawScan]) -> Layout {
    match arrangement {
        Arrangement::Rows(_) => Layout::Rows,
        Arrangement::Columns(columns) if columns.is_pairs => Layout::Pairs,
        Arrangement::Columns(_) => {
            let first_line = scans.first().map(|scan| scan.lines.0);
            let is_stacked = scans.iter().any(|scan| Some(scan.lines.0) != first_line);
            if is_stacked { Layout::Stacked } else { Layout::Columns }
        }
    }
}

fn refuse_other_layout(
    found: Layout,
    pinned: &ReadingPin,
    scans: &[RawScan],
    place: &Place,
) -> Result<(), ReadError> {
    let Some(wanted) = pinned.layout.filter(|wanted| *wanted != found) else { return Ok(()) };
    // One scan alone is as well a stack of one.
    if wanted == Layout::Stacked && found == Layout::Columns {
        return Ok(());
    }
    let second = scans.iter().map(|scan| scan.lines.0).max().unwrap_or(0);
    Err(ReadError::LayoutContradicted {
        place: Place { line: second, ..place.clone() },
        pinned: wanted.word(),
        found: match found {
            Layout::Stacked => format!("another scan starts in line {second} (layout = \"stacked\")"),
            other => format!("the file reads as layout = \"{}\"", other.word()),
        },
    })
}

struct Units {
    potential: (PotentialUnit, UnitSource),
    current: (Option<CurrentUnit>, UnitSource),
}

fn units(
    arrangement: &Arrangement,
    header: &Header,
    scans: &[RawScan],
    pinned: &ReadingPin,
    place: &Place,
) -> Result<Units, ReadError> {
    let (potential_heads, current_heads) = stated_units(arrangement, header, scans, place)?;
    let potential = potential_unit(potential_heads, header, scans, pinned, place)?;
    let by_file = current_heads.map(|unit| (unit, UnitSource::Header)).or_else(|| {
        stated_current_unit(&header.settings).map(|unit| (unit, UnitSource::Setting)).or_else(|| {
            current_unit_from_file_name(&place.file_name).map(|unit| (unit, UnitSource::FileName))
        })
    });
    let current = match (pinned.current_unit, by_file) {
        (Some(pin), Some((stated, from))) if pin != stated && from != UnitSource::FileName => {
            return Err(contradicted(place, "current_unit", stated.word(), pin.word()));
        }
        (Some(pin), _) => (Some(pin), UnitSource::Pinned),
        (None, Some((stated, from))) => (Some(stated), from),
        (None, None) => (None, UnitSource::NotStated),
    };
    Ok(Units { potential, current })
}

fn contradicted(place: &Place, key: &'static str, stated: &str, pinned: &str) -> ReadError {
    ReadError::PinContradicted {
        place: place.clone(),
        stated: stated.to_owned(),
        pinned: pinned.to_owned(),
        key,
    }
}

/// The units that headers (or the labels of rows) state: of potential, and the one unit of all currents.
fn stated_units(
    arrangement: &Arrangement,
    header: &Header,
    scans: &[RawScan],
    place: &Place,
) -> Result<(Option<PotentialUnit>, Option<CurrentUnit>), ReadError> {
    let potential_of = |unit: Option<UnitWord>| match unit {
        Some(UnitWord::Potential(unit)) => Some(unit),
        _ => None,
    };
    let current_of = |unit: Option<UnitWord>| match unit {
        Some(UnitWord::Current(unit)) => Some(unit),
        _ => None,
    };
    let unit_at = |column: usize| header.heads.get(column).and_then(|head| head.unit);
    let mut current_units: Vec<Option<CurrentUnit>> = Vec::new();
    let potential = match arrangement {
        Arrangement::Columns(columns) => {
            for column in columns.scans.iter().flat_map(ScanColumns::currents) {
                let unit = unit_at(column);
                if let Some(UnitWord::Other | UnitWord::Time(_) | UnitWord::Potential(_)) = unit {
                    let text = header.heads.get(column).map_or("", |head| head.text.as_str());
                    let (line, column) = (header.names_line, column + 1);
                    return Err(ReadError::UnknownUnit {
                        place: Place { line, column, ..place.clone() },
                        unit: shortened(text).into(),
                        accepted: "A, mA, µA, nA, pA for a current",
                    });
                }
                current_units.push(current_of(unit));
            }
            columns.scans.first().and_then(|scan| potential_of(unit_at(scan.potential)))
        }
        Arrangement::Rows(rows) => {
            let labels = scans.iter().map(|scan| column_head(&scan.name).unit);
            current_units.extend(labels.map(current_of));
            header.heads.iter().take(rows.first_column).find_map(|head| potential_of(head.unit))
        }
    };
    let mut stated = current_units.iter().flatten();
    if let Some(first) = stated.next()
        && let Some(other) = stated.find(|unit| *unit != first)
    {
        let (first, second) = (first.word(), other.word());
        let place = Place { line: header.names_line, ..place.clone() };
        return Err(ReadError::CurrentUnitsDiffer { place, first, second });
    }
    let all_stated = current_units.iter().all(Option::is_some);
    let current = current_units.first().copied().flatten().filter(|_| all_stated);
    Ok((potential, current))
}

fn potential_unit(
    stated: Option<PotentialUnit>,
    header: &Header,
    scans: &[RawScan],
    pinned: &ReadingPin,
    place: &Place,
) -> Result<(PotentialUnit, UnitSource), ReadError> {
    let stated = stated
        .map(|unit| (unit, UnitSource::Header))
        .or_else(|| stated_potential_unit(&header.settings).map(|unit| (unit, UnitSource::Setting)));
    match (pinned.potential_unit, stated) {
        (Some(pin), Some((stated, _))) if pin != stated => {
            Err(contradicted(place, "potential_unit", stated.word(), pin.word()))
        }
        (Some(pin), _) => Ok((pin, UnitSource::Pinned)),
        (None, Some(stated)) => Ok(stated),
        (None, None) => {
            let values = scans.iter().map(|scan| possible_potential_unit(&scan.potential));
            let mut possible: Vec<Option<PotentialUnit>> = values.collect();
            possible.dedup();
            match possible.as_slice() {
                [Some(unit)] => Ok((*unit, UnitSource::Values)),
                _ => Err(ReadError::Ambiguous {
                    place: Place { line: scans.first().map_or(0, |s| s.lines.0), ..place.clone() },
                    first: "the potentials are in V".to_owned(),
                    second: "the potentials are in mV".to_owned(),
                    key: "potential_unit",
                }),
            }
        }
    }
}

fn reading(
    encoding: Encoding,
    frame: &Frame<'_>,
    layout: Layout,
    arrangement: &Arrangement,
    units: &Units,
    scans: &[RawScan],
    pinned: &ReadingPin,
) -> Reading {
    let mut reading = Reading {
        encoding,
        delimiter: frame.delimiter,
        decimal_mark: frame.decimal_mark,
        header_lines: frame.header.len(),
        layout,
        potential_columns: Vec::new(),
        current_columns: Vec::new(),
        forward_columns: Vec::new(),
        reverse_columns: Vec::new(),
        time_column: None,
        potential_unit: units.potential.0,
        potential_unit_from: units.potential.1,
        current_unit: units.current.0,
        current_unit_from: units.current.1,
        reduction_current: pinned.reduction_current,
        n_scans: scans.len(),
        n_points: (
            scans.iter().map(|scan| scan.potential.len()).min().unwrap_or(0),
            scans.iter().map(|scan| scan.potential.len()).max().unwrap_or(0),
        ),
    };
    if let Arrangement::Columns(columns) = arrangement {
        for scan in &columns.scans {
            if reading.potential_columns.last() != Some(&(scan.potential + 1)) {
                reading.potential_columns.push(scan.potential + 1);
            }
            reading.current_columns.extend(scan.current.map(|column| column + 1));
            reading.forward_columns.extend(scan.forward.map(|column| column + 1));
            reading.reverse_columns.extend(scan.reverse.map(|column| column + 1));
        }
        reading.time_column = columns.time.map(|column| column + 1);
    }
    reading
}

fn closing_notes(
    body: &Body<'_>,
    frame: &Frame<'_>,
    reading: &Reading,
    scans: &[RawScan],
    arrangement: &Arrangement,
) -> Vec<ReadNote> {
    let mut notes = Vec::new();
    let between = body.blocks.iter().flat_map(|block| &block.before);
    for line in between.chain(&body.footer).filter(|line| !line.is_blank()) {
        let is_header = frame.header.iter().any(|header| header.text.trim() == line.text.trim());
        let is_comment = without_comment_mark(line.text).1;
        if !is_header && !is_comment && setting_from_line(line, frame.delimiter).is_none() {
            let text = shortened(line.text.trim());
            notes.push(ReadNote::LineNotUnderstood { line: line.number, text });
        }
    }
    let mut clocks: Vec<ReadNote> = Vec::new();
    for setting in scans.iter().flat_map(|scan| &scan.settings) {
        if let Some(note) = clock::note_if_too_early(setting)
            && !clocks.contains(&note)
        {
            clocks.push(note);
        }
    }
    notes.extend(clocks);
    if let Some(line) = body.unended_line {
        notes.push(ReadNote::NoFinalLineEnd { line });
    }
    if reading.potential_unit_from == UnitSource::Values {
        notes.push(ReadNote::PotentialUnitFromValues { unit: reading.potential_unit.word().into() });
    }
    if let (UnitSource::FileName, Some(unit)) = (reading.current_unit_from, reading.current_unit) {
        notes.push(ReadNote::UnitFromFileName { unit: unit.word().into() });
    }
    if let Arrangement::Columns(columns) = arrangement
        && columns.scans.iter().any(|scan| scan.current.is_none())
    {
        notes.push(ReadNote::DifferenceComputed);
    }
    if reading.reduction_current.is_none() {
        notes.push(ReadNote::ReductionSignNotStated);
    }
    notes
}

fn time_scale(arrangement: &Arrangement, header: &Header) -> f64 {
    let Arrangement::Columns(columns) = arrangement else { return 1.0 };
    let head = columns.time.and_then(|column| header.heads.get(column));
    match head {
        Some(head) if head.role == Role::Time => match head.unit {
            Some(UnitWord::Time(seconds)) => seconds,
            _ => 1.0,
        },
        _ => 1.0,
    }
}

/// The scan in SI units, with the sign turned where the file has reduction positive.
fn scaled(
    raw: RawScan,
    ordinal: usize,
    reading: &Reading,
    current_unit: CurrentUnit,
    time_scale: f64,
) -> Scan {
    // Dividing by a negative power of ten turns the sign and rounds the same.
    let divisor = match reading.reduction_current {
        Some(ReductionCurrent::Positive) => -current_unit.per_ampere(),
        Some(ReductionCurrent::Negative) | None => current_unit.per_ampere(),
    };
    let amperes = |mut values: Vec<f64>| {
        for value in &mut values {
            *value /= divisor;
        }
        values
    };
    let mut potential_v = raw.potential;
    if reading.potential_unit != PotentialUnit::Volt {
        for value in &mut potential_v {
            *value = reading.potential_unit.to_volts(*value);
        }
    }
    let mut current_a = amperes(raw.current);
    let mut overload_points = Vec::new();
    if current_a.iter().any(|value| value.is_nan()) {
        for (index, value) in current_a.iter_mut().enumerate().filter(|(_, value)| value.is_nan()) {
            *value = f64::NAN;
            overload_points.push(index);
        }
    }
    let seconds = |values: Vec<f64>| values.into_iter().map(|value| value * time_scale).collect();
    Scan {
        name: raw.name,
        ordinal,
        potential_v,
        current_a,
        forward_a: raw.forward.map(amperes),
        reverse_a: raw.reverse.map(amperes),
        time_s: raw.time.map(seconds),
        settings: raw.settings,
        first_line: raw.lines.0,
        last_line: raw.lines.1,
        columns: raw.columns,
        overload_points,
    }
}

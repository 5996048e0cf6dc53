//! Writing scans as text that [`crate::read()`] takes: the three ways in which instruments lay scans out.

use crate::pin::{DecimalMark, Delimiter, Encoding};
use crate::scan::Scan;
use crate::units::{CurrentUnit, PotentialUnit};

/// How scans lie in a written file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arrangement {
    /// One potential column, the currents side by side under one repeated name. Scans must share their potentials.
    SharedPotential,
    /// A pair of columns a scan.
    Pairs,
    /// Scans below each other, each with its header, with forward and reverse current where the scan has them.
    Stacked,
}

/// How a file is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TextForm {
    /// How scans lie in it.
    pub arrangement: Arrangement,
    /// What stands between cells.
    pub delimiter: Delimiter,
    /// The decimal mark.
    pub decimal_mark: DecimalMark,
    /// How characters are stored; UTF-16 gets a byte order mark.
    pub encoding: Encoding,
    /// Lines end with carriage return and line feed.
    pub has_carriage_returns: bool,
    /// Unit of potentials.
    pub potential_unit: PotentialUnit,
    /// Decimal digits of potentials in that unit.
    pub potential_decimals: usize,
    /// Unit of currents.
    pub current_unit: CurrentUnit,
    /// Decimal digits of currents in that unit.
    pub current_decimals: usize,
    /// `key: value` lines above the numbers.
    pub settings: Vec<(String, String)>,
}

impl TextForm {
    /// Comma, decimal point, UTF-8, V and µA side by side: the form that needs the least said about it.
    pub fn plain(current_decimals: usize) -> Self {
        Self {
            arrangement: Arrangement::SharedPotential,
            delimiter: Delimiter::Comma,
            decimal_mark: DecimalMark::Point,
            encoding: Encoding::Utf8,
            has_carriage_returns: false,
            potential_unit: PotentialUnit::Volt,
            potential_decimals: 4,
            current_unit: CurrentUnit::Microampere,
            current_decimals,
            settings: Vec::new(),
        }
    }
}

/// The bytes of a file with these scans. A point that was marked as overload is written as `overload`.
///
/// # Units
/// Scans in V and A; the file in the form's units, rounded to its decimals.
///
/// # Source
/// The forms are common practice, no source.
///
/// # Example
///
/// ```
/// use stillwell_scan::{ReadingPin, TextForm, read, write};
/// let pin = ReadingPin::default();
/// let text = "E / V,i / µA\n-0.3000,1.25\n-0.3040,1.50\n-0.3080,1.75\n";
/// let file = read(text.as_bytes(), "a.csv", &pin)?;
/// let written = write(&file.scans, &TextForm::plain(2));
/// assert_eq!(String::from_utf8_lossy(&written), text);
/// # Ok::<(), stillwell_scan::ReadError>(())
/// ```
pub fn write(scans: &[Scan], form: &TextForm) -> Vec<u8> {
    let mut lines: Vec<String> =
        form.settings.iter().map(|(key, value)| format!("{}: {}", one_line(key), one_line(value))).collect();
    if !lines.is_empty() {
        lines.push(String::new());
    }
    match form.arrangement {
        Arrangement::SharedPotential => lines.extend(shared_potential(scans, form)),
        Arrangement::Pairs => lines.extend(pairs(scans, form)),
        Arrangement::Stacked => lines.extend(stacked(scans, form)),
    }
    let end = if form.has_carriage_returns { "\r\n" } else { "\n" };
    encoded(&(lines.join(end) + end), form.encoding)
}

fn shared_potential(scans: &[Scan], form: &TextForm) -> Vec<String> {
    let mut header = vec![format!("E / {}", form.potential_unit.word())];
    header.extend(scans.iter().map(|_| format!("i / {}", form.current_unit.word())));
    let mut lines = vec![joined(&header, form)];
    let Some(first) = scans.first() else { return lines };
    for (point, potential_v) in first.potential_v.iter().enumerate() {
        let mut cells = vec![potential(*potential_v, form)];
        cells.extend(scans.iter().map(|scan| current(scan.current_a.get(point), form)));
        lines.push(joined(&cells, form));
    }
    lines
}

fn pairs(scans: &[Scan], form: &TextForm) -> Vec<String> {
    let head = [format!("E / {}", form.potential_unit.word()), format!("i / {}", form.current_unit.word())];
    let mut lines = vec![joined(&scans.iter().flat_map(|_| head.clone()).collect::<Vec<_>>(), form)];
    let n_points = scans.iter().map(Scan::n_points).max().unwrap_or(0);
    for point in 0..n_points {
        let cells: Vec<String> = scans
            .iter()
            .flat_map(|scan| match scan.potential_v.get(point) {
                Some(potential_v) => {
                    [potential(*potential_v, form), current(scan.current_a.get(point), form)]
                }
                None => [String::new(), String::new()],
            })
            .collect();
        lines.push(joined(&cells, form));
    }
    lines
}

fn stacked(scans: &[Scan], form: &TextForm) -> Vec<String> {
    let mut lines = Vec::new();
    for (index, scan) in scans.iter().enumerate() {
        if index > 0 {
            lines.push(String::new());
        }
        lines.extend(block(scan, form));
    }
    lines
}

fn block(scan: &Scan, form: &TextForm) -> Vec<String> {
    let unit = form.current_unit.word();
    let potential_head = format!("Potential [{}]", form.potential_unit.word());
    let (Some(forward_a), Some(reverse_a)) = (&scan.forward_a, &scan.reverse_a) else {
        let mut lines = vec![joined(&[potential_head, format!("Current [{unit}]")], form)];
        let points = scan.potential_v.iter().zip(&scan.current_a);
        lines.extend(points.map(|(potential_v, current_a)| {
            joined(&[potential(*potential_v, form), current(Some(current_a), form)], form)
        }));
        return lines;
    };
    let names = ["Forward", "Reverse", "Difference"].map(|name| format!("{name} [{unit}]"));
    let mut lines = vec![joined(&[vec![potential_head], names.to_vec()].concat(), form)];
    for (point, potential_v) in scan.potential_v.iter().enumerate() {
        let column = |values: &[f64]| current(values.get(point), form);
        let cells =
            [potential(*potential_v, form), column(forward_a), column(reverse_a), column(&scan.current_a)];
        lines.push(joined(&cells, form));
    }
    lines
}

fn joined(cells: &[String], form: &TextForm) -> String {
    let delimiter = match form.delimiter {
        Delimiter::Comma => ",",
        Delimiter::Semicolon => ";",
        Delimiter::Tab => "\t",
        Delimiter::Blank => "  ",
    };
    cells.join(delimiter)
}

fn potential(potential_v: f64, form: &TextForm) -> String {
    let value = match form.potential_unit {
        PotentialUnit::Volt => potential_v,
        PotentialUnit::Millivolt => potential_v * 1e3,
    };
    number(value, form.potential_decimals, form.decimal_mark)
}

fn current(current_a: Option<&f64>, form: &TextForm) -> String {
    match current_a {
        Some(current_a) if current_a.is_finite() => {
            number(current_a * form.current_unit.per_ampere(), form.current_decimals, form.decimal_mark)
        }
        Some(_) => "overload".to_owned(),
        None => String::new(),
    }
}

/// A number with so many decimals, without the sign of a zero.
fn number(value: f64, decimals: usize, mark: DecimalMark) -> String {
    let text = format!("{value:.decimals$}");
    let is_zero = text.bytes().all(|byte| matches!(byte, b'-' | b'0' | b'.'));
    let text = if is_zero { text.trim_start_matches('-').to_owned() } else { text };
    match mark {
        DecimalMark::Point => text,
        DecimalMark::Comma => text.replace('.', ","),
    }
}

/// Settings are single lines.
fn one_line(text: &str) -> String {
    text.replace(['\n', '\r'], " ")
}

fn encoded(text: &str, encoding: Encoding) -> Vec<u8> {
    match encoding {
        Encoding::Utf8 => text.as_bytes().to_vec(),
        Encoding::Utf16Le => {
            let marked = core::iter::once(0xFEFF).chain(text.encode_utf16());
            marked.flat_map(u16::to_le_bytes).collect()
        }
        Encoding::Utf16Be => {
            let marked = core::iter::once(0xFEFF).chain(text.encode_utf16());
            marked.flat_map(u16::to_be_bytes).collect()
        }
        // Characters that Windows-1252 lacks become question marks: never those of the numbers and units here.
        Encoding::Windows1252 => text
            .chars()
            .map(|character| match u32::from(character) {
                code @ (0..=0x7F | 0xA0..=0xFF) => u8::try_from(code).unwrap_or(b'?'),
                _ => b'?',
            })
            .collect(),
    }
}

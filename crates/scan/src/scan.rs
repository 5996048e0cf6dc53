//! What one file yielded: its scans, how it was read, and what was noticed on the way.

use crate::clock::{self, CalendarDate};
use crate::note::ReadNote;
use crate::reading::Reading;

/// One file, read.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadFile {
    /// The name as it was given to [`crate::read()`].
    pub file_name: String,
    /// BLAKE3 of the bytes, 64 hexadecimal digits.
    pub blake3: String,
    /// How the text was understood.
    pub reading: Reading,
    /// At least one scan, in the order of the file.
    pub scans: Vec<Scan>,
    /// What a person should know about this reading.
    pub notes: Vec<ReadNote>,
}

impl ReadFile {
    /// Clock lines of the file that lie after `not_after`: a wrong clock is flagged, not believed. (Years before 2000
    /// are already among [`ReadFile::notes`].)
    pub fn clocks_after(&self, not_after: CalendarDate) -> Vec<ReadNote> {
        let mut notes: Vec<ReadNote> = Vec::new();
        for setting in self.scans.iter().flat_map(|scan| &scan.settings) {
            if let Some(note) = clock::note_if_after(setting, not_after)
                && !notes.contains(&note)
            {
                notes.push(note);
            }
        }
        notes
    }
}

/// One scan as it was recorded, in SI units. All columns have the same length, at least one point.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    /// The header text of the current column, the label of the row, or `scan 3`; unique within the file.
    pub name: String,
    /// Place within the file, from 1.
    pub ordinal: usize,
    /// Applied potential, in the order of recording.
    pub potential_v: Vec<f64>,
    /// Current (of a pulse technique: the difference current). NaN exactly at [`Scan::overload_points`].
    pub current_a: Vec<f64>,
    /// Forward current of a pulse technique; NaN where the file shows an overload mark.
    pub forward_a: Option<Vec<f64>>,
    /// Reverse current of a pulse technique; NaN where the file shows an overload mark.
    pub reverse_a: Option<Vec<f64>>,
    /// Time since the start of the recording, where the file has it.
    pub time_s: Option<Vec<f64>>,
    /// Settings lines above the numbers, as found.
    pub settings: Vec<Setting>,
    /// First line of the scan's numbers, from 1.
    pub first_line: usize,
    /// Last line of the scan's numbers.
    pub last_line: usize,
    /// Columns of potential and current, from 1. In a file of one scan a row: first and last column of the row.
    pub columns: (usize, usize),
    /// Indices of points at which the file has an overload or not-a-number mark in place of the current.
    pub overload_points: Vec<usize>,
}

impl Scan {
    /// Number of points.
    pub fn n_points(&self) -> usize {
        self.potential_v.len()
    }

    /// The setting with this key, ignoring case and surrounding blanks.
    pub fn setting(&self, key: &str) -> Option<&Setting> {
        let wanted = key.trim().to_lowercase();
        self.settings.iter().find(|setting| setting.key.to_lowercase() == wanted)
    }
}

/// A `key = value` or `key: value` line of the file, kept as found.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Setting {
    /// Text left of the mark, trimmed.
    pub key: String,
    /// Text right of the mark, trimmed.
    pub value: String,
    /// Line in the file, from 1.
    pub line: usize,
}

//! What was recorded: scans, techniques, reading text of any dialect, and writing it.
//!
//! In go the bytes of one text file, its name and the answers that the method's `[reading]` pins ([`ReadingPin`]);
//! out comes a [`ReadFile`]: its [`Scan`]s in volts and amperes, the [`Reading`] (how the text was understood, in one
//! line), and [`ReadNote`]s. Start at [`read()`]. What the text leaves open is never guessed: two plausible readings,
//! or a current unit that nobody states, are a [`ReadError`] that names the `[reading]` key which settles it.
//!
//! A [`Technique`] says what should have been recorded; [`settings_differences`] and [`grid_differences`] list in words
//! where a scan departs from it or from another scan.
//!
//! This room never opens a file, asks the clock, smooths, fits or judges a current, and never mends a number.
#![warn(clippy::indexing_slicing)]

mod assemble;
mod blocks;
mod cells;
mod clock;
mod columns;
mod compare;
mod decode;
mod dialect;
mod error;
mod header;
mod layout;
mod note;
mod number;
mod pin;
mod read;
mod reading;
mod roles;
mod scan;
mod segments;
mod settings;
mod steps;
mod technique;
mod units;
mod waveform;
mod write;

pub use clock::CalendarDate;
pub use compare::{Difference, grid_differences, settings_differences, settings_line_differences};
pub use error::{Place, ReadError};
pub use note::ReadNote;
pub use pin::{ColumnChoice, DecimalMark, Delimiter, Encoding, Layout, ReadingPin, ReductionCurrent};
pub use read::{MAX_BYTES, MAX_CELLS, MAX_COLUMNS, MAX_HEADER_LINES, read, read_hashed};
pub use reading::{Reading, UnitSource};
pub use scan::{ReadFile, Scan, Setting};
pub use segments::{Segment, SweepDirection};
pub use technique::{Technique, TechniqueKind};
pub use units::{CurrentUnit, PotentialUnit};
pub use waveform::{TechniqueIncomplete, Waveform};
pub use write::{Arrangement, TextForm, write};

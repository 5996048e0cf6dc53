//! Scans as they were read from a raw file: kept as numbers, so that years of them are evaluated again without reading
//! the text again.

use rusqlite::{Connection, OptionalExtension as _, Transaction, params};
use serde::{Deserialize, Serialize};
use stillwell_scan::{ReadFile, ReadNote, Reading, ReadingPin, Scan, Setting};

use crate::error::StudyError;
use crate::hash::{Digest, Joined};

/// How a file was understood, as it is kept.
#[derive(Serialize, Deserialize)]
struct Understood {
    file_name: String,
    reading: Reading,
    notes: Vec<ReadNote>,
}

/// What a scan is beside its numbers.
#[derive(Clone, Serialize, Deserialize)]
struct Details {
    name: String,
    settings: Vec<Setting>,
    first_line: usize,
    last_line: usize,
    columns: (usize, usize),
    overload_points: Vec<usize>,
}

/// A reading on its way into the study.
#[derive(Debug)]
pub(crate) struct KeptReading {
    pub(crate) hash: Digest,
    pub(crate) key: Digest,
    pub(crate) raw: Digest,
    understood: String,
    pub(crate) scans: Vec<KeptScan>,
}

/// A scan as it is kept: each column as little-endian 64-bit floats.
#[derive(Debug)]
pub(crate) struct KeptScan {
    pub(crate) details: String,
    /// `potential_v`, `current_a`, `forward_a`, `reverse_a`, `time_s`; the first two are always there.
    pub(crate) columns: [Option<Vec<u8>>; 5],
    pub(crate) hash: Digest,
}

/// Names what a reading depends on: the bytes, the file's name (it may state a unit), and the method's pin.
#[derive(Default)]
pub(crate) struct Keys {
    /// The last pin as it is hashed: the files of a series mostly share theirs.
    last: Option<(ReadingPin, Vec<u8>)>,
}

impl Keys {
    pub(crate) fn of(&mut self, raw: &Digest, name: &str, pin: &ReadingPin) -> Result<Digest, StudyError> {
        let pin = match self.last.take() {
            Some((last, text)) if last == *pin => (last, text),
            _ => (pin.clone(), serde_json::to_vec(pin).map_err(|error| not_kept(&error))?),
        };
        let (_, text) = self.last.insert(pin);
        Ok(Joined::new("stillwell study reading key 1")
            .field(raw.as_bytes())
            .field(name.as_bytes())
            .field(text)
            .digest())
    }
}

fn not_kept(error: &serde_json::Error) -> StudyError {
    StudyError::Storage { found: format!("a reading cannot be kept: {error}") }
}

impl KeptReading {
    pub(crate) fn of(file: &ReadFile, key: Digest, raw: Digest) -> Result<Self, StudyError> {
        let understood = serde_json::to_string(&Understood {
            file_name: file.file_name.clone(),
            reading: file.reading.clone(),
            notes: file.notes.clone(),
        })
        .map_err(|error| not_kept(&error))?;
        let scans: Vec<KeptScan> = file.scans.iter().map(KeptScan::of).collect::<Result<_, _>>()?;
        let hash = reading_hash(&key, &raw, &understood, scans.iter().map(|scan| scan.hash));
        Ok(Self { hash, key, raw, understood, scans })
    }

    /// Keeps it, unless it is there. Says whether it is new.
    pub(crate) fn put(&self, transaction: &Transaction<'_>) -> Result<bool, StudyError> {
        let sql = "INSERT INTO reading (hash, key, raw, n_scans, understood) VALUES (?1, ?2, ?3, ?4, ?5) \
                   ON CONFLICT DO NOTHING";
        let n_scans = i64::try_from(self.scans.len()).unwrap_or(i64::MAX);
        let is_new = transaction.prepare_cached(sql)?.execute(params![
            self.hash,
            self.key,
            self.raw,
            n_scans,
            self.understood
        ])? == 1;
        if is_new {
            for (ordinal, scan) in (1_i64..).zip(&self.scans) {
                scan.put(transaction, &self.hash, ordinal)?;
            }
        }
        Ok(is_new)
    }
}

/// Over everything that a reading holds.
pub(crate) fn reading_hash(
    key: &Digest,
    raw: &Digest,
    understood: &str,
    scans: impl Iterator<Item = Digest>,
) -> Digest {
    let mut joined = Joined::new("stillwell study reading 1")
        .field(key.as_bytes())
        .field(raw.as_bytes())
        .field(understood.as_bytes());
    for scan in scans {
        joined.push(scan.as_bytes());
    }
    joined.digest()
}

impl KeptScan {
    fn of(scan: &Scan) -> Result<Self, StudyError> {
        let details = serde_json::to_string(&Details {
            name: scan.name.clone(),
            settings: scan.settings.clone(),
            first_line: scan.first_line,
            last_line: scan.last_line,
            columns: scan.columns,
            overload_points: scan.overload_points.clone(),
        })
        .map_err(|error| not_kept(&error))?;
        let optional = [&scan.forward_a, &scan.reverse_a, &scan.time_s];
        let [forward_a, reverse_a, time_s] = optional.map(|column| column.as_deref().map(to_bytes));
        let columns = [
            Some(to_bytes(&scan.potential_v)),
            Some(to_bytes(&scan.current_a)),
            forward_a,
            reverse_a,
            time_s,
        ];
        let hash = scan_hash(&details, columns.iter().map(Option::as_deref));
        Ok(Self { details, columns, hash })
    }

    fn put(&self, transaction: &Transaction<'_>, reading: &Digest, ordinal: i64) -> Result<(), StudyError> {
        let sql = "INSERT INTO scan \
                   (reading, ordinal, details, potential_v, current_a, forward_a, reverse_a, time_s, hash) \
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)";
        let [potential_v, current_a, forward_a, reverse_a, time_s] = &self.columns;
        transaction.prepare_cached(sql)?.execute(params![
            reading,
            ordinal,
            self.details,
            potential_v,
            current_a,
            forward_a,
            reverse_a,
            time_s,
            self.hash
        ])?;
        Ok(())
    }
}

/// Over everything that a scan holds; a column that is not there counts as such.
pub(crate) fn scan_hash<'a>(
    details: &str,
    columns: impl Iterator<Item = Option<&'a [u8]>> + Clone,
) -> Digest {
    let n_bytes = columns.clone().flatten().map(<[u8]>::len).sum::<usize>();
    let mut joined =
        Joined::with_room("stillwell study scan 1", n_bytes + details.len() + 128).field(details.as_bytes());
    for column in columns {
        joined.push(&[u8::from(column.is_some())]);
        joined.push(column.unwrap_or_default());
    }
    joined.digest()
}

fn to_bytes(values: &[f64]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(8 * values.len());
    for value in values {
        bytes.extend_from_slice(&value.to_le_bytes());
    }
    bytes
}

/// The numbers of a column; none where the bytes do not divide into eights.
fn from_bytes(bytes: &[u8]) -> Option<Vec<f64>> {
    let (eights, rest) = bytes.as_chunks::<8>();
    rest.is_empty().then(|| eights.iter().map(|eight| f64::from_le_bytes(*eight)).collect())
}

/// The readings in the study by their key, with the number of their scans: what need not be read again.
pub(crate) fn by_key(connection: &Connection, key: &Digest) -> Result<Option<(Digest, usize)>, StudyError> {
    let sql = "SELECT hash, n_scans FROM reading WHERE key = ?1";
    let found: Option<(Digest, i64)> =
        connection.prepare_cached(sql)?.query_row([key], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
    Ok(found.map(|(hash, n_scans)| (hash, usize::try_from(n_scans).unwrap_or(0))))
}

/// Files as they were read, from the numbers kept. Their hashes are not looked at here; verification does that.
pub(crate) struct Loader<'a> {
    connection: &'a Connection,
    keys: Keys,
    /// How the file before was understood, as text and in full: the files of a series mostly are understood alike.
    understood: (String, Option<(Reading, Vec<ReadNote>)>),
    details: (String, Option<Details>),
}

impl<'a> Loader<'a> {
    pub(crate) fn new(connection: &'a Connection) -> Self {
        let (understood, details) = Default::default();
        Self { connection, keys: Keys::default(), understood, details }
    }

    /// None where the file was not yet read in this way.
    pub(crate) fn load(
        &mut self,
        raw: &Digest,
        name: &str,
        pin: &ReadingPin,
    ) -> Result<Option<ReadFile>, StudyError> {
        let key = self.keys.of(raw, name, pin)?;
        self.file("SELECT hash, raw, understood FROM reading WHERE key = ?1", &key, name)
    }

    /// A reading by its own hash.
    pub(crate) fn kept(&mut self, reading: &Digest, name: &str) -> Result<ReadFile, StudyError> {
        let found = self.file("SELECT hash, raw, understood FROM reading WHERE hash = ?1", reading, name)?;
        found.ok_or_else(|| StudyError::damaged(format!("the reading {} is missing", reading.short())))
    }

    fn file(&mut self, sql: &str, by: &Digest, name: &str) -> Result<Option<ReadFile>, StudyError> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let mut rows = statement.query([by])?;
        let Some(row) = rows.next()? else { return Ok(None) };
        let (hash, raw): (Digest, Digest) = (row.get(0)?, row.get(1)?);
        let (file_name, (reading, notes)) = self.understood(&hash, name, text_of(row, 2)?)?;
        drop(rows);
        let scans = self.scans(&hash)?;
        Ok(Some(ReadFile { file_name, blake3: raw.to_string(), reading, scans, notes }))
    }

    fn scans(&mut self, reading: &Digest) -> Result<Vec<Scan>, StudyError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT ordinal, details, potential_v, current_a, forward_a, reverse_a, time_s FROM scan \
             WHERE reading = ?1 ORDER BY ordinal",
        )?;
        let mut rows = statement.query([reading])?;
        let mut scans = Vec::new();
        while let Some(row) = rows.next()? {
            let details = self.details(reading, text_of(row, 1)?)?;
            scans.push(scan_from_row(row, reading, details)?);
        }
        Ok(scans)
    }

    fn understood(
        &mut self,
        hash: &Digest,
        name: &str,
        text: &str,
    ) -> Result<(String, (Reading, Vec<ReadNote>)), StudyError> {
        // The name stands first; what follows is the same for files that were understood alike.
        let quoted = serde_json::to_string(name).map_err(|error| not_kept(&error))?;
        let rest = text.strip_prefix("{\"file_name\":").and_then(|text| text.strip_prefix(quoted.as_str()));
        if let (Some(rest), (last, Some(understood))) = (rest, &self.understood)
            && rest == last
        {
            return Ok((name.to_owned(), understood.clone()));
        }
        let Understood { file_name, reading, notes } = serde_json::from_str(text)
            .map_err(|error| StudyError::damaged(format!("the reading {}: {error}", hash.short())))?;
        if let Some(rest) = rest {
            self.understood = (rest.to_owned(), Some((reading.clone(), notes.clone())));
        }
        Ok((file_name, (reading, notes)))
    }

    fn details(&mut self, reading: &Digest, text: &str) -> Result<Details, StudyError> {
        if let (last, Some(details)) = &self.details
            && text == last
        {
            return Ok(details.clone());
        }
        let details: Details =
            serde_json::from_str(text).map_err(|error| bad_scan(reading, &error.to_string()))?;
        self.details = (text.to_owned(), Some(details.clone()));
        Ok(details)
    }
}

fn text_of<'r>(row: &'r rusqlite::Row<'_>, index: usize) -> Result<&'r str, StudyError> {
    Ok(row.get_ref(index)?.as_str().map_err(rusqlite::Error::from)?)
}

fn bad_scan(reading: &Digest, what: &str) -> StudyError {
    StudyError::damaged(format!("a scan of the reading {}: {what}", reading.short()))
}

fn scan_from_row(row: &rusqlite::Row<'_>, reading: &Digest, details: Details) -> Result<Scan, StudyError> {
    let ordinal: i64 = row.get(0)?;
    let column = |index: usize| -> Result<Option<Vec<f64>>, StudyError> {
        let bytes = row.get_ref(index)?.as_blob_or_null().map_err(rusqlite::Error::from)?;
        bytes
            .map(|bytes| from_bytes(bytes).ok_or_else(|| bad_scan(reading, "a column is cut off")))
            .transpose()
    };
    let potential_v = column(2)?.unwrap_or_default();
    let current_a = column(3)?.unwrap_or_default();
    let [forward_a, reverse_a, time_s] = [column(4)?, column(5)?, column(6)?];
    let n_points = potential_v.len();
    let is_whole = |other: &Option<Vec<f64>>| other.as_ref().is_none_or(|other| other.len() == n_points);
    let overload_fits = details.overload_points.iter().all(|point| *point < n_points);
    if n_points == 0
        || current_a.len() != n_points
        || ![&forward_a, &reverse_a, &time_s].into_iter().all(is_whole)
        || !overload_fits
    {
        return Err(bad_scan(reading, "its columns differ in length"));
    }
    Ok(Scan {
        name: details.name,
        ordinal: usize::try_from(ordinal).unwrap_or(0),
        potential_v,
        current_a,
        forward_a,
        reverse_a,
        time_s,
        settings: details.settings,
        first_line: details.first_line,
        last_line: details.last_line,
        columns: details.columns,
        overload_points: details.overload_points,
    })
}

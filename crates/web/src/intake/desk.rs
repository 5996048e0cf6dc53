//! Stagings on disk, beside the study: raw files under their hashes, the names in an index, the run sheet as it grows.
//!
//! No name that came from outside is ever a path: a file is stored under the hash of its bytes, a staging under digits of ours.

use std::fs;
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use stillwell_method::SheetCells;
use stillwell_study::Delivery;

use crate::layout::Refusal;

/// Stagings of one study; each is a decision that waits.
const MOST_STAGINGS: usize = 20;
/// Files of one staging.
pub(super) const MOST_FILES: usize = 20_000;
/// Bytes of one staging.
pub(super) const MOST_BYTES: u64 = 2 << 30;
/// Bytes of one file.
pub(super) const MOST_FILE_BYTES: u64 = 64 << 20;

const INDEX: &str = "index.json";
const SHEET: &str = "run-sheet.csv";
const METHOD: &str = "method.toml";

/// All stagings of a study. One lock for all: they change seldom, and two tabs may work on one.
pub(crate) struct Desk {
    folder: PathBuf,
    lock: Mutex<()>,
}

/// One staging.
#[derive(Debug, Clone)]
pub(super) struct Staging {
    pub(super) id: String,
    pub(super) index: Index,
    /// The run sheet's text; empty where there is none yet.
    pub(super) sheet: String,
    /// The method file that came along.
    pub(super) method: Option<String>,
    folder: PathBuf,
}

/// What a staging holds.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Index {
    pub(super) files: Vec<Staged>,
    /// Files of the last sending that were not taken, and why.
    pub(super) not_taken: Vec<(String, String)>,
}

/// One raw file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Staged {
    pub(super) name: String,
    pub(super) blake3: String,
    pub(super) bytes: u64,
}

/// A file that has arrived, not yet part of its staging.
#[derive(Debug)]
pub(super) enum Arrived {
    Taken(Staged),
    NotTaken(String, String),
}

impl Desk {
    /// The stagings of the study at that path lie in a folder of its name.
    pub(crate) fn beside(study: &Path) -> Self {
        let mut name = study.file_name().unwrap_or_default().to_owned();
        name.push(".intake");
        Self { folder: study.with_file_name(name), lock: Mutex::new(()) }
    }

    fn locked(&self) -> MutexGuard<'_, ()> {
        self.lock.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Digits of ours and nothing else lead to a staging.
    fn folder_of(&self, id: &str) -> Result<PathBuf, Refusal> {
        let is_ours = id.len() == 16 && id.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
        let folder = self.folder.join(if is_ours { id } else { "nothing" });
        if is_ours && folder.is_dir() { Ok(folder) } else { Err(unknown()) }
    }

    /// All of them, by name.
    pub(super) fn all(&self) -> Result<Vec<Staging>, Refusal> {
        let entries = match fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(unusable(&error)),
        };
        let names =
            entries.filter_map(Result::ok).map(|entry| entry.file_name().to_string_lossy().into_owned());
        let mut ids: Vec<String> = names.collect();
        ids.sort();
        Ok(ids.iter().filter_map(|id| self.open(id).ok()).collect())
    }

    /// One of them.
    pub(super) fn open(&self, id: &str) -> Result<Staging, Refusal> {
        let folder = self.folder_of(id)?;
        let index = match fs::read(folder.join(INDEX)) {
            Ok(bytes) => serde_json::from_slice(&bytes).map_err(|error| unusable(&error.into()))?,
            Err(error) if error.kind() == ErrorKind::NotFound => Index::default(),
            Err(error) => return Err(unusable(&error)),
        };
        let sheet = fs::read_to_string(folder.join(SHEET)).unwrap_or_default();
        let method = fs::read_to_string(folder.join(METHOD)).ok();
        Ok(Staging { id: id.to_owned(), index, sheet, method, folder })
    }

    /// A new one.
    pub(super) fn begin(&self) -> Result<String, Refusal> {
        let _held = self.locked();
        if self.all()?.len() >= MOST_STAGINGS {
            let found = format!("{MOST_STAGINGS} intakes wait already");
            return Err(Refusal::new(StatusCode::CONFLICT, &found, "take one of them in, or discard it"));
        }
        let mut random = [0_u8; 8];
        getrandom::fill(&mut random).map_err(|error| Refusal::failed(&error.to_string()))?;
        let id: String = digits(random);
        fs::create_dir_all(self.folder.join(&id)).map_err(|error| unusable(&error))?;
        Ok(id)
    }

    /// Where a file that arrives is written to first.
    pub(super) fn arriving(&self, id: &str) -> Result<Arriving, Refusal> {
        let folder = self.folder_of(id)?;
        let mut random = [0_u8; 8];
        getrandom::fill(&mut random).map_err(|error| Refusal::failed(&error.to_string()))?;
        let name: String = digits(random);
        let path = folder.join(format!("arriving-{name}"));
        let file = fs::File::create_new(&path).map_err(|error| unusable(&error))?;
        Ok(Arriving { file, path, folder, hasher: blake3::Hasher::new(), bytes: 0 })
    }

    /// Makes files that arrived part of a staging. The same file again is nothing new.
    pub(super) fn add(&self, id: &str, arrived: Vec<Arrived>) -> Result<(), Refusal> {
        let _held = self.locked();
        let mut staging = self.open(id)?;
        let mut not_taken = Vec::new();
        let mut by_name: std::collections::BTreeMap<String, Staged> =
            staging.index.files.drain(..).map(|file| (file.name.clone(), file)).collect();
        for one in arrived {
            match one {
                Arrived::NotTaken(name, why) => not_taken.push((name, why)),
                Arrived::Taken(file) if file.name == SHEET || file.name == METHOD => {
                    if let Err(why) = staging.take_text(&file) {
                        not_taken.push((file.name, why));
                    }
                }
                Arrived::Taken(file) => match by_name.get(&file.name) {
                    Some(there) if *there == file => {}
                    Some(_) => {
                        not_taken.push((file.name, "another file of this name is here already".to_owned()));
                    }
                    None if by_name.len() >= MOST_FILES => {
                        not_taken.push((file.name, format!("more than {MOST_FILES} files")));
                    }
                    None => {
                        by_name.insert(file.name.clone(), file);
                    }
                },
            }
        }
        staging.index = Index { files: by_name.into_values().collect(), not_taken };
        staging.save_index()
    }

    /// Takes a file out again; its bytes go with the staging.
    pub(super) fn remove(&self, id: &str, name: &str) -> Result<(), Refusal> {
        let _held = self.locked();
        let mut staging = self.open(id)?;
        staging.index.files.retain(|file| file.name != name);
        staging.save_index()
    }

    /// Changes the run sheet, if it is still the one that was seen. `change` is given its cells.
    pub(super) fn tidy(
        &self,
        id: &str,
        seen: &str,
        change: impl FnOnce(&Staging, &mut SheetCells) -> Result<(), Refusal>,
    ) -> Result<Result<(), Changed>, Refusal> {
        let _held = self.locked();
        let staging = self.open(id)?;
        if staging.version() != seen {
            return Ok(Err(Changed));
        }
        let mut cells = staging.cells();
        change(&staging, &mut cells)?;
        whole(&staging.folder.join(SHEET), cells.text().as_bytes()).map_err(|error| unusable(&error))?;
        Ok(Ok(()))
    }

    /// Throws a staging away, with all that it holds.
    pub(super) fn discard(&self, id: &str) -> Result<(), Refusal> {
        let _held = self.locked();
        let folder = self.folder_of(id)?;
        fs::remove_dir_all(folder).map_err(|error| unusable(&error))?;
        // Only an empty folder goes.
        let _still_used = fs::remove_dir(&self.folder);
        Ok(())
    }
}

/// Eight random bytes as a name.
fn digits(random: [u8; 8]) -> String {
    format!("{:016x}", u64::from_be_bytes(random))
}

/// Somebody else changed the run sheet meanwhile.
pub(super) struct Changed;

impl Staging {
    /// The run sheet's cells; without one, its header.
    pub(super) fn cells(&self) -> SheetCells {
        if self.sheet.trim().is_empty() {
            let header = stillwell_method::COLUMNS.iter().map(|name| (*name).to_owned()).collect();
            return SheetCells { delimiter: ',', header, rows: Vec::new() };
        }
        SheetCells::of(&self.sheet)
    }

    /// Which run sheet somebody has seen.
    pub(super) fn version(&self) -> String {
        blake3::hash(self.sheet.as_bytes()).to_hex().chars().take(16).collect()
    }

    pub(super) fn total_bytes(&self) -> u64 {
        self.index.files.iter().map(|file| file.bytes).sum()
    }

    /// The bytes of a raw file.
    pub(super) fn bytes(&self, file: &Staged) -> Result<Vec<u8>, Refusal> {
        fs::read(self.folder.join(&file.blake3)).map_err(|error| unusable(&error))
    }

    /// As the study takes it.
    pub(super) fn delivery(&self, name: &str) -> Delivery {
        let raw_files =
            self.index.files.iter().map(|file| (file.name.clone(), self.folder.join(&file.blake3)));
        Delivery {
            name: name.to_owned(),
            method: self.method.clone(),
            run_sheet: self.sheet.clone(),
            raw_files: raw_files.collect(),
        }
    }

    /// A run sheet or method file that arrived among the others. What was tidied is not written over.
    fn take_text(&mut self, file: &Staged) -> Result<(), String> {
        let bytes = self.bytes(file).map_err(|refusal| refusal.words())?;
        let text = String::from_utf8(bytes).map_err(|error| {
            format!("not UTF-8 from byte {}: save it as UTF-8 text", error.utf8_error().valid_up_to())
        })?;
        let there = if file.name == SHEET { Some(self.sheet.as_str()) } else { self.method.as_deref() };
        if there.is_some_and(|there| !there.trim().is_empty() && there != text) {
            return Err("there is one already; begin another intake to use this one".to_owned());
        }
        whole(&self.folder.join(&file.name), text.as_bytes()).map_err(|error| error.to_string())?;
        if file.name == SHEET {
            self.sheet = text;
        } else {
            self.method = Some(text);
        }
        Ok(())
    }

    fn save_index(&self) -> Result<(), Refusal> {
        let text = serde_json::to_vec(&self.index).map_err(|error| unusable(&error.into()))?;
        whole(&self.folder.join(INDEX), &text).map_err(|error| unusable(&error))
    }
}

/// Writes a file whole or not at all.
fn whole(path: &Path, content: &[u8]) -> std::io::Result<()> {
    let beside = path.with_extension("new");
    fs::write(&beside, content)?;
    fs::rename(beside, path)
}

fn unknown() -> Refusal {
    Refusal::new(
        StatusCode::NOT_FOUND,
        "there is no such intake",
        "the page \"Take in\" lists those that wait",
    )
}

fn unusable(error: &std::io::Error) -> Refusal {
    Refusal::failed(&format!("the folder beside the study cannot be used: {error}"))
}

/// A file on its way; what is not finished leaves nothing behind.
pub(super) struct Arriving {
    file: fs::File,
    path: PathBuf,
    folder: PathBuf,
    hasher: blake3::Hasher,
    bytes: u64,
}

impl Arriving {
    /// The next piece; false where it becomes too large.
    pub(super) fn push(&mut self, piece: &[u8]) -> std::io::Result<bool> {
        self.bytes += piece.len() as u64;
        if self.bytes > MOST_FILE_BYTES {
            return Ok(false);
        }
        self.hasher.update(piece);
        self.file.write_all(piece)?;
        Ok(true)
    }

    pub(super) fn finish(self, name: String) -> std::io::Result<Staged> {
        let blake3 = self.hasher.finalize().to_hex().to_string();
        fs::rename(&self.path, self.folder.join(&blake3))?;
        Ok(Staged { name, blake3, bytes: self.bytes })
    }
}

impl Drop for Arriving {
    fn drop(&mut self) {
        // After a finished one there is nothing to remove.
        let _gone = fs::remove_file(&self.path);
    }
}

//! What was changed in a package since it was made: every file against the list, by name.

use super::checksums::{CHECKSUMS, SIGNATURE, listed};
use super::{PackageFile, blake3_of};

/// A file that is not as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Changed {
    /// Other bytes: name, hash in the list, hash found.
    Bytes {
        /// Name.
        name: String,
        /// As listed.
        listed: String,
        /// As found.
        found: String,
    },
    /// On the list, but not there.
    Missing {
        /// Name.
        name: String,
    },
    /// There, but not on the list.
    NotListed {
        /// Name.
        name: String,
    },
    /// The list itself is none.
    NoList,
}

/// What an inspection found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inspected {
    /// Files on the list.
    pub n_listed: usize,
    /// Those that differ, in the order of their names.
    pub changed: Vec<Changed>,
}

/// Holds the files of a package against its list. What building leaves behind is not asked about: object files, programs and
/// `build/`.
pub fn inspect(files: &[PackageFile]) -> Inspected {
    let content = |name: &str| files.iter().find(|file| file.name == name).map(|file| file.bytes.as_slice());
    let list = content(CHECKSUMS).and_then(|bytes| std::str::from_utf8(bytes).ok()).and_then(listed);
    let Some(list) = list else { return Inspected { n_listed: 0, changed: vec![Changed::NoList] } };
    let mut changed = Vec::new();
    for (name, hash) in &list {
        match content(name) {
            None => changed.push(Changed::Missing { name: name.clone() }),
            Some(bytes) if blake3_of(bytes) != *hash => changed.push(Changed::Bytes {
                name: name.clone(),
                listed: hash.clone(),
                found: blake3_of(bytes),
            }),
            Some(_) => {}
        }
    }
    let is_known =
        |name: &str| name == CHECKSUMS || name == SIGNATURE || list.iter().any(|(one, _)| one == name);
    let foreign = files.iter().filter(|file| !is_known(&file.name));
    changed.extend(foreign.map(|file| Changed::NotListed { name: file.name.clone() }));
    Inspected { n_listed: list.len(), changed }
}

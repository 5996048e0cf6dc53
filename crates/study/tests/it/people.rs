//! Keys of invented people.

use std::path::Path;

use stillwell_study::{SigningPerson, Study, StudyRole};

use crate::scenario::analyst;

pub(crate) const PASSPHRASE: &str = "four plain invented words";

/// A new key, known to the study in a role.
pub(crate) fn person(study: &mut Study, folder: &Path, name: &str, role: StudyRole) -> SigningPerson {
    let key = key(folder, name);
    study.add_key(name, key.public_key(), role, None, &analyst()).unwrap();
    key
}

pub(crate) fn key(folder: &Path, name: &str) -> SigningPerson {
    SigningPerson::create(&folder.join(format!("{name}.key")), name, PASSPHRASE).unwrap()
}

//! Keys and what their owners may do.

use std::path::Path;

use stillwell_study::{KeyAct, Record, SigningPerson};

use super::super::table::table;
use super::{time, wrapped};

pub(crate) fn keys(all: &[(Record, KeyAct, bool)]) -> String {
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|(record, key, is_in_force)| {
            vec![
                key.name.clone(),
                key.role.word().to_owned(),
                key.public_key.short(),
                time(&record.at_utc),
                if key.voucher.is_some() { "an approver's word" } else { "trust" }.to_owned(),
                if *is_in_force { "in force" } else { "WITHDRAWN" }.to_owned(),
            ]
        })
        .collect();
    table(&["key of", "role", "public key", "since (UTC)", "came on", "standing"], &rows)
}

/// What was made, and what its owner hands on.
pub(crate) fn made(person: &SigningPerson, path: &Path) -> String {
    let mut text = format!(
        "{} holds the key of {}, locked with the passphrase and readable by its owner only\npublic key: {}\n",
        path.display(),
        person.name(),
        person.public_key()
    );
    let words = "hand the public key to whoever keeps the study: stillwell study key add STUDY --public-key … --name … --role approver. \
                 Without file or passphrase nobody can sign in this name again; a new key then needs an approver's word.";
    line!(text, "{}", wrapped("", words));
    text
}

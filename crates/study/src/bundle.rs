//! Bundles for a colleague: the study's state in one file of its own, and a study begun from one.

use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::params;

use crate::act::Act;
use crate::clock::Clock;
use crate::content;
use crate::error::StudyError;
use crate::ledger::{By, said};
use crate::merge::Merged;
use crate::study::{Study, revise};

impl Study {
    /// Writes a bundle: everything that is recorded so far, in one file without journals beside it. It is a study
    /// itself and can be read, verified and merged like one.
    ///
    /// # Errors
    /// A file that is there already or cannot be written.
    pub fn export(&self, to: &Path) -> Result<(), StudyError> {
        if to.exists() {
            return Err(StudyError::AlreadyThere { path: to.to_owned() });
        }
        // Written beside its place and then moved there: whoever breaks in leaves no half of a bundle under its name.
        let mut unfinished = to.as_os_str().to_owned();
        unfinished.push(".unfinished");
        let unfinished = PathBuf::from(unfinished);
        let name = unfinished.to_str().ok_or_else(|| StudyError::Unsayable {
            what: "file name",
            found: format!("{} is not UTF-8", to.display()),
            cure: "a name of plain letters",
        })?;
        // What an earlier run left when it was broken off.
        let _best_effort = fs::remove_file(&unfinished);
        let written = self
            .connection
            .prepare("VACUUM INTO ?1")
            .and_then(|mut statement| statement.execute(params![name]))
            .map_err(StudyError::from)
            .and_then(|_| fs::rename(&unfinished, to).map_err(|error| StudyError::file(to, error)));
        if written.is_err() {
            // The first error is what matters.
            let _best_effort = fs::remove_file(&unfinished);
        }
        written
    }

    /// Begins a study of one's own from a colleague's bundle: the bundle's ledgers are taken in whole and stay as they
    /// are; what is recorded from now on goes into a new ledger.
    ///
    /// # Errors
    /// A bundle that does not verify, or a file that is there already.
    pub fn import(
        bundle: &Path,
        to: &Path,
        name: &str,
        by: &By,
        clock: Clock,
    ) -> Result<(Self, Merged), StudyError> {
        let name = said("name of the study", name, 200, "a short name, such as that of the project")?;
        let other = Self::open_to_read(bundle)?;
        other.must_be_sound()?;
        let current = other.method()?;
        let Act::Revision(revision) = other.record(&current.record)?.act()? else {
            return Err(StudyError::damaged("the bundle's method is not where it should be"));
        };
        let text = content::text(&other.connection, &revision.text)?;
        let mut study = Self::create_with(to, &name, by, clock, |transaction, chain, clock| {
            revise(transaction, chain, clock, &current.method, &text, by).map(|_| ())
        })?;
        let merged = study.merge(bundle, by)?;
        Ok((study, merged))
    }
}

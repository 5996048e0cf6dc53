//! Passphrases: from a file, or from the terminal without an echo; never from the command line, where every process can
//! read them.

use std::io::{IsTerminal as _, Read as _};
use std::path::{Path, PathBuf};

use stillwell_study::SigningPerson;

use crate::exit::Failure;
use crate::study_args::SigningKeyArguments;

/// A passphrase file holds one line.
const MAX_BYTES: u64 = 4096;

/// Where the key file of a person lies: as given, else their name with `.key` in this folder.
pub(super) fn key_path(given: Option<&Path>, name: &str) -> PathBuf {
    given.map_or_else(|| PathBuf::from(format!("{}.key", plain(name))), Path::to_owned)
}

/// A name of letters that every file system takes.
fn plain(name: &str) -> String {
    let letters = name.trim().to_lowercase();
    let letters = letters.chars().map(|c| if c.is_alphanumeric() { c } else { '-' });
    letters.collect::<String>().trim_matches('-').to_owned()
}

/// Unlocks the key of the person who acts; their name must be the key's.
pub(in crate::commands) fn unlock(
    arguments: &SigningKeyArguments,
    actor: &str,
) -> Result<SigningPerson, Failure> {
    let path = key_path(arguments.key.as_deref(), actor);
    let (name, _) = SigningPerson::open_part(&path)?;
    if name != actor.trim() {
        return Err(Failure::NotThere {
            what: format!("{} is the key of {name}, not of {actor}", path.display()),
            cure: "give the key's owner as --as, or the right file as --key".to_owned(),
        });
    }
    unlock_file(&path, arguments.passphrase_file.as_deref())
}

pub(super) fn unlock_file(path: &Path, file: Option<&Path>) -> Result<SigningPerson, Failure> {
    let passphrase = match file {
        Some(file) => of_file(file)?,
        None => asked(&format!("passphrase of {}: ", path.display()))?,
    };
    Ok(SigningPerson::unlock(path, &passphrase)?)
}

/// A passphrase for a new key; a person types it twice.
pub(super) fn new(path: &Path, file: Option<&Path>) -> Result<String, Failure> {
    if let Some(file) = file {
        return of_file(file);
    }
    let once = asked(&format!("new passphrase for {}: ", path.display()))?;
    if asked("the same again: ")? != once {
        return Err(Failure::NotThere {
            what: "the two passphrases differ".to_owned(),
            cure: "nothing was made; try again".to_owned(),
        });
    }
    Ok(once)
}

fn asked(prompt: &str) -> Result<String, Failure> {
    let no_terminal = |error: std::io::Error| Failure::NotThere {
        what: format!("the terminal gives no passphrase: {error}"),
        cure: "run this in a terminal, or give --passphrase-file FILE".to_owned(),
    };
    if !std::io::stdin().is_terminal() {
        return Err(no_terminal(std::io::Error::other("there is none")));
    }
    rpassword::prompt_password(prompt).map_err(no_terminal)
}

/// The first line of a file; a pipe such as `/dev/fd/3` will do.
fn of_file(path: &Path) -> Result<String, Failure> {
    let failed = |found: String| Failure::NotThere {
        what: format!("{}: {found}", path.display()),
        cure: "give a file whose first line is the passphrase and that only you may read".to_owned(),
    };
    let file = std::fs::File::open(path).map_err(|error| failed(error.to_string()))?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let about = file.metadata().map_err(|error| failed(error.to_string()))?;
        let mode = about.permissions().mode();
        if about.is_file() && mode & 0o077 != 0 {
            return Err(failed(format!("others may read it (mode {:03o})", mode & 0o777)));
        }
    }
    let mut text = String::new();
    file.take(MAX_BYTES).read_to_string(&mut text).map_err(|error| failed(error.to_string()))?;
    match text.lines().next() {
        Some(line) if !line.is_empty() => Ok(line.to_owned()),
        _ => Err(failed("its first line is empty".to_owned())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_file_is_named_after_its_owner() {
        assert_eq!(key_path(None, "Mara Reed"), PathBuf::from("mara-reed.key"));
        assert_eq!(key_path(None, "../../approver"), PathBuf::from("approver.key"));
        assert_eq!(key_path(Some(Path::new("a/b.key")), "Mara"), PathBuf::from("a/b.key"));
    }
}

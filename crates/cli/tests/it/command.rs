//! The built command, run as a person runs it: from the root of the repository.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::small_study::Files;

/// What a run printed and how it ended.
#[derive(Debug)]
pub(crate) struct Run {
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

/// The root of the repository.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().expect("the repository")
}

/// Runs `stillwell` with these arguments at the root of the repository.
pub(crate) fn stillwell(arguments: &[&str]) -> Run {
    stillwell_in(&root(), arguments)
}

/// Runs `stillwell` in a folder. What a terminal would say of its width and colours is kept away.
pub(crate) fn stillwell_in(folder: &Path, arguments: &[&str]) -> Run {
    let output = Command::new(env!("CARGO_BIN_EXE_stillwell"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .env_remove("CLICOLOR_FORCE")
        .output()
        .expect("the command starts");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    Run { code: output.status.code(), stdout: text(output.stdout), stderr: text(output.stderr) }
}

/// A folder that goes when the test ends, with these files in it.
pub(crate) fn folder_with(files: &Files) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    files.write_into(folder.path());
    folder
}

/// Runs a command on a folder.
pub(crate) fn on(command: &str, folder: &Path, further: &[&str]) -> Run {
    let mut arguments = vec![command, folder.to_str().expect("UTF-8")];
    arguments.extend(further);
    stillwell(&arguments)
}

/// `determine` on files that must be refused: exit code 2, nothing printed as a result, and each of these texts said.
pub(crate) fn assert_refused(files: &Files, says: &[&str]) -> String {
    let folder = folder_with(files);
    let run = on("determine", folder.path(), &[]);
    assert_bad_input(&run, says);
    run.stderr
}

/// Exit code 2, nothing on the standard output, and each of these texts on the standard error, however it is wrapped.
pub(crate) fn assert_bad_input(run: &Run, says: &[&str]) {
    assert_eq!((run.code, run.stdout.as_str()), (Some(2), ""), "{}", run.stderr);
    let said = run.stderr.split_whitespace().collect::<Vec<_>>().join(" ");
    for text in says {
        assert!(said.contains(text), "not said: {text:?}\nsaid: {}", run.stderr);
    }
}

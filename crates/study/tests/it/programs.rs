//! Other programs: this test binary started again, to be killed or to write at the same time.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use stillwell_study::{Clock, Delivery, Study};

use crate::scenario::analyst;

/// Starts another program that adds a folder to a study.
pub(crate) fn start_adding(study: &Path, folder: &Path) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["programs::another_program_adds", "--exact", "--ignored", "--nocapture"])
        .env("STUDY_UNDER_TEST", study)
        .env("FOLDER_UNDER_TEST", folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

#[test]
#[ignore = "is not a test of its own: others start it as another program"]
fn another_program_adds() {
    let of = |name: &str| std::env::var_os(name).map(PathBuf::from);
    let (Some(study), Some(folder)) = (of("STUDY_UNDER_TEST"), of("FOLDER_UNDER_TEST")) else { return };
    let mut study = Study::open(&study, Clock::system()).unwrap();
    study.add(&Delivery::of_folder(&folder).unwrap(), &analyst(), |_| {}).unwrap();
}

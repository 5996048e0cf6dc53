//! Options of `transfer` and `prove`.

use std::path::PathBuf;

use clap::Args;

use crate::args::Output;
use crate::study_args::{RoutineActor, SigningKeyArguments};

#[derive(Debug, Args)]
pub(crate) struct TransferArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// Folder to write: one that is not there, or an empty one.
    #[arg(long, value_name = "FOLDER")]
    pub(crate) out: PathBuf,
    /// The lot; needed where there are calibrations of several. Its newest calibration under the method in force is taken.
    #[arg(long, value_name = "LOT")]
    pub(crate) lot: Option<String>,
    /// Another calibration, as `study show` numbers it.
    #[arg(long, value_name = "N")]
    pub(crate) calibration: Option<String>,
    #[command(flatten)]
    pub(crate) by: RoutineActor,
    #[command(flatten)]
    pub(crate) signing: SigningKeyArguments,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ProveArguments {
    /// The package's folder.
    pub(crate) package: PathBuf,
    /// A cross compiler for the Cortex-M3, such as arm-none-eabi-gcc: the package is built with it and run on the emulated board.
    #[arg(long, value_name = "COMPILER")]
    pub(crate) cc: Option<String>,
    /// This machine's C compiler.
    #[arg(long, value_name = "COMPILER", default_value = "cc")]
    pub(crate) host_cc: String,
    /// The study that made it: its ledger must hold the package, and the signer must be one of its approvers.
    #[arg(long, value_name = "STUDY")]
    pub(crate) study: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

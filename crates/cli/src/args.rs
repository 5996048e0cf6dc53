//! Every command and option, with an example each; help, man pages and completions come from here.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

/// From an electrochemical sensor's raw scans to concentrations that people act on.
#[derive(Debug, Parser)]
#[command(
    name = "stillwell",
    version,
    after_help = "Exit codes: 0 done · 1 done, but a verdict or a check needs attention · 2 bad input or usage\n\n\
                  A result supports a decision; it is not by itself a legal compliance statement or medical advice.",
    disable_help_subcommand = true
)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// From raw scans to a concentration with its uncertainty and a verdict, for each sample of a folder.
    #[command(after_help = "Example:\n  stillwell determine examples/alder-vale\n  \
        stillwell determine examples/alder-vale --show-chain AV-02\n\n\
        Exit code 1: some sample is not below every limit, is refused, or has its verdict withheld; \
        or there is no sample or no limit.")]
    Determine(FolderArguments),
    /// How a file was read and understood, and whether its raw scans can be trusted.
    #[command(after_help = "Example:\n  stillwell inspect examples/alder-vale/wells-B2.txt\n  \
        stillwell inspect scans.csv --method method.toml\n\n\
        Exit code 1: a check of a raw scan did not pass.")]
    Inspect(InspectArguments),
    /// One line for each scan: signal, peak potential, width, noise, checks.
    #[command(after_help = "Example:\n  stillwell evaluate examples/alder-vale\n  \
        stillwell evaluate examples/alder-vale --figure scan.svg --scan wells-B2.txt:13\n\n\
        Exit code 1: a scan was refused.")]
    Evaluate(EvaluateArguments),
    /// The calibration: curve, statistics, detection and quantification limits, acceptance.
    #[command(after_help = "Example:\n  stillwell calibrate examples/alder-vale\n  \
        stillwell calibrate examples/alder-vale --figure calibration.svg --lot L21\n\n\
        Exit code 1: a calibration was refused or did not pass its acceptance.")]
    Calibrate(CalibrateArguments),
    /// What a check looks at, why it matters, and what to do when it does not pass.
    #[command(after_help = "Example:\n  stillwell explain clipped-scan\n  stillwell explain")]
    Explain(ExplainArguments),
    /// Completions for a shell.
    #[command(
        after_help = "Example:\n  stillwell completions bash > ~/.local/share/bash-completion/completions/stillwell"
    )]
    Completions(CompletionsArguments),
    /// Writes the man pages into a folder.
    #[command(after_help = "Example:\n  stillwell man ./man")]
    Man(ManArguments),
}

#[derive(Debug, Args)]
pub(crate) struct FolderArguments {
    /// Folder with method.toml, run-sheet.csv and the raw files.
    pub(crate) folder: PathBuf,
    /// How the result is printed.
    #[arg(long, value_enum, default_value_t = Format::Table)]
    pub(crate) format: Format,
    /// Print the whole chain of this sample, down to file, line and hash of the raw scans.
    #[arg(long, value_name = "SAMPLE")]
    pub(crate) show_chain: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct EvaluateArguments {
    /// Folder with method.toml, run-sheet.csv and the raw files.
    pub(crate) folder: PathBuf,
    /// How the result is printed.
    #[arg(long, value_enum, default_value_t = Format::Table)]
    pub(crate) format: Format,
    /// Draw one scan with its blank, baseline and peak into this file, which ends in .svg.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    /// The scan to draw: raw file and number of the scan in it. Without it the first refused scan; where none is refused,
    /// the first standard that shows a peak.
    #[arg(long, value_name = "FILE:N", requires = "figure")]
    pub(crate) scan: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct CalibrateArguments {
    /// Folder with method.toml, run-sheet.csv and the raw files.
    pub(crate) folder: PathBuf,
    /// How the result is printed.
    #[arg(long, value_enum, default_value_t = Format::Table)]
    pub(crate) format: Format,
    /// Draw the calibration into this file, which ends in .svg; where there are several, one file each with the lot and
    /// channel in its name.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    /// Draw only the calibrations of this lot.
    #[arg(long, value_name = "LOT", requires = "figure")]
    pub(crate) lot: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct InspectArguments {
    /// Raw scan files.
    #[arg(required = true)]
    pub(crate) files: Vec<PathBuf>,
    /// Method file whose reading, technique and trust sections are used.
    #[arg(long, value_name = "METHOD")]
    pub(crate) method: Option<PathBuf>,
    /// How the result is printed.
    #[arg(long, value_enum, default_value_t = Format::Table)]
    pub(crate) format: Format,
}

#[derive(Debug, Args)]
pub(crate) struct ExplainArguments {
    /// Identity of the check, as printed beside a finding; all are listed without it.
    pub(crate) check: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct CompletionsArguments {
    /// The shell.
    #[arg(value_enum)]
    pub(crate) shell: clap_complete::Shell,
}

#[derive(Debug, Args)]
pub(crate) struct ManArguments {
    /// Folder to write into; made where it is not there.
    pub(crate) folder: PathBuf,
}

/// How a result is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For people: rounded to the uncertainty.
    Table,
    /// For machines: full precision, units in the field names.
    Json,
}

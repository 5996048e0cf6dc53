//! Every command and option, with an example each; help, man pages and completions come from here.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use stillwell_foresee::Varied;

use crate::bench_args::{PlanArguments, PrepareArguments};
use crate::device_args::{ProveArguments, TransferArguments};
use crate::study_args::StudyArguments;

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
    /// What the uncertainty of one result is made of, ranked, and how to shrink it; Monte Carlo and check standards beside it.
    #[command(after_help = "Example:\n  stillwell budget examples/alder-vale\n  \
        stillwell budget examples/alder-vale --sample AV-07 --draws 100000 --figure budget.svg\n\n\
        Without --sample the one that is too close to its limit to call is taken, else the one nearest to a limit. The page \
        also says what is not counted, what check standards show that the interval does not hold, and what a retest could do.\n\n\
        Exit code 1: the sample has no number to take apart, its verdict is withheld or not below every limit, Monte Carlo \
        disagrees, check standards show more than the budget holds, or the method is not good enough for its limit.")]
    Budget(BudgetArguments),
    /// Standard addition: the concentration in the sample's own matrix, and whether that matrix matters.
    #[command(after_help = "Example:\n  stillwell addition examples/alder-vale-addition\n  \
        stillwell addition examples/alder-vale-addition --sample AV-09 --figure addition.svg\n\n\
        The run sheet's rows have the role addition; their level is what was added, as concentration in the measured volume, 0 for \
        the sample itself. Standards of the same lot are the external calibration whose slope is compared.\n\n\
        Exit code 1: some sample is not below every limit, is refused, or has its verdict withheld; or its matrix matters, or it \
        cannot be told whether it does.")]
    Addition(AdditionArguments),
    /// Control charts of blanks, check standards, duplicates and spikes: in control or not, which rule, since when, what that withholds.
    #[command(after_help = "Example:\n  stillwell control examples/alder-vale-year\n  \
        stillwell control examples/alder-vale --training 8\n  \
        stillwell control examples/alder-vale-year --figure chart.svg\n\n\
        The method's chart_training_points says how many first points make the limits; only where it stands do charts withhold \
        verdicts. A study is taken whole, its series in the order of time, unless --series names one.\n\n\
        Exit code 1: a chart is out of control or withholds a verdict, none has points enough to be judged, one could not be made, \
        or the peak of a lot's strips left its window.")]
    Control(ControlArguments),
    /// Whether a lot of electrodes may be read off the approved calibration, adjusted or not at all; what strips scatter by.
    #[command(after_help = "Example:\n  stillwell lot examples/alder-vale-year\n  \
        stillwell lot examples/alder-vale --lot L22 --margin 5 --zero-margin 2 --figure lot.svg\n\n\
        The lot's strips at known levels (standards, check standards, controls) are read off the approved calibration. The margin \
        must be stated before: --margin, or lot_margin_percent under [calibration.acceptance].\n\n\
        Exit code 1: some lot is not shown to be equivalent.")]
    Lot(LotArguments),
    /// The validation table: each criterion with its evidence and verdict, and what would show the ones not shown.
    #[command(after_help = "Example:\n  stillwell validate examples/alder-vale-year\n  \
        stillwell validate examples/alder-vale --figure validation.svg\n\n\
        What is asked, and by whom, stands under [validation] in the method file; a number that nobody asked for is neither met nor \
        not met.\n\n\
        Exit code 1: some criterion is not met or not shown.")]
    Validate(ValidateArguments),
    /// The same waters measured by an accredited laboratory: bias, limits of agreement, what to do.
    #[command(after_help = "Example:\n  stillwell compare examples/alder-vale-year\n  \
        stillwell compare examples/alder-vale-year --with examples/alder-vale-year/comparison.csv \\\n      \
        --margin 8 --figure pairs.svg\n\n\
        Of a study, what `stillwell study laboratory` took in is compared with. Otherwise comparison.csv stands in the folder, or \
        beside the study: sample,value,unit,u (or expanded_u, k = 2), and batch where a sample was determined in several. \"<5\" \
        and \">100\" stay bounds; nothing is averaged.\n\n\
        Exit code 1: agreement is not shown, a single pair does not fit, or a result of the laboratory finds no partner.")]
    Compare(CompareArguments),
    /// Sensors that stay in the water: a station's series with gaps, stuck readings and exceedances, or a trial with response and drift.
    #[command(after_help = "Example:\n  stillwell station examples/stations/brook.csv\n  \
        stillwell station examples/stations/brook.csv --limit us-nitrate --figure brook.svg\n  \
        stillwell station examples/stations/trial.csv --figure trial.svg\n\n\
        A series: date,value,unit (and station), one line a day, \"<0.04\" for what was only found to be less; every shipped limit of the \
        same substance is counted unless --limit names some. A trial, with a level on every line: time,value,unit,level (or time_s, \
        time_min, time_h); a line without a value marks the moment at which the solution was changed. The unit names its species and \
        form, such as mg/L nitrate as N, or is that of a signal, such as µA. Nothing is mended, averaged or left out.\n\n\
        Exit code 1: a limit was exceeded or may have been, a reading is stuck, alone or far from the rest, there are too few to look \
        for that; or a sensor drifts, remembers, or does not settle.")]
    Station(StationArguments),
    /// Two minutes from nothing: an invented district's wells, simulated, determined, explained, left in a folder to play with.
    #[command(after_help = "Example:\n  stillwell tour\n  stillwell tour --out district\n\n\
        Exit code 2 where the folder is not empty: nothing is overwritten.")]
    Tour(TourArguments),
    /// A folder of simulated raw scans whose true answer is known, ready for `determine` and `calibrate`.
    #[command(
        after_help = "Example:\n  stillwell twin examples/alder-vale --cell examples/cells/copper-strip.toml --out practice\n  \
        stillwell twin examples/alder-vale --cell examples/cells/copper-strip.toml --out trial \\\n      \
        --levels 0,10,25,50,75,100 --replicates 3 --sample low=12 --sample high=80 --seed 7\n\n\
        The scans come from the twin's own physics: good for practice and for tests, never for real water. \
        TRUTH.md in the folder says what is true.\n\n\
        Exit code 2 where the folder is not empty: nothing is overwritten."
    )]
    Twin(TwinArguments),
    /// What a cell and a circuit would give with a method, before they are built: detection limit, bias, precision.
    #[command(
        after_help = "Example:\n  stillwell foresee examples/alder-vale --cell examples/cells/copper-strip.toml \\\n      \
        --circuit examples/cells/handheld.toml --trials 2\n  \
        stillwell foresee examples/alder-vale --cell examples/cells/copper-strip.toml \\\n      \
        --circuit examples/cells/handheld.toml --trials 2 --vary adc_bits=8,16 --figure trade.svg\n\n\
        Each part of the circuit is taken as perfect in turn, to see what it costs. With --vary every combination is tried, \
        and that is asked of the best and the worst.\n\n\
        Exit code 1: with some circuit no trial was calibrated."
    )]
    Foresee(ForeseeArguments),
    /// How many standards, strips and scans reach a target uncertainty, and at what cost.
    #[command(after_help = "Example:\n  stillwell plan examples/alder-vale --target-u 10% --at 50mg/L\n  \
        stillwell plan examples/alder-vale/method.toml --target-u 5% --at 11.3mgN/L \\\n      \
        --cell examples/cells/copper-strip.toml --lots 3\n  \
        stillwell plan examples/alder-vale --target-u 1% --at 50mgNO3/L\n\n\
        How strips differ comes from a folder's own standards, or from simulated lots of a cell; it is never supposed.\n\n\
        Exit code 1: no number of replicates reaches the target, or none within what is allowed.")]
    Plan(PlanArguments),
    /// A bench sheet to print: stock, dilutions, glass, the uncertainty of each level.
    #[command(
        after_help = "Example:\n  stillwell prepare examples/alder-vale --bench examples/benches/alder-vale.toml\n  \
        stillwell prepare examples/alder-vale --volume 100mL --accuracy 0.5%\n\n\
        Exit code 1: some level is known less well than the method's level_relative_u states."
    )]
    Prepare(PrepareArguments),
    /// One file that remembers everything and can show that nothing was changed: raw scans, results, who approved what.
    #[command(after_help = "Example:\n  stillwell study new wells.study --method method.toml --as ines\n  \
        stillwell study add wells.study examples/alder-vale --as ines\n  \
        stillwell study determine wells.study --as ines\n  \
        stillwell study show wells.study\n  \
        stillwell study history wells.study --of AV-02\n  \
        stillwell study verify wells.study\n\n\
        `determine`, `evaluate`, `calibrate`, `budget`, `addition`, `control`, `lot`, `validate`, `compare`, `inspect`, `plan` and \
        `prepare` take a study wherever they take a folder. \
        `stillwell study COMMAND --help` has an example of each command.")]
    Study(StudyArguments),
    /// One document, ready to print, from which an assessor sees why the numbers of a study may be believed.
    #[command(after_help = "Example:\n  stillwell dossier wells.study\n  \
        stillwell dossier wells.study --series last --out well-report.html\n\n\
        HTML with everything inside: no script, nothing from outside. The same study gives the same bytes; its date is that of the \
        newest record.\n\n\
        Exit code 1: some result in it may not be used as it stands, or there is none.")]
    Dossier(DossierArguments),
    /// A study in the browser: may I trust this number? Every link of its chain, and every act with its reason.
    #[command(after_help = "Example:\n  stillwell serve wells.study\n  \
        stillwell serve wells.study --address 127.0.0.1:8080 --key approver.key\n  \
        stillwell serve --field wells.study --address 0.0.0.0:8090\n\n\
        Prints the address to open; it holds a token of this launch, and only browsers of this computer are answered. \
        Ctrl-C ends it; whatever was recorded is kept.")]
    Serve(ServeArguments),
    /// An approved calibration as C for a small microcontroller, with scans that prove it computes the same bits.
    #[command(
        after_help = "Example:\n  stillwell transfer wells.study --out device --lot L21 --as approver --passphrase-file words.txt\n\n\
        Method revision and calibration must be approved, the lot's record known and in date. An approver's key signs the lot's record and \
        the package. What the device cannot do is refused with the alternatives and their error on this study's results.\n\n\
        Exit code 2 where the folder is not empty: nothing is overwritten."
    )]
    Transfer(TransferArguments),
    /// Shows that a device's package is as it was made, and that it computes the same 64 bits here and on an emulated Cortex-M3.
    #[command(
        after_help = "Example:\n  stillwell prove device\n  stillwell prove device --cc arm-none-eabi-gcc\n\n\
        The package itself is not touched: it is built in a folder of its own that goes afterwards. With --cc its memory, stack and \
        instructions are measured too.\n\n\
        Exit code 1: a file was changed, a signature does not hold, the lot is past its last day, or some bit differs. \
        Exit code 2: a compiler or the emulator is missing."
    )]
    Prove(ProveArguments),
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

/// Where the scans are.
#[derive(Debug, Args)]
pub(crate) struct Place {
    /// Folder with method.toml, run-sheet.csv and the raw files; or a study.
    pub(crate) folder: PathBuf,
    /// Which series of a study, as `stillwell study show` numbers it, or `last`; needed where there are several.
    #[arg(long, value_name = "N")]
    pub(crate) series: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct FolderArguments {
    #[command(flatten)]
    pub(crate) place: Place,
    #[command(flatten)]
    pub(crate) output: Output,
    /// Print the whole chain of this sample, down to file, line and hash of the raw scans.
    #[arg(long, value_name = "SAMPLE")]
    pub(crate) show_chain: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct EvaluateArguments {
    #[command(flatten)]
    pub(crate) place: Place,
    #[command(flatten)]
    pub(crate) output: Output,
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
    #[command(flatten)]
    pub(crate) place: Place,
    #[command(flatten)]
    pub(crate) output: Output,
    /// Draw the calibration into this file, which ends in .svg; where there are several, one file each with the lot and
    /// channel in its name.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    /// Draw only the calibrations of this lot.
    #[arg(long, value_name = "LOT", requires = "figure")]
    pub(crate) lot: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct BudgetArguments {
    #[command(flatten)]
    pub(crate) place: Place,
    /// The sample, as the run sheet names it.
    #[arg(long, value_name = "SAMPLE")]
    pub(crate) sample: Option<String>,
    /// Draws of Monte Carlo.
    #[arg(long, value_name = "N", default_value_t = 1_000_000, value_parser = clap::value_parser!(u32).range(10_000..=20_000_000))]
    pub(crate) draws: u32,
    /// Another seed gives other draws; the same seed gives the same digits.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Draw the ranked components into this file, which ends in .svg.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct AdditionArguments {
    #[command(flatten)]
    pub(crate) place: Place,
    /// Only the series of this sample.
    #[arg(long, value_name = "SAMPLE")]
    pub(crate) sample: Option<String>,
    /// Draw each series into this file, which ends in .svg; where there are several, one file each with the sample in its name.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ControlArguments {
    #[command(flatten)]
    pub(crate) place: Place,
    /// Points that make the limits, where the method states none; charts then withhold nothing.
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = clap::value_parser!(u32).range(8..=1000))]
    pub(crate) training: u32,
    /// Draw each chart into this file, which ends in .svg; where there are several, one file each with the chart in its name.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct LotArguments {
    #[command(flatten)]
    pub(crate) place: Place,
    /// Only this lot; without it every lot but the approved one.
    #[arg(long, value_name = "LOT")]
    pub(crate) lot: Option<String>,
    /// Lot of the approved calibration; without it that of the first accepted one.
    #[arg(long, value_name = "LOT")]
    pub(crate) approved: Option<String>,
    /// Difference of sensitivity that does not matter, in %; without it the method's `lot_margin_percent`.
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    pub(crate) margin: Option<f64>,
    /// Reading of a zero that does not matter, in the method's unit; without it the method's `lot_zero_margin`.
    #[arg(long, value_name = "LEVEL", value_parser = above_zero)]
    pub(crate) zero_margin: Option<f64>,
    /// Level of the one-point adjustment in the method's unit; without it the one with most strips.
    #[arg(long, value_name = "LEVEL", value_parser = above_zero)]
    pub(crate) level: Option<f64>,
    /// Draw the lots into this file, which ends in .svg.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ValidateArguments {
    #[command(flatten)]
    pub(crate) place: Place,
    /// Draw what check standards found, day by day, into this file, which ends in .svg.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct CompareArguments {
    #[command(flatten)]
    pub(crate) place: Place,
    /// The laboratory's results; without it what the study has on record, or comparison.csv in the folder or beside the study.
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) with: Option<PathBuf>,
    /// Bias that does not matter, in %; without it the method's `bias_percent` under `[validation]`.
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    pub(crate) margin: Option<f64>,
    /// The same in the method's unit, where differences do not grow with the level; without it --margin of the lowest limit.
    #[arg(long, value_name = "LEVEL", value_parser = above_zero)]
    pub(crate) margin_absolute: Option<f64>,
    /// Draw the pairs and their differences into this file, which ends in .svg.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct StationArguments {
    /// Files of readings, CSV with comma, semicolon or tab.
    #[arg(required = true, value_name = "FILE.csv")]
    pub(crate) files: Vec<PathBuf>,
    /// Only this station.
    #[arg(long, value_name = "NAME")]
    pub(crate) station: Option<String>,
    /// Count days above this limit, as the method file names it; may be given several times.
    #[arg(long = "limit", value_name = "LIMIT")]
    pub(crate) limits: Vec<String>,
    /// Working range that drift is related to, in the unit of the readings; without it, what the trial spans.
    #[arg(long, value_name = "LOW,HIGH", value_parser = range)]
    pub(crate) range: Option<(f64, f64)>,
    /// Draw each series, or each change of a trial, into this file, which ends in .svg; where there are several, one file each.
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) figure: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct TourArguments {
    /// Folder to write: one that is not there, or an empty one.
    #[arg(long, value_name = "FOLDER", default_value = "tour")]
    pub(crate) out: PathBuf,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct TwinArguments {
    /// Method file, or a folder with method.toml.
    pub(crate) method: PathBuf,
    /// The electrode in its electrolyte, as examples/cells/copper-strip.toml shows it.
    #[arg(long, value_name = "CELL.toml")]
    pub(crate) cell: PathBuf,
    /// What reads it, as examples/cells/handheld.toml shows it; without it, just that handheld.
    #[arg(long, value_name = "CIRCUIT.toml")]
    pub(crate) circuit: Option<PathBuf>,
    /// Levels of the standards in the method's unit; without them, the method's own.
    #[arg(long, value_name = "LEVEL,LEVEL…", value_delimiter = ',')]
    pub(crate) levels: Vec<f64>,
    /// Strips of each standard; without it, as many as the method asks for.
    #[arg(long, value_name = "N")]
    pub(crate) replicates: Option<u32>,
    /// A sample and what it truly holds in the method's unit; may be given several times. Without any, a few are invented.
    #[arg(long = "sample", value_name = "NAME=LEVEL", value_parser = sample)]
    pub(crate) samples: Vec<(String, f64)>,
    /// Another seed gives other strips and other noise; the same seed gives the same bytes.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Folder to write: one that is not there, or an empty one.
    #[arg(long, value_name = "FOLDER")]
    pub(crate) out: PathBuf,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ForeseeArguments {
    /// Method file, or a folder with method.toml.
    pub(crate) method: PathBuf,
    /// The electrode in its electrolyte, as examples/cells/copper-strip.toml shows it.
    #[arg(long, value_name = "CELL.toml")]
    pub(crate) cell: PathBuf,
    /// What reads it, as examples/cells/handheld.toml shows it.
    #[arg(long, value_name = "CIRCUIT.toml")]
    pub(crate) circuit: PathBuf,
    /// A number of the circuit and the values to try, in the unit that its key names, such as `adc_bits=10,12,16`. Given
    /// several times, every combination is tried, 64 at most.
    #[arg(long, value_name = "KEY=VALUE,VALUE…", value_parser = Varied::parse)]
    pub(crate) vary: Vec<Varied>,
    /// Trials: each with a lot and a calibration of its own.
    #[arg(long, value_name = "N", default_value_t = 12, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub(crate) trials: u32,
    /// Another seed gives other strips and other noise.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Draw the detection limit against the first varied number into this file, which ends in .svg.
    #[arg(long, value_name = "FILE.svg", requires = "vary")]
    pub(crate) figure: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// Reads a percentage above 0 and below 50, with or without its sign.
fn percent(text: &str) -> Result<f64, String> {
    let number: Option<f64> = text.trim().trim_end_matches('%').trim().parse().ok();
    let number = number.filter(|number| *number > 0.0 && *number < 50.0);
    number.ok_or_else(|| "accepted: a percentage above 0 and below 50, such as 5 or 5%".to_owned())
}

/// Reads two rising numbers.
fn range(text: &str) -> Result<(f64, f64), String> {
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|number| number.is_finite());
    let ends = text.split_once(',').and_then(|(low, high)| Some((number(low)?, number(high)?)));
    ends.filter(|(low, high)| low < high)
        .ok_or_else(|| "accepted: two rising numbers, such as 0,100".to_owned())
}

/// Reads a finite number above 0.
fn above_zero(text: &str) -> Result<f64, String> {
    let number: Option<f64> = text.trim().parse().ok();
    let number = number.filter(|number| *number > 0.0 && number.is_finite());
    number.ok_or_else(|| "accepted: a number above 0 in the method's unit".to_owned())
}

/// Reads `NAME=LEVEL`; whether a level can be is decided where it is simulated.
fn sample(text: &str) -> Result<(String, f64), String> {
    let accepted = "accepted: a name, an equals sign and a level, such as W1=12.5";
    let (name, level) = text.rsplit_once('=').ok_or_else(|| accepted.to_owned())?;
    let name = name.trim();
    if name.is_empty() || name.chars().count() > 40 || name.chars().any(char::is_control) {
        return Err("the name is empty, longer than 40 letters or not printable".to_owned());
    }
    let level = level.trim().parse().ok().ok_or_else(|| format!("\"{level}\" is no number; {accepted}"))?;
    Ok((name.to_owned(), level))
}

#[derive(Debug, Args)]
pub(crate) struct InspectArguments {
    /// Raw scan files; or a study, whose files are then read by its method.
    #[arg(required = true)]
    pub(crate) files: Vec<PathBuf>,
    /// Which series of a study, as `stillwell study show` numbers it, or `last`; needed where there are several.
    #[arg(long, value_name = "N")]
    pub(crate) series: Option<String>,
    /// Method file whose reading, technique and trust sections are used.
    #[arg(long, value_name = "METHOD")]
    pub(crate) method: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct DossierArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// Which series, as `stillwell study show` numbers it, or `last`; needed where there are several.
    #[arg(long, value_name = "N")]
    pub(crate) series: Option<String>,
    /// File to write, which ends in .html; dossier.html where none is named.
    #[arg(long, value_name = "FILE.html")]
    pub(crate) out: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ServeArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// Where to listen: an address of this computer alone, and a port; port 0 takes any free one.
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:0")]
    pub(crate) address: std::net::SocketAddr,
    /// Your own key file, where you want to sign from the page; its passphrase is asked for there, each time.
    #[arg(long, value_name = "FILE", conflicts_with = "field")]
    pub(crate) key: Option<PathBuf>,
    /// Serve the operators' pages of a campaign to paired phones instead, and nothing else; any address may be given then.
    #[arg(long)]
    pub(crate) field: bool,
    /// Which campaign, as `study show` numbers it; the last one recorded where none is named.
    #[arg(long, value_name = "N", requires = "field")]
    pub(crate) campaign: Option<String>,
    /// The address that phones ask for where a proxy stands before this server, such as `https://wells.example`.
    #[arg(long, value_name = "https://NAME", requires = "field")]
    pub(crate) origin: Option<String>,
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

/// How a result is printed, of every command that prints one.
#[derive(Debug, Clone, Copy, Args)]
pub(crate) struct Output {
    /// How the result is printed.
    #[arg(long, value_enum, default_value_t = Format::Table)]
    pub(crate) format: Format,
}

/// How a result is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For people: rounded to the uncertainty.
    Table,
    /// For machines: full precision, units in the field names.
    Json,
}

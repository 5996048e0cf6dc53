//! Options of the commands that plan a calibration and prepare its standards; see [`crate::args`] for all others.

use std::path::PathBuf;

use clap::Args;

use crate::args::Output;

#[derive(Debug, Args)]
pub(crate) struct PlanArguments {
    /// Method file, or a folder with method.toml; a folder with a run sheet also shows how strips differ.
    pub(crate) method: PathBuf,
    /// Expanded uncertainty to reach, such as 10%.
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    pub(crate) target_u: f64,
    /// At this level, such as "50 mg/L as NO3-" or "11.3 mg/L as N".
    #[arg(long, value_name = "LEVEL")]
    pub(crate) at: String,
    /// Folder whose standards show how strips differ.
    #[arg(long, value_name = "FOLDER", conflicts_with = "cell")]
    pub(crate) from: Option<PathBuf>,
    /// Let simulated lots of this cell show how strips differ, as examples/cells/copper-strip.toml describes one.
    #[arg(long, value_name = "CELL.toml")]
    pub(crate) cell: Option<PathBuf>,
    /// What reads the simulated cell; without it, the handheld of the examples.
    #[arg(long, value_name = "CIRCUIT.toml", requires = "cell")]
    pub(crate) circuit: Option<PathBuf>,
    /// Lots to simulate.
    #[arg(long, value_name = "N", default_value_t = 12, requires = "cell", value_parser = clap::value_parser!(u32).range(3..=100))]
    pub(crate) lots: u32,
    /// Another seed gives other simulated strips.
    #[arg(long, value_name = "N", default_value_t = 1, requires = "cell")]
    pub(crate) seed: u64,
    /// Samples that one calibration serves; their strips count.
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub(crate) samples: u32,
    /// Most strips for the standards of one calibration.
    #[arg(long, value_name = "N", default_value_t = 40, value_parser = clap::value_parser!(u32).range(3..=96))]
    pub(crate) strips_most: u32,
    /// Most strips for one sample.
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = clap::value_parser!(u32).range(1..=24))]
    pub(crate) sample_strips_most: u32,
    /// Most scans of one strip.
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u32).range(1..=24))]
    pub(crate) scans_most: u32,
    /// Minutes of handling for each strip, the method's waiting time not counted (2: common practice, no source).
    #[arg(long, value_name = "MINUTES", default_value_t = 2.0, value_parser = minutes)]
    pub(crate) minutes_per_strip: f64,
    /// Minutes for each scan; without it, as long as the method's technique takes.
    #[arg(long, value_name = "MINUTES", value_parser = minutes)]
    pub(crate) minutes_per_scan: Option<f64>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct PrepareArguments {
    /// Method file, or a folder with method.toml.
    pub(crate) method: PathBuf,
    /// What stands in the laboratory, as examples/benches/alder-vale.toml shows it; without it, a usual bench with class A glass.
    #[arg(long, value_name = "BENCH.toml")]
    pub(crate) bench: Option<PathBuf>,
    /// Volume needed of each level, such as 50mL, in place of the bench's.
    #[arg(long, value_name = "VOLUME", value_parser = volume_ml)]
    pub(crate) volume: Option<f64>,
    /// Largest relative standard uncertainty of a level, such as 0.5%, in place of the bench's or the method's.
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    pub(crate) accuracy: Option<f64>,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// A percentage as a fraction.
fn percent(text: &str) -> Result<f64, String> {
    let accepted = "accepted: a percentage above 0 and below 100 with its sign, such as 10%";
    let number = text.trim().strip_suffix('%').ok_or_else(|| accepted.to_owned())?;
    let value: f64 =
        number.trim().parse().ok().ok_or_else(|| format!("\"{text}\" is no number; {accepted}"))?;
    if value > 0.0 && value < 100.0 { Ok(value / 100.0) } else { Err(accepted.to_owned()) }
}

/// A volume in mL.
fn volume_ml(text: &str) -> Result<f64, String> {
    let accepted = "accepted: a volume above 0 with its unit, such as 50mL or 0.1L";
    let trimmed = text.trim();
    let (number, factor) = if let Some(number) = trimmed.strip_suffix("mL").or(trimmed.strip_suffix("ml")) {
        (number, 1.0)
    } else if let Some(number) = trimmed.strip_suffix('L') {
        (number, 1000.0)
    } else {
        return Err(accepted.to_owned());
    };
    let value: f64 =
        number.trim().parse().ok().ok_or_else(|| format!("\"{text}\" is no number; {accepted}"))?;
    if value.is_finite() && value > 0.0 { Ok(value * factor) } else { Err(accepted.to_owned()) }
}

fn minutes(text: &str) -> Result<f64, String> {
    let value = text.trim().parse().ok().filter(|value: &f64| (0.0..=1e4).contains(value));
    value.ok_or_else(|| "accepted: a number of minutes, 0 or more, such as 1.5".to_owned())
}

//! `prepare`: the bench sheet of a method's standards.

use stillwell_method::{BenchPlan, prepare};
use stillwell_report::json;
use stillwell_report::json::bench_sheets::Sheet;

use super::text_files::{bench_at, method_of};
use super::twin::name_of;
use crate::args::Format;
use crate::bench_args::PrepareArguments;
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &PrepareArguments) -> Result<(String, Outcome), Failure> {
    let (method, _) = method_of(&arguments.method)?;
    let analyte = method.analyte.reported_as.species.analyte();
    let mut plan = match &arguments.bench {
        Some(path) => bench_at(path)?,
        None => BenchPlan::usual(analyte).ok_or_else(|| Failure::NotThere {
            what: format!("there is no usual salt of {}", method.analyte.name),
            cure: "describe the bench and its salt in a file: --bench BENCH.toml; examples/benches/alder-vale.toml shows one"
                .to_owned(),
        })?,
    };
    plan.volume_ml = arguments.volume.unwrap_or(plan.volume_ml);
    plan.largest_relative_u = arguments.accuracy.or(plan.largest_relative_u);
    let preparation = prepare(&method, &plan).map_err(|error| Failure::NotThere {
        what: error.to_string(),
        cure: "change the bench (--bench), the volume (--volume) or the accuracy asked for (--accuracy)"
            .to_owned(),
    })?;
    let bench_name = arguments
        .bench
        .as_deref()
        .map_or_else(|| "a usual one (no --bench given): common practice, no source".to_owned(), name_of);
    let sheet = Sheet { method: &method, plan: &plan, preparation: &preparation, bench_name: &bench_name };
    let text = match arguments.output.format {
        Format::Table => render::bench_sheets::text(&sheet),
        Format::Json => json::text(&json::bench_sheets::of(&sheet)),
    };
    Ok((text, Outcome::attention_if(!preparation.meets_the_method())))
}

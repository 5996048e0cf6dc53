//! `transfer` and `prove` for a person.

use std::path::Path;
use stillwell_study::shell_path;

use super::wrapped;
use crate::commands::prove::{Built, Proof};
use crate::commands::transfer::{Made, Tried};

pub(crate) fn made(made: &Made, folder: &Path) -> String {
    let mut text = String::new();
    line!(text, "{}: {} files, {} bytes", folder.display(), made.n_files, made.n_bytes);
    line!(text, "  method       {}", made.method);
    line!(text, "               {}", made.method_hash);
    line!(text, "  calibration  {} of lot {}", made.calibration, made.lot);
    line!(text, "  to be used   from {} to {}", made.days[0], made.days[1]);
    let left_out = match made.recorded.n_left_out {
        0 => String::new(),
        n => format!("; {n} scans of another length are left out"),
    };
    line!(
        text,
        "  vectors      {} scans and {} samples of the study{left_out}",
        made.recorded.n_scans,
        made.recorded.n_samples
    );
    let twin = made.simulated.as_ref().map_or_else(
        || "none of the twin: it does not simulate this technique".to_owned(),
        |simulated| format!("{} scans of the twin", simulated.n_scans),
    );
    line!(text, "               {twin}");
    let stands = if made.was_there { "stood there already" } else { "signed" };
    line!(text, "  ledger       record #{}, {stands} by {}", made.record, made.signed_by);
    line!(text, "  package      {}", made.package);
    text.push('\n');
    line!(
        text,
        "{}",
        wrapped("next: ", &format!("stillwell prove {} --cc arm-none-eabi-gcc", shell_path(folder)))
    );
    text
}

/// Alternatives and their error on this study's own results.
pub(crate) fn costs(costs: &[Tried], unit: &str) -> String {
    let mut text = format!(
        "one of these in [evaluation]; their error on this study's results against those of the approved method, in {unit}:\n"
    );
    for tried in costs {
        line!(text, "    {}", tried.step);
        match &tried.found {
            Err(why) => line!(text, "      cannot be tried: {}", why.lines().next().unwrap_or_default()),
            Ok((cost, n_verdicts)) => {
                let spread =
                    cost.spread.map_or_else(|| "not known".to_owned(), |spread| format!("{spread:.2}"));
                line!(
                    text,
                    "      bias {:+.2}, spread {spread}, largest {:+.2}; {} results, {} lost, {} won, {n_verdicts} verdicts change",
                    cost.bias,
                    cost.largest,
                    cost.n,
                    cost.n_lost,
                    cost.n_won
                );
            }
        }
    }
    text.push_str(
        "    then have the revision and a new calibration approved; or leave the evaluation to the desktop",
    );
    text
}

pub(crate) fn proof(proof: &Proof, folder: &Path) -> String {
    let mut text = format!("{}\n", folder.display());
    for one in &proof.said {
        let mark = if one.holds { "  holds  " } else { "  WRONG  " };
        line!(text, "{}", wrapped(mark, &one.words));
    }
    for built in &proof.built {
        text.push_str(&of_build(built));
    }
    text.push('\n');
    let verdict = if proof.holds() {
        "proven: the same 64 bits in every vector"
    } else {
        "not proven; nothing of this may go into a device"
    };
    line!(text, "{verdict}");
    text
}

fn of_build(built: &Built) -> String {
    let mut text = format!("  {}\n", built.what);
    for run in &built.runs {
        let bits =
            if run.same() { "the same 64 bits".to_owned() } else { format!("{} differ", run.n_differing) };
        line!(
            text,
            "    {}: {} scans, {} samples, {} numbers compared: {bits}",
            run.vectors,
            run.n_scans,
            run.n_samples,
            run.n_words
        );
        for words in &run.different {
            line!(text, "{}", wrapped("      ", words));
        }
    }
    for (name, value) in &built.measured {
        line!(text, "    {name:42} {value:>9}");
    }
    text
}

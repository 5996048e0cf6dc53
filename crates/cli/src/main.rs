//! The `stillwell` command.
//!
//! In go arguments; out comes text on the standard output, what is wrong on the standard error, and an exit code
//! ([`exit::Outcome`]): 0 done, 1 done but something needs attention, 2 bad input or usage.
//!
//! Start at [`commands`]: one file a command. [`args`] holds every option with an example; [`render`] writes for people,
//! `stillwell_report::json` for machines.
//!
//! This room holds no science: what it prints was computed, judged and worded below.

mod args;
mod bench_args;
mod commands;
mod device_args;
mod exit;
mod progress;
mod render;
mod study_args;

use std::io::Write as _;
use std::process::ExitCode;

use clap::Parser as _;

use crate::args::{Arguments, Command};
use crate::exit::{Failure, Outcome};

fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // clap prints help to stdout and usage errors to stderr; nothing is left to do if that fails.
            error.print().ok();
            return if error.use_stderr() { Outcome::BadInput.code() } else { Outcome::Done.code() };
        }
    };
    match run(arguments.command) {
        Ok((text, outcome)) => print(&text, outcome),
        Err(failure) => {
            writeln!(std::io::stderr(), "{}", printable(&render::failure(&failure))).ok();
            Outcome::BadInput.code()
        }
    }
}

fn run(command: Command) -> Result<(String, Outcome), Failure> {
    match command {
        Command::Determine(arguments) => commands::determine::run(&arguments),
        Command::Inspect(arguments) => commands::inspect::run(&arguments),
        Command::Evaluate(arguments) => commands::evaluate::run(&arguments),
        Command::Calibrate(arguments) => commands::calibrate::run(&arguments),
        Command::Budget(arguments) => commands::budget::run(&arguments),
        Command::Addition(arguments) => commands::addition::run(&arguments),
        Command::Control(arguments) => commands::control::run(&arguments),
        Command::Lot(arguments) => commands::lot::run(&arguments),
        Command::Validate(arguments) => commands::validate::run(&arguments),
        Command::Compare(arguments) => commands::compare::run(&arguments),
        Command::Station(arguments) => commands::station::run(&arguments),
        Command::Tour(arguments) => commands::tour::run(&arguments),
        Command::Twin(arguments) => commands::twin::run(&arguments),
        Command::Foresee(arguments) => commands::foresee::run(&arguments),
        Command::Plan(arguments) => commands::plan::run(&arguments),
        Command::Prepare(arguments) => commands::prepare::run(&arguments),
        Command::Study(arguments) => commands::study::run(&arguments),
        Command::Dossier(arguments) => commands::dossier::run(&arguments),
        Command::Serve(arguments) => commands::serve::run(&arguments),
        Command::Transfer(arguments) => commands::transfer::run(&arguments),
        Command::Prove(arguments) => commands::prove::run(&arguments),
        Command::Explain(arguments) => commands::explain::run(&arguments),
        Command::Completions(arguments) => Ok(commands::completions::run(&arguments)),
        Command::Man(arguments) => commands::man::run(&arguments),
    }
}

/// A reader that went away (`| head`) is no failure.
fn print(text: &str, outcome: Outcome) -> ExitCode {
    let mut stdout = std::io::stdout().lock();
    match stdout.write_all(printable(text).as_bytes()).and_then(|()| stdout.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            writeln!(std::io::stderr(), "the result could not be written: {error}").ok();
            Outcome::BadInput.code()
        }
        _ => outcome.code(),
    }
}

/// Names and reasons from strangers' files must not steer a terminal: control characters are shown as `\u{fffd}`.
fn printable(text: &str) -> String {
    let is_plain = |c: char| !c.is_control() || matches!(c, '\n' | '\t');
    text.chars().map(|c| if is_plain(c) { c } else { '\u{fffd}' }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_is_printed_steers_a_terminal() {
        assert_eq!(printable("a\u{1b}[2Jb\u{9b}c\n\td"), "a\u{fffd}[2Jb\u{fffd}c\n\td");
    }
}

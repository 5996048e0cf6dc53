//! `completions`: for a shell.

use clap::CommandFactory as _;

use crate::args::{Arguments, CompletionsArguments};
use crate::exit::Outcome;

pub(crate) fn run(arguments: &CompletionsArguments) -> (String, Outcome) {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut Arguments::command(), "stillwell", &mut script);
    (String::from_utf8_lossy(&script).into_owned(), Outcome::Done)
}

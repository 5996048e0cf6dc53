//! `man`: one page for the command and one for each of its commands.

use std::fs;
use std::path::Path;

use clap::CommandFactory as _;

use crate::args::{Arguments, ManArguments};
use crate::exit::{Failure, Outcome};

pub(crate) fn run(arguments: &ManArguments) -> Result<(String, Outcome), Failure> {
    write_pages(&arguments.folder).map_err(|error| Failure::NotThere {
        what: format!("{}: {error}", arguments.folder.display()),
        cure: "name a folder that may be written to".to_owned(),
    })
}

fn write_pages(folder: &Path) -> std::io::Result<(String, Outcome)> {
    fs::create_dir_all(folder)?;
    let command = Arguments::command();
    let mut n_pages = 1;
    write_page(folder, "stillwell", command.clone())?;
    for inner in command.get_subcommands() {
        let name: &'static str = format!("stillwell-{}", inner.get_name()).leak();
        write_page(folder, name, inner.clone().name(name))?;
        n_pages += 1;
    }
    Ok((format!("{n_pages} pages written to {}\n", folder.display()), Outcome::Done))
}

fn write_page(folder: &Path, name: &str, command: clap::Command) -> std::io::Result<()> {
    let mut page = Vec::new();
    clap_mangen::Man::new(command).render(&mut page)?;
    fs::write(folder.join(format!("{name}.1")), page)
}

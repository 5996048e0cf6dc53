//! `man`: one page for the command and one for each of its commands, and for those within them.

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
    let n_pages = write_pages_of(folder, "stillwell", Arguments::command())?;
    Ok((format!("{n_pages} pages written to {}\n", folder.display()), Outcome::Done))
}

/// A command's page and those of the commands within it; says how many.
fn write_pages_of(folder: &Path, name: &str, command: clap::Command) -> std::io::Result<usize> {
    // A page's name must live as long as the program.
    let name: &'static str = name.to_owned().leak();
    let inner: Vec<clap::Command> = command.get_subcommands().cloned().collect();
    write_page(folder, name, command.name(name))?;
    let mut n_pages = 1;
    for command in inner {
        let name = format!("{name}-{}", command.get_name());
        n_pages += write_pages_of(folder, &name, command)?;
    }
    Ok(n_pages)
}

fn write_page(folder: &Path, name: &str, command: clap::Command) -> std::io::Result<()> {
    let mut page = Vec::new();
    clap_mangen::Man::new(command).render(&mut page)?;
    fs::write(folder.join(format!("{name}.1")), page)
}

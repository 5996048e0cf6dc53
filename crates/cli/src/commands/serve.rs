//! `serve`: a study in the browser, until Ctrl-C.

use std::io::Write as _;

use stillwell_web::{Serving, serve};

use crate::args::ServeArguments;
use crate::exit::{Failure, Outcome};

pub(crate) fn run(arguments: &ServeArguments) -> Result<(String, Outcome), Failure> {
    let serving = Serving { study: &arguments.study, address: arguments.address, key: arguments.key.clone() };
    serve(&serving, |address| {
        // Whoever cannot read the address sees nothing of the study; that is no reason to end.
        writeln!(std::io::stdout(), "{}", said(address)).ok();
    })?;
    Ok((String::new(), Outcome::Done))
}

fn said(address: &str) -> String {
    format!("open this address in a browser on this computer:\n\n  {address}\n\nCtrl-C ends it")
}

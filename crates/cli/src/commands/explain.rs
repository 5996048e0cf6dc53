//! `explain`: a check in words.

use stillwell_method::Check;

use crate::args::ExplainArguments;
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &ExplainArguments) -> Result<(String, Outcome), Failure> {
    let Some(id) = &arguments.check else {
        return Ok((render::checks::list(), Outcome::Done));
    };
    match Check::of_id(id) {
        Some(check) => Ok((render::checks::page(check), Outcome::Done)),
        None => Err(Failure::NotThere {
            what: format!("there is no check \"{id}\""),
            cure: "`stillwell explain` lists them all".to_owned(),
        }),
    }
}

//! `evaluate`: one line for each scan, and a figure of one of them.

use stillwell_method::{Found, Input, Report, Role, ScanLink, curves};
use stillwell_report::json;
use stillwell_report::scan_figure;

use super::figure;
use super::source::{Opened, opened};
use crate::args::{EvaluateArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &EvaluateArguments) -> Result<(String, Outcome), Failure> {
    let Opened { input, report, study } = opened(&arguments.place)?;
    let refused = report.scans.iter().any(|scan| scan.counts() && scan.is_refused());
    let mut text = match arguments.output.format {
        Format::Table => render::scans::table_for(&report),
        Format::Json => json::text(&json::study::from(json::scans::of(&report), study.as_ref())),
    };
    if let (Some(study), Format::Table) = (&study, arguments.output.format) {
        text.push_str(&render::study::beside::foot(&report, study, false));
    }
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
        let drawn = drawn(&input, &report, arguments.scan.as_deref())?;
        figure::write(path, &drawn)?;
        if arguments.output.format == Format::Table {
            text.push_str(&figure::written(std::slice::from_ref(path)));
        }
    }
    Ok((text, Outcome::attention_if(refused)))
}

fn drawn(input: &Input, report: &Report, wanted: Option<&str>) -> Result<String, Failure> {
    let place = match wanted {
        Some(name) => named(report, name)?,
        None => most_telling(report).ok_or_else(|| Failure::NotThere {
            what: "the run sheet names no scan".to_owned(),
            cure: "add a line for each scan".to_owned(),
        })?,
    };
    let curves = curves(input, report, place).ok_or_else(|| Failure::NotThere {
        what: format!("there are no curves of scan {} of the run sheet", place + 1),
        cure: "name another one by --scan FILE:N".to_owned(),
    })?;
    Ok(scan_figure(&input.method, &curves).standalone())
}

fn named(report: &Report, name: &str) -> Result<usize, Failure> {
    let is_it = |link: &ScanLink| format!("{}:{}", link.row.file, link.row.scan) == name;
    report.scans.iter().position(is_it).ok_or_else(|| {
        let example = report.scans.first().map_or("FILE:N".to_owned(), |link| {
            format!("FILE:N, such as {}:{}", link.row.file, link.row.scan)
        });
        Failure::NotThere {
            what: format!("the run sheet names no scan \"{name}\""),
            cure: format!("give raw file and number of the scan as {example}"),
        }
    })
}

/// The first refused scan; else the first standard that shows a peak; else the first standard; else the first scan.
fn most_telling(report: &Report) -> Option<usize> {
    let shows_peak =
        |link: &ScanLink| link.signal.as_ref().is_some_and(|signal| signal.found == Found::ByPeak);
    let is_standard = |link: &ScanLink| link.row.role == Role::Standard && link.counts();
    let scans = &report.scans;
    let first = |of: &dyn Fn(&ScanLink) -> bool| scans.iter().position(of);
    first(&|link| link.counts() && link.is_refused())
        .or_else(|| first(&|link| is_standard(link) && shows_peak(link)))
        .or_else(|| first(&is_standard))
        .or_else(|| first(&|_| true))
}

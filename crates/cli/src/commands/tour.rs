//! `tour`: the invented scenario simulated, determined, explained, and left in a folder to play with.

use std::path::Path;

use stillwell_folder::METHOD_FILE;
use stillwell_foresee::alder_vale;
use stillwell_method::{Input, NamedText, RawFile, Report, Role, curves, determine};
use stillwell_report::json;
use stillwell_report::json::tour::Tour;
use stillwell_report::{calibration_figure, scan_figure};
use stillwell_study::{By, Clock, Delivery, Study};

use super::new_folder;
use crate::args::{Format, TourArguments};
use crate::exit::{Failure, Outcome};
use crate::progress::{Counter, Progress};
use crate::render;

/// The well whose chain is followed, and the one that is refused.
const FOLLOWED: &str = "AV-02";
const REFUSED: &str = "AV-04";

/// The study that the tour leaves in its folder.
pub(crate) const STUDY_FILE: &str = "wells.study";

pub(crate) fn run(arguments: &TourArguments) -> Result<(String, Outcome), Failure> {
    new_folder::check_free(&arguments.out)?;
    let simulated = {
        let counter = Counter::new("simulating scan", alder_vale::n_scans() as u64);
        alder_vale::files(|| counter.step())?
    };
    let mut progress = Progress::new();
    progress.show("determining the wells");
    let input = assembled(&simulated)?;
    let report = determine(&input);
    progress.show("drawing the figures");
    let figures = figures(&input, &report);
    let tour = Tour {
        folder: &arguments.out,
        report: &report,
        figures: figures.iter().map(|file| file.name.clone()).collect(),
        followed: FOLLOWED,
        refused: REFUSED,
    };
    let printed = match arguments.output.format {
        Format::Table => render::tour::text(&tour),
        Format::Json => json::text(&json::tour::of(&tour)),
    };
    let files: Vec<RawFile> = written_by_people().into_iter().chain(simulated).chain(figures).collect();
    new_folder::write(&arguments.out, &files)?;
    progress.show("keeping it all in a study");
    study(&arguments.out)?;
    Ok((printed, Outcome::Done))
}

/// The same scans and results in one file, to be looked at in a browser.
fn study(folder: &Path) -> Result<(), Failure> {
    let by = By::new("tour", "the invented scenario, to look at")?;
    let method = alder_vale::METHOD_TEXT.text;
    let mut study = Study::create(&folder.join(STUDY_FILE), "Alder Vale", method, &by, Clock::system())?;
    let delivery = Delivery::of_folder(folder)?;
    let added = study.add(&delivery, &by, |_| {})?;
    study.determine(&added.series, &by)?;
    Ok(())
}

fn assembled(simulated: &[RawFile]) -> Result<Input, Failure> {
    let (sheets, raw): (Vec<&RawFile>, Vec<&RawFile>) =
        simulated.iter().partition(|file| file.name == stillwell_folder::RUN_SHEET_FILE);
    let sheet =
        sheets.first().map_or_else(String::new, |file| String::from_utf8_lossy(&file.bytes).into_owned());
    let raw: Vec<RawFile> = raw.into_iter().cloned().collect();
    let sheet = NamedText { name: stillwell_folder::RUN_SHEET_FILE, text: &sheet };
    Input::assemble(alder_vale::METHOD_TEXT, sheet, &raw, |_| {})
        .map_err(|found| Failure::Problems(found.problems))
}

/// The story, the method, the strip and the circuit.
fn written_by_people() -> Vec<RawFile> {
    let file = |name: &str, text: &str| RawFile { name: name.to_owned(), bytes: text.as_bytes().to_vec() };
    let (cell, circuit) = (alder_vale::CELL_TEXT, alder_vale::CIRCUIT_TEXT);
    vec![
        file("README.md", alder_vale::README),
        file(METHOD_FILE, alder_vale::METHOD_TEXT.text),
        file(&format!("cells/{}", cell.name), cell.text),
        file(&format!("cells/{}", circuit.name), circuit.text),
    ]
}

/// A scan of the followed and of the refused well, and every lot's calibration.
fn figures(input: &Input, report: &Report) -> Vec<RawFile> {
    let scan_of = |sample: &str| {
        let is_it =
            |link: &stillwell_method::ScanLink| link.row.role == Role::Sample && link.row.sample == sample;
        let place = report.scans.iter().position(is_it)?;
        let drawn = scan_figure(&input.method, &curves(input, report, place)?).standalone();
        Some(RawFile { name: format!("figures/scan-{sample}.svg"), bytes: drawn.into_bytes() })
    };
    let scans = [FOLLOWED, REFUSED].into_iter().filter_map(scan_of);
    let calibrations = report.calibrations.iter().map(|link| RawFile {
        name: format!("figures/calibration-{}.svg", link.key.lot),
        bytes: calibration_figure(&input.method, link).standalone().into_bytes(),
    });
    scans.chain(calibrations).collect()
}

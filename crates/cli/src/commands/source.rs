//! Where a command takes its scans from: a folder, or one series of a study.

use std::path::Path;

use stillwell_method::{AdditionReport, Input, Report, determine as walk_the_chain};
use stillwell_study::{Beside, Numbered, Series, Study, is_study};

use crate::args::Place;
use crate::exit::Failure;
use crate::progress::{Progress, during};

/// An input with its report, and what a study says of them where they came from one.
pub(super) struct Opened {
    pub(super) input: Input,
    pub(super) report: Report,
    pub(super) study: Option<Beside>,
}

/// Opens a place and walks the chain, with progress on the way.
pub(super) fn opened(place: &Place) -> Result<Opened, Failure> {
    if !is_a_study(&place.folder)? {
        refuse_series(place)?;
        let mut progress = Progress::new();
        let input = folder(&place.folder, &mut progress)?;
        progress.show("evaluating");
        let report = walk_the_chain(&input);
        return Ok(Opened { input, report, study: None });
    }
    let (study, series) = study_and_series(place)?;
    during("evaluating", || {
        let input = study.input(&series.record.hash)?;
        let looked = study.look(&series.record.hash, walk_the_chain(&input))?;
        let mut beside = Beside::series(&study, &series)?;
        (beside.calibrations, beside.determinations) = (looked.calibrations, looked.determinations);
        Ok(Opened { input, report: looked.report, study: Some(beside) })
    })
}

/// The input alone, for whoever walks another way than the ledger records.
pub(super) fn input_of(place: &Place) -> Result<(Input, Option<Beside>), Failure> {
    if !is_a_study(&place.folder)? {
        refuse_series(place)?;
        return Ok((folder(&place.folder, &mut Progress::new())?, None));
    }
    let (study, series) = study_and_series(place)?;
    let input = study.input(&series.record.hash)?;
    Ok((input, Some(Beside::series(&study, &series)?)))
}

pub(super) fn is_a_study(path: &Path) -> Result<bool, Failure> {
    Ok(path.is_file() && is_study(path)?)
}

/// The series that a person named: its number, `last`, or the only one.
pub(super) fn series_of(study: &Study, wanted: Option<&str>) -> Result<Numbered<Series>, Failure> {
    let all = study.series()?;
    let chosen = match wanted {
        Some("last") => all.iter().max_by_key(|one| (&one.record.at_utc, one.record.seq)),
        Some(name) => all.iter().find(|one| one.label == name),
        None if all.len() == 1 => all.first(),
        None => None,
    };
    if let Some(chosen) = chosen {
        return Ok(chosen.clone());
    }
    if all.is_empty() {
        return Err(Failure::NotThere {
            what: format!("{} holds no series yet", study.path().display()),
            cure: format!(
                "take a folder in: stillwell study add {} FOLDER --as NAME",
                study.path().display()
            ),
        });
    }
    let known: Vec<String> = all.iter().map(|one| format!("{} ({})", one.label, one.act.name)).collect();
    Err(Failure::NotThere {
        what: match wanted {
            Some(name) => format!("there is no series {name}"),
            None => format!("{} holds {} series, and this works on one", study.path().display(), all.len()),
        },
        cure: format!("name it: --series N, or --series last; there are {}", known.join(", ")),
    })
}

/// Puts among the findings of additions what lot and custody records of a study forbid.
pub(super) fn forbid(report: &mut AdditionReport, beside: &Beside) -> Result<(), Failure> {
    let study = Study::open_to_read(&beside.path)?;
    let series = series_of(&study, Some(&beside.series))?.record.hash;
    for link in &mut report.series {
        let scans = link.scans.iter().filter_map(|place| report.scans.get(*place));
        let dates: Vec<&str> = scans.map(|scan| scan.row.date.as_str()).collect();
        let forbidden = study.forbidden(&series, (&link.sample, &link.key.lot), &dates)?;
        link.findings.extend(forbidden.iter().map(|why| why.finding(&link.sample)));
    }
    Ok(())
}

fn study_and_series(place: &Place) -> Result<(Study, Numbered<Series>), Failure> {
    let study = Study::open_to_read(&place.folder)?;
    let series = series_of(&study, place.series.as_deref())?;
    Ok((study, series))
}

fn refuse_series(place: &Place) -> Result<(), Failure> {
    match &place.series {
        None => Ok(()),
        Some(_) => Err(Failure::NotThere {
            what: format!("{} is no study, and has no series to choose from", place.folder.display()),
            cure: "leave --series out, or name a study".to_owned(),
        }),
    }
}

fn folder(folder: &Path, progress: &mut Progress) -> Result<Input, Failure> {
    stillwell_folder::open(folder, |name| progress.show(&format!("reading {name}")))
        .map_err(|error| Failure::Folder { folder: folder.to_owned(), error })
}

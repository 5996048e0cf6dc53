//! Where a command takes its scans from: a folder, or one series of a study.

use std::path::Path;

use stillwell_method::{
    AdditionReport, CalibrationLink, Check, Effect, Finding, GroupKey, Input, Method, Report, Walk,
    determine as walk_the_chain,
};
use stillwell_report::json;
use stillwell_study::{Anchor, Beside, Numbered, Series, Standing, Study, is_study, shell_path};

use crate::args::Place;
use crate::exit::Failure;
use crate::progress::{Progress, during};
use crate::render;

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

/// All series of a place, walked, in the order of time.
pub(super) struct Walked {
    pub(super) method: Method,
    /// Name and report of each.
    pub(super) series: Vec<(String, Report)>,
    pub(super) study: Option<Anchor>,
    /// What the ledger says of the calibrations of each series, in the order of its report; empty for a folder.
    standings: Vec<Vec<Option<Standing>>>,
}

impl Walked {
    /// Takes calibrations that were withdrawn, replaced or refused by the approver out of use: nothing new may rest on them.
    pub(super) fn without_ended_calibrations(mut self) -> Self {
        for ((_, report), standings) in self.series.iter_mut().zip(&self.standings) {
            for (link, standing) in report.calibrations.iter_mut().zip(standings) {
                let Some(standing) = standing.as_ref().filter(|standing| !standing.counts()) else {
                    continue;
                };
                link.findings.push(Finding {
                    check: Check::CalibrationNotInForce,
                    effect: Effect::Refused,
                    subject: link.key.label(),
                    found: format!("the ledger says of this calibration: {}", standing.word()),
                    overridden: None,
                });
            }
        }
        self
    }

    /// What stands behind the first accepted calibration of a lot and channel, in words.
    pub(super) fn standing_of(&self, key: &GroupKey) -> &'static str {
        let is_it = |link: &CalibrationLink| link.key == *key && link.is_accepted();
        let found = self.series.iter().enumerate().find_map(|(nth, (_, report))| {
            let place = report.calibrations.iter().position(is_it)?;
            self.standings.get(nth).map(|standings| standings.get(place).and_then(Option::as_ref))
        });
        match found {
            None => "not approved by anybody",
            Some(None) => "not on record in the study, so not approved",
            Some(Some(standing)) => standing.word(),
        }
    }

    pub(super) fn walks(&self) -> Vec<Walk<'_>> {
        self.series.iter().map(|(name, report)| Walk { series: name, report }).collect()
    }

    pub(super) fn names(&self) -> Vec<String> {
        self.series.iter().map(|(name, _)| name.clone()).collect()
    }
}

/// Opens a folder, or a study with all its series unless one is named, and walks the chain.
pub(super) fn walked(place: &Place) -> Result<Walked, Failure> {
    if !is_a_study(&place.folder)? {
        let Opened { input, report, .. } = opened(place)?;
        let series = vec![(String::new(), report)];
        return Ok(Walked { method: input.method, series, study: None, standings: Vec::new() });
    }
    let study = Study::open_to_read(&place.folder)?;
    let chosen = match &place.series {
        Some(_) => vec![series_of(&study, place.series.as_deref())?],
        None => study.series_in_time()?,
    };
    if chosen.is_empty() {
        series_of(&study, None)?;
    }
    during("evaluating", || {
        let charts = study.chart_hold()?;
        let (mut series, mut standings) = (Vec::new(), Vec::new());
        for one in &chosen {
            let report = walk_the_chain(&study.input(&one.record.hash)?);
            let looked = study.look_beside(&one.record.hash, report, &charts)?;
            standings
                .push(looked.calibrations.into_iter().map(|found| found.map(|one| one.standing)).collect());
            series.push((one.label.clone(), looked.report));
        }
        Ok(Walked { method: study.method()?.method, series, study: Some(study.anchor()?), standings })
    })
}

/// What stands under a page, where it came from a study.
pub(super) fn foot(place: &Place, walked: &Walked) -> String {
    let foot = |anchor| render::study::beside::foot_of_series(&place.folder, &walked.names(), anchor);
    walked.study.as_ref().map_or_else(String::new, foot)
}

/// A document for machines, with the head of the ledger where it came from a study.
pub(super) fn document<T: serde::Serialize>(place: &Place, walked: &Walked, document: T) -> String {
    let names = walked.names();
    let study = walked.study.as_ref().map(|anchor| (anchor, place.folder.as_path(), names.as_slice()));
    json::text(&json::study::over_series(document, study))
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
                shell_path(study.path())
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

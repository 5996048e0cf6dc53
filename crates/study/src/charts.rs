//! Control charts over all series of a study, in the order of time, and the verdicts that they withhold.
//!
//! A series by itself rarely has the points that make a chart's limits; a study has. The charts are judged anew by the method in
//! force whenever verdicts are asked for: a point that falls out today withholds what stands since the last good one.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;
use stillwell_method::{ChartContribution, Method, Report, chart_contribution, determine, held_by_charts};

use crate::act::{AsOf, Series, Withholding};
use crate::chart_memory::{self, Contribution};
use crate::content;
use crate::day::day_of;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::numbered::Numbered;
use crate::reevaluate::Views;
use crate::result::{DeterminationResult, determination_result};
use crate::series::{OpenedSeries, Recipe};
use crate::study::{MethodRevision, Study};

/// Series and identity of a result: sample, role, batch, lot.
type Key = (Digest, [String; 4]);

/// Which results the charts over all series withhold, and why.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ChartHold {
    held: BTreeMap<Key, Vec<Withholding>>,
}

impl ChartHold {
    /// Judges the charts of walked series that stand in the order of time. A single series' own charts say it already.
    pub(crate) fn judged(method: &Method, walked: &[(Digest, &Report)]) -> Self {
        if !gates(method) || walked.len() < 2 {
            return Self::default();
        }
        let given: Vec<_> =
            walked.iter().map(|(series, report)| (*series, Arc::new(given(method, report)))).collect();
        Self::by(method, &given)
    }

    /// By what each series gives to the charts.
    fn by(method: &Method, given: &[(Digest, Arc<Contribution>)]) -> Self {
        let charts: Vec<&ChartContribution> = given.iter().map(|(_, one)| &one.charts).collect();
        let mut hold = Self::default();
        for one in held_by_charts(method, &charts) {
            let Some((series, contribution)) = given.get(one.walk) else { continue };
            let Some(identity) = contribution.results.get(one.determination) else { continue };
            let all = hold.held.entry((*series, identity.clone())).or_default();
            let what = one.withheld.words();
            let why = Withholding::ControlChart { chart: one.withheld.kind, what };
            if !all.contains(&why) {
                all.push(why);
            }
        }
        hold
    }

    /// Why a result of a series is withheld; empty where no chart withholds it.
    pub(crate) fn of(&self, series: &Digest, result: &DeterminationResult) -> &[Withholding] {
        self.held.get(&key(series, result)).map_or(&[], Vec::as_slice)
    }
}

/// Whether charts withhold at all: where the method states their training period.
fn gates(method: &Method) -> bool {
    method.calibration.acceptance.chart_training_points.is_some()
}

fn key(series: &Digest, result: &DeterminationResult) -> Key {
    let (sample, role, batch, lot) = result.identity();
    (*series, [sample, role, batch, lot].map(str::to_owned))
}

impl Study {
    /// The series in the order of time: by the first day on their run sheet, else the day on which they came in.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn series_in_time(&self) -> Result<Vec<Numbered<Series>>, StudyError> {
        let kind = self.method()?.method.analyte.reported_as;
        let mut dated = Vec::new();
        for one in self.series()? {
            let text = content::text(&self.connection, &one.act.run_sheet)?;
            let sheet = stillwell_method::RunSheet::parse("run-sheet.csv", &text, &kind);
            let rows = sheet.map(|sheet| sheet.rows).unwrap_or_default();
            let first = rows.iter().filter_map(|row| day_of(&row.date)).min();
            let first = first.or_else(|| day_of(&one.record.at_utc));
            dated.push((first.map(|day| day.to_string()), one));
        }
        // A stable sort: series of one day stand as they were taken in.
        dated.sort_by(|(a, _), (b, _)| a.cmp(b));
        Ok(dated.into_iter().map(|(_, one)| one).collect())
    }

    /// Judges the charts of all series by the method in force.
    ///
    /// Nothing is withheld where the method states no training period. With a single series the chain's own charts say it already.
    /// A series that cannot be read by the method in force adds no point; reading it says why. Asked again at the same heads of the
    /// ledgers nothing is done twice; after an act only what the act touched is walked again.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn chart_hold(&self) -> Result<Arc<ChartHold>, StudyError> {
        let revision = self.method()?;
        if !gates(&revision.method) || self.series()?.len() < 2 {
            return Ok(Arc::default());
        }
        let heads = self.heads()?;
        if let Some(known) = chart_memory::hold_at(&heads) {
            return Ok(known);
        }
        let given = self.contributions(&self.series_in_time()?, &revision)?;
        let hold = Arc::new(ChartHold::by(&revision.method, &given));
        chart_memory::keep_hold(heads, &hold);
        Ok(hold)
    }

    /// One hash over the last record of every ledger in the file.
    fn heads(&self) -> Result<Digest, StudyError> {
        let sql = "SELECT record.hash FROM record JOIN (SELECT chain, max(seq) AS last FROM record GROUP BY chain) AS newest \
                   ON record.chain = newest.chain AND record.seq = newest.last ORDER BY record.chain";
        let mut statement = self.connection.prepare(sql)?;
        let heads = statement.query_map([], |row| row.get(0))?.collect::<Result<Vec<Digest>, _>>()?;
        let joined: Vec<u8> = heads.iter().chain([&self.own]).flat_map(|head| *head.as_bytes()).collect();
        Ok(Digest::of(&joined))
    }

    /// What each series gives to the charts. Several are walked at once, unless this is in the
    /// midst of an act that no other view of the file can see yet.
    fn contributions(
        &self,
        series: &[Numbered<Series>],
        revision: &MethodRevision,
    ) -> Result<Vec<(Digest, Arc<Contribution>)>, StudyError> {
        let all: Vec<Arc<Contribution>> = if self.connection.is_autocommit() {
            let views = Views::of(self.path());
            let given =
                |one: &Numbered<Series>| views.with(|view| Ok(view.contribution(&one.record.hash, revision)));
            series.par_iter().map(given).collect::<Result<_, _>>()?
        } else {
            series.iter().map(|one| self.contribution(&one.record.hash, revision)).collect()
        };
        Ok(series.iter().map(|one| one.record.hash).zip(all).collect())
    }

    fn contribution(&self, series: &Digest, revision: &MethodRevision) -> Arc<Contribution> {
        // Whatever keeps a series from being read is told where it is read.
        let Ok((key, recipe)) = self.recipe_for_charts(series, revision) else { return Arc::default() };
        if let Some(known) = chart_memory::series_of(&key) {
            return known;
        }
        let given = match self.input_by(recipe.leaning()) {
            Ok(input) => given(&revision.method, &determine(&input)),
            Err(_) => Contribution::default(),
        };
        let given = Arc::new(given);
        chart_memory::keep_series(key, &given);
        given
    }

    pub(crate) fn walk_for_charts(
        &self,
        series: &Digest,
        revision: &MethodRevision,
    ) -> Result<Report, StudyError> {
        let (_, recipe) = self.recipe_for_charts(series, revision)?;
        Ok(determine(&self.input_by(recipe.leaning())?))
    }

    /// What a series' walk takes in, and a hash of all of it: its record stands for its files, the amended run sheet for exclusions and
    /// overrides, the borrowed calibrations for their standards as they were.
    fn recipe_for_charts(
        &self,
        series: &Digest,
        revision: &MethodRevision,
    ) -> Result<(Digest, ForCharts), StudyError> {
        let series = self.open_series(series, &revision.method)?;
        let borrowed = self.to_borrow(&series, revision)?;
        let as_of = self.amendments_now(&series.record)?;
        let mut amended = series.sheet.clone();
        self.amend(&series.record.hash, &mut amended, &as_of)?;
        let (hash, method) = (series.record.hash, revision.method.clone());
        let key = format!("{hash} {} {borrowed:?} {:?}", method.hash, amended.rows);
        Ok((Digest::of(key.as_bytes()), ForCharts { series, method, as_of, borrowed }))
    }
}

fn given(method: &Method, report: &Report) -> Contribution {
    let identity = |found| {
        let result = determination_result(report, found);
        let (sample, role, batch, lot) = result.identity();
        [sample, role, batch, lot].map(str::to_owned)
    };
    Contribution {
        charts: chart_contribution(method, report),
        results: report.determinations.iter().map(identity).collect(),
    }
}

/// What a recipe is made of, with what it leans on.
struct ForCharts {
    series: OpenedSeries,
    method: Method,
    as_of: Vec<AsOf>,
    borrowed: Vec<Digest>,
}

impl ForCharts {
    fn leaning(&self) -> Recipe<'_> {
        Recipe {
            series: self.series.clone(),
            method: self.method.clone(),
            as_of: self.as_of.clone(),
            borrowed: &self.borrowed,
            from_text: false,
        }
    }
}

//! Control charts over all series of a study, in the order of time, and the verdicts that they withhold.
//!
//! A series by itself rarely has the points that make a chart's limits; a study has. The charts are judged anew by the method in
//! force whenever verdicts are asked for: a point that falls out today withholds what stands since the last good one.

use std::collections::BTreeMap;

use stillwell_method::{Method, Report, Walk, chart_review, determine};

use crate::act::{Series, Withholding};
use crate::content;
use crate::day::day_of;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::numbered::Numbered;
use crate::result::{DeterminationResult, determination_result};
use crate::series::Recipe;
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
        let mut hold = Self::default();
        if !gates(method) || walked.len() < 2 {
            return hold;
        }
        let walks: Vec<Walk<'_>> = walked.iter().map(|(_, report)| Walk { series: "", report }).collect();
        for one in &chart_review(method, &walks, None).held {
            let Some((series, report)) = walked.get(one.walk) else { continue };
            let Some(found) = report.determinations.get(one.determination) else { continue };
            let all = hold.held.entry(key(series, &determination_result(report, found))).or_default();
            let why =
                Withholding::ControlChart { chart: one.withheld.kind.clone(), what: one.withheld.words() };
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
    /// A series that cannot be read by the method in force adds no point; reading it says why.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn chart_hold(&self) -> Result<ChartHold, StudyError> {
        let revision = self.method()?;
        if !gates(&revision.method) || self.series()?.len() < 2 {
            return Ok(ChartHold::default());
        }
        let mut walked: Vec<(Digest, Report)> = Vec::new();
        for one in self.series_in_time()? {
            if let Ok(report) = self.walk_for_charts(&one.record.hash, &revision) {
                walked.push((one.record.hash, report));
            }
        }
        let walked: Vec<(Digest, &Report)> =
            walked.iter().map(|(series, report)| (*series, report)).collect();
        Ok(ChartHold::judged(&revision.method, &walked))
    }

    pub(crate) fn walk_for_charts(
        &self,
        series: &Digest,
        revision: &MethodRevision,
    ) -> Result<Report, StudyError> {
        let series = self.open_series(series, &revision.method)?;
        let borrowed = self.to_borrow(&series, revision)?;
        let as_of = self.amendments_now(&series.record)?;
        let method = revision.method.clone();
        let recipe = Recipe { series, method, as_of, borrowed: &borrowed, from_text: false };
        Ok(determine(&self.input_by(recipe)?))
    }
}

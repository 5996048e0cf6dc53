//! Standard addition from a run sheet: each sample's series, its result in its own matrix, and whether the matrix matters.
//!
//! The rows have the role `addition`: `level` is what was added, as concentration in the measured volume (0 for the sample
//! itself), `dilution` the measured volume over the sample's volume where the addition dilutes it, `electrode` tells whether
//! electrodes were followed. Rows of other roles serve as everywhere; standards give the external calibration.

use std::collections::BTreeMap;

use stillwell_assure::Decision;
use stillwell_calibrate::{
    AdditionError, AdditionEstimate, AdditionScan, AdditionSettings, AdditionWeights, Calibration,
    LevelDeviation, MatrixComparison, MatrixDemands, USUAL_EXCLUDED_FRACTION, matrix_comparison,
    standard_addition,
};
use stillwell_quantity::Concentration;
use stillwell_stats::distributions::student_t_quantile;

use crate::addition_text;
use crate::addition_verdict::{judge, refused_by_the_scans};
use crate::batch::{Batch, batches};
use crate::blank::mean;
use crate::calibration_links::calibration_links;
use crate::conditions::temperature_correction;
use crate::determination::MethodLink;
use crate::file::{Method, WeightsPlan};
use crate::finding::{Effect, Finding, refuses};
use crate::group::group_of;
use crate::input::Input;
use crate::link::{CalibrationLink, GroupKey, ScanLink};
use crate::run_sheet::Role;
use crate::scan_links::scan_links;

/// Largest relative difference of slopes that does not matter, and the level of the tests: common practice, no source.
const MATRIX_BOUND: f64 = 0.10;
const MATRIX_ALPHA: f64 = 0.05;

/// A line that bends with a smaller probability than this is not extended, unless the method says otherwise: common practice, no source.
const USUAL_CURVATURE_ALPHA: f64 = 0.01;

/// Something to be borne in mind with a result, or the reason why there is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// What follows.
    pub effect: Effect,
    /// In words, with the numbers.
    pub words: String,
}

/// The result of one series.
#[derive(Debug, Clone, PartialEq)]
pub struct AdditionResult {
    /// Concentration of the undiluted sample.
    pub value: Concentration,
    /// Lower end of its interval, in the same unit.
    pub low: f64,
    /// Upper end of its interval, in the same unit.
    pub high: f64,
    /// The statistics behind it; its interval holds no uncertainty of the additions yet.
    pub estimate: AdditionEstimate,
}

impl AdditionResult {
    /// The larger half of the interval, so that value ± U covers it.
    pub fn expanded_u(&self) -> f64 {
        (self.high - self.value.value()).max(self.value.value() - self.low)
    }
}

/// One sample's series of additions.
#[derive(Debug, Clone)]
pub struct AdditionLink {
    /// The sample.
    pub sample: String,
    /// Batch; empty where not stated.
    pub batch: String,
    /// Lot and channel.
    pub key: GroupKey,
    /// Places of its scans in [`AdditionReport::scans`].
    pub scans: Vec<usize>,
    /// Place of the external calibration in [`AdditionReport::calibrations`], where there is one.
    pub calibration: Option<usize>,
    /// The result, unless refused.
    pub result: Option<AdditionResult>,
    /// Slope in the sample against the external calibration, where both are there.
    pub matrix: Option<MatrixComparison>,
    /// Result and matrix in sentences.
    pub sentences: Vec<String>,
    /// Refusals and cautions.
    pub remarks: Vec<Remark>,
    /// Decision against each limit of the method; open where refused. While a verdict is withheld these are not to be shown.
    pub decisions: Vec<Decision>,
    /// Checks of scans, sample, batch and line that did not pass.
    pub findings: Vec<Finding>,
}

impl AdditionLink {
    /// Whether no number is issued.
    pub fn is_refused(&self) -> bool {
        self.result.is_none()
    }

    /// Why no verdict is drawn although there is a number.
    pub fn withheld(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|finding| finding.is_in_force(Effect::Withheld))
    }
}

/// Everything that the standard additions of one input yield.
#[derive(Debug, Clone)]
pub struct AdditionReport {
    /// The revision that was used.
    pub method: MethodLink,
    /// Every scan of the run sheet, in its order.
    pub scans: Vec<ScanLink>,
    /// External calibrations.
    pub calibrations: Vec<CalibrationLink>,
    /// One for each sample, batch, lot and channel with additions, in the order of the run sheet.
    pub series: Vec<AdditionLink>,
}

/// Evaluates every series of standard additions of an input.
///
/// Signals are made as in [`crate::determine()`]; each series then stands on its own line. Its interval is widened by the
/// relative uncertainty of the additions (the method's `level_relative_u`) and the largest of the dilutions as `√(U² + (t x u)²)`. Where the input holds an accepted
/// calibration of the same lot and channel, the slopes are compared. A line that bends is not extended.
///
/// Scans, pH, chloride, conductivity and batch are checked as for a sample that is read off the calibration. What a line of
/// additions alone can hide withholds the verdict: a bend that could not be tested, a signal without analyte on which the
/// verdict hangs, a stock of additions that may be stronger than stated.
///
/// It never fails: what cannot be evaluated is refused, series by series, with the reason.
///
/// # Units
/// Concentrations in the method's reporting unit and species.
///
/// # Source
/// [`stillwell_calibrate::standard_addition`], [`stillwell_calibrate::matrix_comparison`].
pub fn addition(input: &Input) -> AdditionReport {
    let method = &input.method;
    let records = input.records();
    let (scans, standard_peaks) = scan_links(method, &records);
    let calibrations = calibration_links(method, &scans, &standard_peaks);
    let batches = batches(method, &scans, &calibrations);
    let series = addition_links(method, &scans, &calibrations, &batches);
    AdditionReport { method: MethodLink::from(method), scans, calibrations, series }
}

/// Every series, in the order of the run sheet.
pub(crate) fn addition_links(
    method: &Method,
    scans: &[ScanLink],
    calibrations: &[CalibrationLink],
    batches: &[Batch],
) -> Vec<AdditionLink> {
    let step = Step { method, scans, calibrations, batches };
    series_of(method, scans).into_iter().map(|places| step.link(places)).collect()
}

/// Places of the scans of each series, in the order of the run sheet.
fn series_of(method: &Method, scans: &[ScanLink]) -> Vec<Vec<usize>> {
    let mut order: Vec<Vec<usize>> = Vec::new();
    let mut found: BTreeMap<(&str, &str, GroupKey), usize> = BTreeMap::new();
    for (index, link) in scans.iter().enumerate().filter(|(_, link)| link.row.role == Role::Addition) {
        let key = (link.row.sample.as_str(), link.row.batch.as_str(), group_of(method, &link.row));
        let place = *found.entry(key).or_insert_with(|| {
            order.push(Vec::new());
            order.len() - 1
        });
        if let Some(series) = order.get_mut(place) {
            series.push(index);
        }
    }
    order
}

struct Step<'a> {
    method: &'a Method,
    scans: &'a [ScanLink],
    calibrations: &'a [CalibrationLink],
    batches: &'a [Batch],
}

impl Step<'_> {
    fn link(&self, places: Vec<usize>) -> AdditionLink {
        let links: Vec<&ScanLink> = places.iter().filter_map(|index| self.scans.get(*index)).collect();
        let first = links.first().map(|link| &link.row);
        let key = first.map_or_else(
            || GroupKey { lot: String::new(), channel: String::new() },
            |row| group_of(self.method, row),
        );
        let calibration = self.calibrations.iter().position(|link| link.key == key);
        let mut link = AdditionLink {
            sample: first.map_or_else(String::new, |row| row.sample.clone()),
            batch: first.map_or_else(String::new, |row| row.batch.clone()),
            key,
            scans: places,
            calibration,
            result: None,
            matrix: None,
            sentences: Vec::new(),
            remarks: Vec::new(),
            decisions: Vec::new(),
            findings: refused_by_the_scans(self.method, &links),
        };
        if !refuses(&link.findings) {
            self.fill(&mut link, &links);
        }
        let batch = self.batches.iter().find(|batch| batch.holds(&link.batch, &link.key));
        judge(self.method, batch, &links, &mut link);
        link
    }

    fn fill(&self, link: &mut AdditionLink, links: &[&ScanLink]) {
        let external = link.calibration.and_then(|place| self.calibrations.get(place));
        let usable = external.filter(|link| link.is_accepted());
        let (scans, temperature_u) = match self.addition_scans(links, usable, &mut link.remarks) {
            Ok(found) => found,
            Err(words) => return refuse(link, words),
        };
        let made = usable.and_then(|link| link.calibration.as_ref());
        let estimate = match self.estimate(&scans, made) {
            Ok(estimate) => estimate,
            Err(error) => return refuse(link, error.to_string()),
        };
        let alpha = self.method.calibration.acceptance.linearity_alpha.unwrap_or(USUAL_CURVATURE_ALPHA);
        if let Some(test) = estimate.curvature.filter(|test| test.p < alpha) {
            return refuse(link, addition_text::bent(&test, alpha));
        }
        let Some(result) = self.widened(estimate, dilution_u(links)) else {
            return refuse(link, AdditionError::OutOfRange.to_string());
        };
        link.sentences.push(addition_text::result(&link.sample, &result));
        link.remarks.extend(addition_text::cautions(&result.estimate));
        if links.iter().filter_map(|link| link.row.dilution).any(|d| d.factor > 1.0 && d.standard_u <= 0.0) {
            link.remarks.push(warned(addition_text::DILUTION_WITHOUT_U.to_owned()));
        }
        let levels_u = self.method.calibration.level_relative_u;
        let demands = MatrixDemands {
            bound: MATRIX_BOUND,
            alpha: MATRIX_ALPHA,
            ratio_relative_u: libm::sqrt(temperature_u * temperature_u + levels_u * levels_u),
        };
        match made.map(|made| matrix_comparison(&result.estimate, made, demands)) {
            Some(Ok(matrix)) => {
                link.sentences.push(addition_text::matrix(&matrix));
                link.remarks.extend(addition_text::matrix_cautions(&matrix, &result));
                link.matrix = Some(matrix);
            }
            Some(Err(error)) => link.remarks.push(warned(addition_text::not_compared(&error.to_string()))),
            None => {
                let words = addition_text::without_calibration(&link.key, external.is_some());
                link.remarks.push(warned(words));
            }
        }
        link.result = Some(result);
    }

    /// The scans at one temperature (the calibration's where there is one, else their own mean), and the largest relative
    /// uncertainty of bringing them there: it cancels in the result, not in the comparison of slopes.
    fn addition_scans(
        &self,
        links: &[&ScanLink],
        external: Option<&CalibrationLink>,
        remarks: &mut Vec<Remark>,
    ) -> Result<(Vec<AdditionScan>, f64), String> {
        let own: Vec<f64> = links.iter().filter_map(|link| link.row.temperature_c).collect();
        let at_c = external.and_then(|link| link.temperature_c).or_else(|| mean(&own));
        let mut scans = Vec::new();
        let mut largest: f64 = 0.0;
        for link in links {
            let correction = temperature_correction(self.method, &link.row, at_c)
                .map_err(|finding| finding.to_string())?;
            largest = largest.max(correction.relative_u);
            let excluded =
                link.row.exclude.clone().or_else(|| link.signal.is_none().then(|| link.why_without_signal()));
            if let (None, Some(reason)) = (&link.row.exclude, &excluded) {
                remarks.push(warned(addition_text::left_out(&link.row.scan_label(), reason)));
            }
            scans.push(AdditionScan {
                added: link.row.level_value().unwrap_or(f64::NAN),
                sample_fraction: link.row.dilution.map_or(1.0, |dilution| 1.0 / dilution.factor),
                signal_a: link.signal.as_ref().map_or(f64::NAN, |signal| correction.factor * signal.signal),
                electrode: link.row.electrode.clone(),
                label: link.row.scan_label(),
                excluded,
            });
        }
        Ok((scans, largest))
    }

    /// With the weights that the method wants: by the external variance function where there is one.
    fn estimate(
        &self,
        scans: &[AdditionScan],
        external: Option<&Calibration>,
    ) -> Result<AdditionEstimate, AdditionError> {
        let settings = |weights| AdditionSettings {
            weights,
            coverage: self.method.calibration.coverage,
            max_excluded_fraction: USUAL_EXCLUDED_FRACTION,
        };
        if self.method.calibration.weights == WeightsPlan::None {
            return standard_addition(scans, &settings(AdditionWeights::None));
        }
        let Some(external) = external else {
            return standard_addition(scans, &settings(AdditionWeights::ConstantRelativeSpread));
        };
        let first = standard_addition(scans, &settings(AdditionWeights::None))?;
        let deviations = deviations(external, &first);
        standard_addition(scans, &settings(AdditionWeights::StandardDeviations(deviations)))
    }

    fn widened(&self, estimate: AdditionEstimate, dilution_u: f64) -> Option<AdditionResult> {
        let t = student_t_quantile(0.5 + 0.5 * estimate.coverage, estimate.degrees_of_freedom as f64);
        let levels_u = self.method.calibration.level_relative_u;
        let of_additions = t * libm::sqrt(levels_u * levels_u + dilution_u * dilution_u) * estimate.value;
        let half = |own: f64| libm::sqrt(own * own + of_additions * of_additions);
        let kind = self.method.analyte.reported_as.clone();
        Some(AdditionResult {
            value: Concentration::of_kind(estimate.value, kind).ok()?,
            low: estimate.value - half(estimate.value - estimate.low),
            high: estimate.value + half(estimate.high - estimate.value),
            estimate,
        })
    }
}

/// The largest relative standard uncertainty of a dilution: vials may be off together, so it is not divided by their number.
fn dilution_u(links: &[&ScanLink]) -> f64 {
    let stated = links.iter().filter_map(|link| link.row.dilution);
    stated.map(|dilution| dilution.standard_u / dilution.factor).fold(0.0, f64::max)
}

/// The external variance function at the sample's level and the additions above it, held inside its range.
fn deviations(external: &Calibration, first: &AdditionEstimate) -> Vec<LevelDeviation> {
    let deviation = |added: &f64| {
        let relative_variance = external.curve.relative_variance_at(first.value + added);
        LevelDeviation { level: *added, standard_deviation_a: libm::sqrt(relative_variance) }
    };
    first.additions.iter().map(deviation).collect()
}

fn refuse(link: &mut AdditionLink, words: String) {
    link.remarks.push(Remark { effect: Effect::Refused, words });
}

fn warned(words: String) -> Remark {
    Remark { effect: Effect::Warned, words }
}

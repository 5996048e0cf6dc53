//! What a standard addition's verdict may rest on: its scans and sample, its batch, and what the line cannot show by itself.

use stillwell_assure::{Decision, DecisionCode, Estimate as Judged};
use stillwell_calibrate::MatrixEffect;

use crate::addition::{AdditionLink, AdditionResult};
use crate::addition_text::{self, BACKGROUND_ALPHA};
use crate::batch::Batch;
use crate::check::Check;
use crate::conditions::matrix_findings;
use crate::determination::Determination;
use crate::file::Method;
use crate::finding::{Effect, Finding};
use crate::link::ScanLink;
use crate::sample::decided;
use crate::usable::{push_once, refusal, usable_scans};

/// What scans and sample have to be said of before any line is fitted: the same as for a sample that is read off a calibration.
pub(crate) fn refused_by_the_scans(method: &Method, links: &[&ScanLink]) -> Vec<Finding> {
    let mut findings = Vec::new();
    let usable = usable_scans(links, &mut findings).unwrap_or_default();
    for link in &usable {
        for finding in matrix_findings(method, &link.row) {
            push_once(&mut findings, finding);
        }
    }
    findings.extend(temperatures_apart(method, &usable));
    findings
}

/// A correction for temperature cancels in the result only where all vials have one temperature.
fn temperatures_apart(method: &Method, links: &[&ScanLink]) -> Option<Finding> {
    let tolerance_k = method.sample.temperature.as_ref()?.tolerance_k;
    let stated = || links.iter().filter_map(|link| link.row.temperature_c);
    let (low, high) = (stated().fold(f64::INFINITY, f64::min), stated().fold(f64::NEG_INFINITY, f64::max));
    let found = addition_text::temperatures_apart(low, high, tolerance_k);
    let sample = links.first()?.row.sample.clone();
    (high - low > tolerance_k).then(|| Finding::new(Check::Temperature, Effect::Withheld, sample, found))
}

/// Decides against the method's limits, and withholds what nothing may be concluded from.
pub(crate) fn judge(method: &Method, batch: Option<&Batch>, links: &[&ScanLink], link: &mut AdditionLink) {
    if let Some(result) = &link.result
        && let Some(finding) = not_a_result(links, result)
    {
        link.findings.push(finding);
        link.result = None;
        link.matrix = None;
        link.sentences.clear();
    }
    let kind = method.analyte.reported_as.clone();
    let Some(result) = &link.result else {
        link.decisions = decided(method, &Judged::refused(kind));
        return;
    };
    link.decisions = decided(method, &judged(method, result, 0.0));
    if let (Some(batch), Some(first), Some(last)) = (batch, link.scans.first(), link.scans.last()) {
        link.findings.extend(batch.withholding(*first, *last));
    }
    link.findings.extend(bend_not_tested(&link.sample, result));
    link.findings.extend(hangs_on_the_background(method, link, result));
    link.findings.extend(stock_in_doubt(method, link, result));
}

fn judged(method: &Method, result: &AdditionResult, shift: f64) -> Judged {
    let kind = method.analyte.reported_as.clone();
    let ends = [result.low, result.value.value(), result.high].map(|end| end - shift);
    Judged::interval(kind.clone(), ends[0], ends[1], ends[2], result.estimate.coverage)
        .unwrap_or_else(|_| Judged::refused(kind))
}

/// A number that is none: wholly below zero, or made of currents without a peak.
fn not_a_result(links: &[&ScanLink], result: &AdditionResult) -> Option<Finding> {
    if result.high < 0.0 {
        let found = addition_text::below_zero(result);
        return Some(refusal(Check::NegativeResult, links, found));
    }
    let added = |link: &ScanLink| link.row.level_value().unwrap_or(0.0);
    let should_show = |link: &&&ScanLink| added(link) > 0.0 || result.low > 0.0;
    let shows_none = links.iter().filter(should_show).find(|link| {
        link.counts() && link.signal.is_some() && link.findings.iter().any(|f| f.check == Check::NoPeak)
    })?;
    let found = addition_text::no_peak(&shows_none.row.scan_label());
    Some(refusal(Check::NoPeak, links, found))
}

fn bend_not_tested(sample: &str, result: &AdditionResult) -> Option<Finding> {
    result
        .estimate
        .curvature
        .is_none()
        .then(|| Finding::new(Check::AdditionLine, Effect::Withheld, sample, addition_text::BEND_NOT_TESTED))
}

/// A signal without analyte moves the whole result; where the verdict would be another without it, there is none.
fn hangs_on_the_background(method: &Method, link: &AdditionLink, result: &AdditionResult) -> Option<Finding> {
    let background = link.matrix.as_ref()?.background;
    if background.p >= BACKGROUND_ALPHA {
        return None;
    }
    let codes = |decisions: &[Decision]| decisions.iter().map(|d| d.code).collect::<Vec<_>>();
    let without = decided(method, &judged(method, result, background.shift));
    (codes(&without) != codes(&link.decisions)).then(|| {
        let found = addition_text::hangs_on_the_background(background.shift, result);
        Finding::new(Check::AdditionLine, Effect::Withheld, &link.sample, found)
    })
}

/// A stock of additions stronger than stated makes the line too steep and the result too low. So nothing is called below where
/// the line is steeper than that of the standards, or where the calibration reads above.
fn stock_in_doubt(method: &Method, link: &AdditionLink, result: &AdditionResult) -> Option<Finding> {
    let matrix = link.matrix.as_ref()?;
    let is_below = |decision: &Decision| decision.code == DecisionCode::Below;
    let is_steeper = matrix.effect == MatrixEffect::Differs && matrix.ratio > 1.0;
    let found = if is_steeper && link.decisions.iter().any(is_below) {
        addition_text::steeper(matrix.ratio)
    } else {
        let (reading, kind) = (matrix.external_reading, method.analyte.reported_as.clone());
        let external = Judged::interval(kind, reading, reading, reading, result.estimate.coverage).ok()?;
        let external = decided(method, &external);
        let mut pairs = link.decisions.iter().zip(&external);
        pairs.find(|(own, external)| is_below(own) && external.code == DecisionCode::Above)?;
        addition_text::stands_against_the_calibration(reading, result)
    };
    Some(Finding::new(Check::AdditionLine, Effect::Withheld, &link.sample, found))
}

/// No verdict is drawn from the calibration for a sample whose own additions show that it cannot be defended there.
pub(crate) fn withhold_where_the_matrix_matters(
    additions: &[AdditionLink],
    determinations: &mut [Determination],
) {
    let shown = additions.iter().filter_map(|link| Some((link, link.matrix.as_ref()?)));
    for (link, matrix) in shown.filter(|(_, matrix)| matrix.effect == MatrixEffect::Differs) {
        let found = addition_text::matters(matrix);
        for determination in determinations.iter_mut().filter(|d| d.sample == link.sample) {
            determination.findings.push(Finding::new(
                Check::MatrixEffect,
                Effect::Withheld,
                &link.sample,
                found.clone(),
            ));
        }
    }
}

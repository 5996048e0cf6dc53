//! Determinations of one sample held against each other: duplicates, other dilutions and batches, spikes.

use crate::check::Check;
use crate::determination::{Determination, Outcome};
use crate::file::Method;
use crate::finding::{Effect, Finding};
use crate::link::ScanLink;
use crate::run_sheet::Role;

/// Sample, role, value, what was added, dilution.
type Known = (String, Role, Option<f64>, Option<f64>, f64);

/// Compares duplicates and spikes with their samples; what disagrees withholds the sample's verdict.
pub(crate) fn compare_pairs(method: &Method, scans: &[ScanLink], determinations: &mut [Determination]) {
    let plan = &method.calibration.acceptance;
    let dilution_of = |d: &Determination| {
        let row = d.scans.first().and_then(|place| scans.get(*place)).map(|link| &link.row);
        row.and_then(|row| row.dilution).map_or(1.0, |dilution| dilution.factor)
    };
    let value_of = |d: &Determination| match &d.outcome {
        Outcome::Quantified(estimate) => Some(estimate.value.value()),
        Outcome::BelowQuantification(less) | Outcome::NotDetected(less) => Some(less.estimate),
        Outcome::AboveRange(_) | Outcome::Refused => None,
    };
    let known: Vec<Known> = determinations
        .iter()
        .map(|d| {
            let added = d.added.as_ref().map(stillwell_quantity::Concentration::value);
            (d.sample.clone(), d.role, value_of(d), added, dilution_of(d))
        })
        .collect();
    let above: Vec<(String, f64)> = determinations
        .iter()
        .filter(|d| d.role != Role::Spike)
        .filter_map(|d| match &d.outcome {
            Outcome::AboveRange(above) => Some((d.sample.clone(), above.at_least.value())),
            _ => None,
        })
        .collect();
    for determination in determinations.iter_mut().filter(|d| d.role != Role::Spike) {
        let Some(own) = value_of(determination) else { continue };
        let beyond =
            above.iter().find(|(sample, at_least)| *sample == determination.sample && own < *at_least);
        if let Some((sample, at_least)) = beyond {
            let found = format!("{own:.1} here, above {at_least:.1} in another determination of this sample");
            determination.findings.push(Finding::new(
                Check::DuplicatesDisagree,
                Effect::Withheld,
                sample,
                found,
            ));
        }
        let others = known.iter().filter(|(sample, ..)| *sample == determination.sample);
        let own_dilution = dilution_of(determination);
        let mut said = Vec::new();
        for (sample, role, other, added, dilution) in others {
            let Some(other) = other else { continue };
            said.extend(match (determination.role, role, added) {
                // Itself among them; so are the same sample at another dilution and in another batch.
                (Role::Sample | Role::Duplicate, Role::Sample | Role::Duplicate, _) => {
                    let found = duplicate_finding(sample, own, *other, plan.duplicate_percent);
                    found.map(|finding| naming_dilutions(finding, own_dilution, *dilution))
                }
                (_, Role::Spike, Some(added)) => {
                    Some(spike_finding(sample, own, *other, *added, plan.spike_recovery_percent))
                }
                _ => None,
            });
        }
        determination.findings.extend(said);
    }
}

/// Two dilutions under one name are the likely cause where one of them was left out.
fn naming_dilutions(finding: Finding, own: f64, other: f64) -> Finding {
    if (own - other).abs() <= 0.0 {
        return finding;
    }
    let named = |factor: f64| if factor > 1.0 { format!("1 : {factor}") } else { "undiluted".to_owned() };
    let found = format!(
        "{}; the run sheet names it {} here and {} there: is the dilution of some rows forgotten?",
        finding.found,
        named(own),
        named(other)
    );
    Finding { found, ..finding }
}

fn duplicate_finding(sample: &str, own: f64, other: f64, limit_percent: f64) -> Option<Finding> {
    let mean = f64::midpoint(own, other);
    let percent = 100.0 * (own - other).abs() / mean;
    let exceeds = mean > 0.0 && percent > limit_percent;
    exceeds.then(|| {
        let found = format!("{own:.1} and {other:.1} differ by {percent:.1} %, limit {limit_percent} %");
        Finding::new(Check::DuplicatesDisagree, Effect::Withheld, sample, found)
    })
}

fn spike_finding(sample: &str, own: f64, spiked: f64, added: f64, [low, high]: [f64; 2]) -> Finding {
    let recovery = 100.0 * (spiked - own) / added;
    let found = format!("{recovery:.0} % of {added} recovered, accepted {low} to {high} %");
    let effect = if (low..=high).contains(&recovery) { Effect::Noted } else { Effect::Withheld };
    Finding::new(Check::SpikeRecovery, effect, sample, found)
}

//! Which scans and which calibration a sample may be read off; what they lack is said, and may condemn it.

use stillwell_calibrate::Calibration;

use crate::check::Check;
use crate::finding::{Effect, Finding};
use crate::link::{CalibrationLink, ScanLink};

/// The scans that gave a signal; what the others lack is said, and may condemn the sample.
pub(crate) fn usable_scans<'l>(
    links: &[&'l ScanLink],
    findings: &mut Vec<Finding>,
) -> Option<Vec<&'l ScanLink>> {
    let excluded: Vec<String> = links
        .iter()
        .filter_map(|link| {
            link.row.exclude.as_ref().map(|reason| format!("{} ({reason})", link.row.scan_label()))
        })
        .collect();
    if !excluded.is_empty() {
        findings.push(Finding::new(
            Check::ExcludedScans,
            Effect::Warned,
            subject(links),
            excluded.join("; "),
        ));
    }
    findings.extend(links.iter().filter(|link| !link.counts()).filter_map(|link| lopsided(link)));
    let counted: Vec<&ScanLink> = links.iter().copied().filter(|link| link.counts()).collect();
    let usable: Vec<&ScanLink> = counted.iter().copied().filter(|link| link.signal.is_some()).collect();
    let condemned = counted
        .iter()
        .flat_map(|link| &link.findings)
        .any(|finding| finding.is_in_force(Effect::Refused) && finding.check.condemns_the_sample());
    let goes_on = !condemned && !usable.is_empty();
    for finding in counted.iter().flat_map(|link| &link.findings) {
        // A scan refused is left out where others carry the sample.
        let is_left_out = goes_on && finding.is_in_force(Effect::Refused);
        let effect = if is_left_out { Effect::Warned } else { finding.effect };
        findings.push(Finding { effect, ..finding.clone() });
    }
    if counted.is_empty() {
        findings.push(refusal(
            Check::ExcludedScans,
            links,
            "every scan of this sample is excluded".to_owned(),
        ));
    }
    goes_on.then_some(usable)
}

/// Leaving out a scan that was cut at the top leaves those that read low: the number stands, but no verdict.
fn lopsided(excluded: &ScanLink) -> Option<Finding> {
    let condemning = |found: &&Finding| found.effect == Effect::Refused && found.check.condemns_the_sample();
    let found = excluded.findings.iter().find(condemning)?;
    let words = format!("the excluded scan did not pass {}: what is left may read too low", found.check.id());
    Some(Finding::new(Check::ExcludedScans, Effect::Withheld, excluded.row.scan_label(), words))
}

/// A calibration that was made and accepted.
pub(crate) fn usable_calibration<'c>(
    links: &[&ScanLink],
    calibration: Option<&'c CalibrationLink>,
    findings: &mut Vec<Finding>,
) -> Option<(&'c CalibrationLink, &'c Calibration)> {
    let Some(link) = calibration else {
        let row = links.first().map(|link| &link.row)?;
        let found = format!("no standards of lot \"{}\", channel \"{}\"", row.lot, row.channel);
        findings.push(refusal(Check::LotNotCalibrated, links, found));
        return None;
    };
    let refused: Vec<&Finding> =
        link.findings.iter().filter(|finding| finding.is_in_force(Effect::Refused)).collect();
    if !refused.is_empty() {
        findings.extend(refused.into_iter().cloned());
        return None;
    }
    // What a calibration is warned of holds for every number read off it, and what withholds it withholds them all.
    findings.extend(link.findings.iter().filter(|finding| finding.effect > Effect::Noted).cloned());
    link.calibration.as_ref().map(|made| (link, made))
}

pub(crate) fn subject(links: &[&ScanLink]) -> String {
    links.first().map_or_else(String::new, |link| link.row.sample.clone())
}

pub(crate) fn refusal(check: Check, links: &[&ScanLink], found: String) -> Finding {
    Finding::new(check, Effect::Refused, subject(links), found)
}

pub(crate) fn push_once(findings: &mut Vec<Finding>, finding: Finding) {
    if !findings.contains(&finding) {
        findings.push(finding);
    }
}

//! The laboratory that is a study: what a strip shows is what the chain makes of it, with the standards of its calibration.

use stillwell_method::{Check, Determination, Effect, Finding, Outcome, Report, Role, ScanLink};
use stillwell_study::{By, Digest, FIELD_SERIES, FieldDesk, StepFile, StepSeen};

use crate::campaign::{Campaign, Known, Well};
use crate::error::FieldError;
use crate::laboratory::Laboratory;
use crate::outcome::shown;
use crate::refusal::Refusal;
use crate::run_sheet::{self, Strip};
use crate::strip::{Living, Measured, Purpose};

/// Everything that looking at one file takes.
pub(crate) struct Chain<'a> {
    pub(crate) desk: &'a FieldDesk<'a>,
    pub(crate) campaign: &'a Campaign,
    /// Records of the lots' calibrations, in the order of the campaign's lots.
    pub(crate) calibrations: &'a [Digest],
    pub(crate) run: &'a str,
    pub(crate) by: &'a By,
    /// Why the file cannot be read, if it cannot.
    pub(crate) unreadable: Option<String>,
    /// Whether the very same bytes count already.
    pub(crate) is_known: bool,
    pub(crate) n_scans: usize,
}

impl Laboratory for Chain<'_> {
    fn take_file(&self, expected: usize) -> Result<(), Refusal> {
        if self.is_known {
            return Err(Refusal::FileUsedBefore);
        }
        if let Some(why) = &self.unreadable {
            return Err(Refusal::FileUnreadable { why: why.clone() });
        }
        if self.n_scans != expected {
            return Err(Refusal::FileOfOtherScans { found: self.n_scans, expected });
        }
        Ok(())
    }

    fn look(
        &mut self,
        well: &Known<Well>,
        purpose: &Purpose,
        measured: &Measured,
    ) -> Result<StepSeen, FieldError> {
        match purpose {
            Purpose::Control => self.control(well.get(), measured),
            Purpose::Sample(living) => self.sample(well.get(), living, measured),
            Purpose::Second(living, first) => self.second(well.get(), living, first, measured),
        }
    }
}

/// The strips of a run and what the chain makes of them.
struct Seen {
    sheet: String,
    files: Vec<StepFile>,
    calibration: Digest,
    report: Report,
}

impl Chain<'_> {
    fn control(&self, well: &Well, measured: &Measured) -> Result<StepSeen, FieldError> {
        let seen = self.seen(well, &[Strip { role: Role::ElectrodeControl, measured }])?;
        if let Some(unusable) = unusable(&seen.report, measured) {
            return Ok(unusable);
        }
        let lot = &measured.strip().lot.lot;
        let is_read_off = seen
            .report
            .calibrations
            .iter()
            .any(|link| link.is_accepted() && (link.key.lot.is_empty() || link.key.lot == *lot));
        if !is_read_off {
            return Ok(StepSeen::NotAlive {
                found: format!("there is no accepted calibration of lot {lot}"),
            });
        }
        // A borrowed batch has no control of its own, which is noted and means nothing here.
        let speaks = |finding: &&Finding| {
            finding.check == Check::ElectrodeControl
                && (finding.effect > Effect::Noted || !finding.subject.starts_with("batch "))
        };
        Ok(match seen.report.batch_findings.iter().find(speaks) {
            Some(finding) => StepSeen::NotAlive { found: finding.found.clone() },
            None => StepSeen::Alive { found: format!("{} reads its level", measured.file().name) },
        })
    }

    fn sample(&self, well: &Well, living: &Living, measured: &Measured) -> Result<StepSeen, FieldError> {
        let strips = [
            Strip { role: Role::ElectrodeControl, measured: living.control() },
            Strip { role: Role::Sample, measured },
        ];
        let seen = self.seen(well, &strips)?;
        if let Some(unusable) = unusable(&seen.report, measured) {
            return Ok(unusable);
        }
        match determination(&seen.report, Role::Sample).and_then(|found| self.once_more(found)) {
            Some(found) => Ok(StepSeen::SecondStrip { found }),
            None => self.issued(&seen),
        }
    }

    fn second(
        &self,
        well: &Well,
        living: &Living,
        first: &Measured,
        measured: &Measured,
    ) -> Result<StepSeen, FieldError> {
        let strips = |role| {
            [
                Strip { role: Role::ElectrodeControl, measured: living.control() },
                Strip { role: Role::Sample, measured: first },
                Strip { role, measured },
            ]
        };
        let apart = self.seen(well, &strips(Role::Duplicate))?;
        if let Some(unusable) = unusable(&apart.report, measured) {
            return Ok(unusable);
        }
        let both = [Role::Sample, Role::Duplicate].map(|role| determination(&apart.report, role));
        if let [Some(one), Some(other)] = both
            && let Some(found) = self.disagreement(&one.outcome, &other.outcome)
        {
            return Ok(StepSeen::Disagree { found });
        }
        self.issued(&self.seen(well, &strips(Role::Sample))?)
    }

    fn seen(&self, well: &Well, strips: &[Strip<'_>]) -> Result<Seen, FieldError> {
        let lot = strips.last().map(|strip| &strip.measured.strip().lot);
        let place = lot.and_then(|lot| self.campaign.lots.iter().position(|known| known == lot));
        let calibration = place.and_then(|place| self.calibrations.get(place)).copied();
        let calibration = calibration.ok_or_else(|| FieldError::DoesNotFit {
            found: "a lot of the campaign has no calibration on record".to_owned(),
            cure: "record the campaign anew".to_owned(),
        })?;
        let channel = self.desk.study().calibration(&calibration.to_string())?.act.result.channel;
        let sheet = run_sheet::text(self.campaign, well, &channel, self.run, strips);
        let files: Vec<StepFile> = strips.iter().map(|strip| strip.measured.file().clone()).collect();
        let report = self.desk.look_through(&sheet, &files, &calibration)?;
        Ok(Seen { sheet, files, calibration, report })
    }

    /// Records series and determination, as at the desk.
    fn issued(&self, seen: &Seen) -> Result<StepSeen, FieldError> {
        let name = format!("{FIELD_SERIES}{}", self.run);
        let (series, issued) =
            self.desk.determine(&name, &seen.sheet, &seen.files, &seen.calibration, self.by)?;
        let [one] = issued.as_slice() else {
            return Err(FieldError::Ledger { found: format!("{} results of one run", issued.len()) });
        };
        let determination = one.record;
        Ok(match shown(self.campaign, &one.act) {
            Ok(_) => StepSeen::Issued { series, determination },
            Err((check, found)) => StepSeen::Unknown { series, determination, check, found },
        })
    }

    /// Why a second strip is asked for: near the limit, since a verdict turns there; and where nothing was found, since one dead
    /// strip would look the same.
    fn once_more(&self, found: &Determination) -> Option<String> {
        let is_settled =
            |finding: &Finding| finding.is_in_force(Effect::Refused) || finding.is_in_force(Effect::Withheld);
        if found.findings.iter().any(is_settled) {
            return None;
        }
        let [low, high] = self.campaign.second.band;
        let is_open = found
            .decisions
            .iter()
            .any(|one| one.limit_id == self.campaign.limit && one.code.code() == "too-close-to-call");
        match &found.outcome {
            Outcome::Quantified(estimate) if is_open || in_band(estimate.value.value(), [low, high]) => {
                Some("near the limit".to_owned())
            }
            Outcome::BelowQuantification(less) if less.less_than.value() >= low => {
                Some("the bound reaches the band around the limit".to_owned())
            }
            Outcome::AboveRange(above) if above.at_least.value() <= high => {
                Some("the bound reaches the band around the limit".to_owned())
            }
            Outcome::NotDetected(_) => Some("nothing detected".to_owned()),
            _ => None,
        }
    }

    /// How two strips disagree, if they do.
    fn disagreement(&self, one: &Outcome, other: &Outcome) -> Option<String> {
        let most = self.campaign.second.largest_difference_percent;
        let apart = |a: f64, b: f64| {
            let percent = 100.0 * (a - b).abs() / f64::midpoint(a, b).abs();
            // What is no number does not agree.
            let agrees = percent <= most;
            (!agrees)
                .then(|| format!("{a:.1} and {b:.1} differ by {percent:.0} % of their mean, limit {most} %"))
        };
        match (one, other) {
            (Outcome::Quantified(a), Outcome::Quantified(b)) => apart(a.value.value(), b.value.value()),
            (
                Outcome::Quantified(number),
                Outcome::NotDetected(less) | Outcome::BelowQuantification(less),
            )
            | (
                Outcome::NotDetected(less) | Outcome::BelowQuantification(less),
                Outcome::Quantified(number),
            ) => {
                let (number, bound) = (number.value.value(), less.less_than.value());
                (number > bound)
                    .then(|| format!("{number:.1} on one strip, less than {bound:.1} on the other"))
            }
            (Outcome::Quantified(number), Outcome::AboveRange(above))
            | (Outcome::AboveRange(above), Outcome::Quantified(number)) => {
                let (number, bound) = (number.value.value(), above.at_least.value());
                if number < bound { apart(number, bound) } else { None }
            }
            (Outcome::AboveRange(_), Outcome::NotDetected(_) | Outcome::BelowQuantification(_))
            | (Outcome::NotDetected(_) | Outcome::BelowQuantification(_), Outcome::AboveRange(_)) => {
                Some("more than the range on one strip, next to nothing on the other".to_owned())
            }
            // Two bounds of a kind agree; what the chain refused is refused again when both are determined together.
            _ => None,
        }
    }
}

fn in_band(value: f64, [low, high]: [f64; 2]) -> bool {
    (low..=high).contains(&value)
}

/// The determination of the run's own well: a borrowed one belongs to its calibration's batch.
fn determination(report: &Report, role: Role) -> Option<&Determination> {
    report.determinations.iter().find(|found| found.role == role && found.batch.is_empty())
}

/// Why the scans of a strip cannot be used, if they cannot.
fn unusable(report: &Report, measured: &Measured) -> Option<StepSeen> {
    let links = report.scans.iter().filter(|link| link.row.file == measured.file().name);
    let links: Vec<&ScanLink> = links.collect();
    let speaks = |finding: &&Finding| {
        finding.is_in_force(Effect::Refused)
            // "Cannot be told" is no "covered".
            || finding.check == Check::DropCoverage
    };
    if let Some(finding) = links.iter().flat_map(|link| &link.findings).find(speaks) {
        return Some(StepSeen::Unusable {
            check: finding.check.id().to_owned(),
            found: finding.found.clone(),
        });
    }
    let has_signals = !links.is_empty() && links.iter().all(|link| link.signal.is_some());
    (!has_signals).then(|| StepSeen::Unusable {
        check: Check::NoPeak.id().to_owned(),
        found: "a scan of this strip gave no signal".to_owned(),
    })
}

//! Carrying a calibration to a device: what may be carried, who signs it, and the record of it.
//!
//! A device asks nobody. So only what an approver has approved leaves the study, with a last day, and the lot's record bears
//! an approver's signature.

use ed25519_dalek::Signature as Ed25519Signature;
use jiff::civil::Date;
use stillwell_method::{Input, Report, determine};

use crate::act::{Act, CalibrationAct, Lot, Signature, StudyRole, Transfer};
use crate::approve::verifying_key;
use crate::clock::stamp;
use crate::day::day_of;
use crate::error::StudyError;
use crate::hash::{Digest, Joined};
use crate::key_file::SigningPerson;
use crate::ledger::{self, By, Record};
use crate::numbered::Numbered;
use crate::result::digest_of;
use crate::study::{MethodRevision, SOFTWARE, Study};

/// What may be carried to a device today: approved, in force, and the same numbers as on record.
#[derive(Debug, Clone)]
pub struct Carriable {
    /// The method revision.
    pub revision: MethodRevision,
    /// The calibration.
    pub calibration: Numbered<CalibrationAct>,
    /// What is known of the lot.
    pub lot: Lot,
    /// Its record.
    pub lot_record: Digest,
    /// First and last day of use, `2026-05-12`.
    pub days: [String; 2],
    /// The same as days since 1970-01-01.
    pub day_numbers: [u32; 2],
    /// The series that holds the standards.
    pub input: Input,
    /// What the chain finds in it.
    pub report: Report,
    /// Place of the calibration in the report.
    pub place: usize,
}

impl Study {
    /// The calibration that a person means, shown to be one that a device may use: approved method revision and calibration, a
    /// signed record of the lot, nothing withdrawn, ended or expired, and constants that come out again to the last bit.
    ///
    /// # Errors
    /// What of this does not hold, and what to do about it.
    pub fn to_transfer(&self, lot: Option<&str>, calibration: Option<&str>) -> Result<Carriable, StudyError> {
        let revision = self.method()?;
        self.must_be_approved("method revision", &self.record(&revision.record)?, "--method")?;
        let calibration = self.chosen(&revision, lot, calibration)?;
        let named = format!("calibration {}", calibration.label);
        if calibration.act.revision != revision.record {
            return Err(StudyError::not_allowed(
                format!("{named} was made under another method revision than the one in force"),
                "determine the series again, and have the new calibration approved",
            ));
        }
        self.must_be_approved(&named, &calibration.record, &format!("--calibration {}", calibration.label))?;
        if !calibration.act.result.accepted {
            return Err(StudyError::not_allowed(
                format!("{named} did not pass its acceptance"),
                "see `stillwell calibrate` for the criterion that failed",
            ));
        }
        let (lot_record, lot) = self.signed_lot(&calibration.act.result.lot)?;
        let last_day = self.last_day(&calibration, &lot)?;
        let (input, report, place) = self.walked_again(&calibration)?;
        let first_day = first_day(&report, place, &calibration.record)?;
        if first_day > last_day {
            return Err(StudyError::not_allowed(
                format!("{named} was measured on {first_day}, after its last day of use, {last_day}"),
                "state a later last day, if that is true",
            ));
        }
        Ok(Carriable {
            day_numbers: [day_number(first_day)?, day_number(last_day)?],
            days: [first_day.to_string(), last_day.to_string()],
            revision,
            calibration,
            lot,
            lot_record,
            input,
            report,
            place,
        })
    }

    fn must_be_approved(&self, what: &str, record: &Record, option: &str) -> Result<(), StudyError> {
        let standing = self.standing(record)?;
        if standing.is_approved() {
            return Ok(());
        }
        let why = match (&standing.withdrawn, &standing.approval) {
            (Some(said), _) | (None, Some((_, said))) => format!(": {}", said.reason),
            (None, None) => String::new(),
        };
        Err(StudyError::not_allowed(
            format!("the {} is {}{why}", what.trim_start_matches("the "), standing.word()),
            format!(
                "a device carries approved things only: stillwell study approve {} {option}",
                self.path().display()
            ),
        ))
    }

    /// As named; else the newest of the lot under the method in force.
    fn chosen(
        &self,
        revision: &MethodRevision,
        lot: Option<&str>,
        name: Option<&str>,
    ) -> Result<Numbered<CalibrationAct>, StudyError> {
        if let Some(name) = name {
            let one = self.calibration(name)?;
            return match lot.filter(|lot| *lot != one.act.result.lot) {
                None => Ok(one),
                Some(lot) => Err(StudyError::not_allowed(
                    format!("calibration {} is of lot {}, not of lot {lot}", one.label, one.act.result.lot),
                    "leave one of the two out",
                )),
            };
        }
        let mut all = self.calibrations()?;
        all.retain(|one| one.act.revision == revision.record);
        let mut lots: Vec<String> = all.iter().map(|one| one.act.result.lot.clone()).collect();
        lots.sort();
        lots.dedup();
        let lot = match (lot, lots.as_slice()) {
            (Some(lot), _) => lot.to_owned(),
            (None, [only]) => only.clone(),
            (None, []) => String::new(),
            (None, several) => {
                return Err(StudyError::not_allowed(
                    format!("there are calibrations of {} lots", several.len()),
                    format!("name one with --lot: {}", several.join(", ")),
                ));
            }
        };
        let newest = all.into_iter().rfind(|one| one.act.result.lot == lot);
        newest.ok_or_else(|| StudyError::Unknown {
            what: if lot.is_empty() { "calibration".to_owned() } else { format!("calibration of lot {lot}") },
            cure: match lots.as_slice() {
                [] => "`stillwell study determine` makes one under the method in force".to_owned(),
                lots => format!("lots with one under the method in force: {}", lots.join(", ")),
            },
        })
    }

    fn signed_lot(&self, lot: &str) -> Result<(Digest, Lot), StudyError> {
        let (record, in_force) = self.lot_in_force(lot)?.ok_or_else(|| {
            let found = if lot.is_empty() {
                "the calibration names no lot".to_owned()
            } else {
                format!("nothing is known of lot {lot}: a device needs its last day of use")
            };
            StudyError::not_allowed(found, "record it: stillwell study lot")
        })?;
        let act = record.act()?;
        if !self.signature_holds(&record, &act)? {
            return Err(StudyError::damaged(format!(
                "the record of lot {lot} bears no signature that holds"
            )));
        }
        Ok((record.hash, in_force))
    }

    /// The lot's last day or the calibration's, whichever comes first; refused where it is past or something ended it.
    fn last_day(&self, calibration: &Numbered<CalibrationAct>, lot: &Lot) -> Result<Date, StudyError> {
        let today = stamp(self.clock().now());
        let today = today.get(..10).unwrap_or_default();
        let act = &calibration.act;
        let kin = self.kin(&act.series, &act.result, Some(&calibration.record.hash))?;
        let withheld = self.calibrations_withhold(Some(&calibration.record), &kin, today)?;
        if let Some(why) = withheld.first() {
            return Err(StudyError::not_allowed(
                format!("calibration {} may not be used: {}", calibration.label, why.found()),
                "calibrate anew, and have the new calibration approved",
            ));
        }
        if lot.last_day.as_str() < today {
            return Err(StudyError::not_allowed(
                format!("lot {} was to be used until {}; today is {today}", lot.lot, lot.last_day),
                "calibrate a lot that is in date",
            ));
        }
        let mut last_day = lot.last_day.clone();
        if let Some((stated, _)) = self.last_day_in_force(&calibration.record.hash)? {
            last_day = last_day.min(stated);
        }
        day_of(&last_day).ok_or_else(|| StudyError::damaged(format!("\"{last_day}\" is no day")))
    }

    /// The chain over the calibration's own series, in which it must come out as it stands on record.
    fn walked_again(
        &self,
        calibration: &Numbered<CalibrationAct>,
    ) -> Result<(Input, Report, usize), StudyError> {
        let input = self.input(&calibration.act.series)?;
        let report = determine(&input);
        let result = &calibration.act.result;
        let place = report.calibrations.iter().position(|link| {
            link.key.lot == result.lot
                && link.key.channel == result.channel
                && digest_of(&link.hash) == result.hash
        });
        let place = place.ok_or_else(|| {
            StudyError::not_allowed(
                format!("calibration {} does not come out again with the numbers on record", calibration.label),
                "something was left out or overridden since: determine the series again, and have the new calibration approved",
            )
        })?;
        Ok((input, report, place))
    }

    /// Signs bytes for a device, with the key of an approver of this study.
    ///
    /// # Errors
    /// A key that the study does not know, that is no approver's, or that was withdrawn.
    ///
    /// # Source
    /// RFC 8032, 5.1.6 (Ed25519), over the bytes themselves.
    pub fn sign_for_device(&self, person: &SigningPerson, bytes: &[u8]) -> Result<[u8; 64], StudyError> {
        self.sign(person, Some(StudyRole::Approver), &Digest::NOTHING)?;
        Ok(person.sign_bytes(bytes))
    }

    /// Records that a package was made; the very same one is recorded once. Says whether it stood there already.
    ///
    /// # Errors
    /// A key that may not sign, or a file that cannot be written.
    pub fn record_transfer(
        &mut self,
        carried: &Carriable,
        package: Digest,
        person: &SigningPerson,
        reason: &str,
    ) -> Result<(Record, bool), StudyError> {
        let by = By::new(person.name(), reason)?;
        if let Some(there) = self.transfer_of(&package)? {
            return Ok((there, true));
        }
        let mut act = Transfer {
            revision: carried.revision.record,
            calibration: carried.calibration.record.hash,
            lot: carried.lot_record,
            package,
            last_day: carried.days.last().cloned().unwrap_or_default(),
            software: SOFTWARE.to_owned(),
            signature: Signature { key: Digest::NOTHING, signature: String::new() },
        };
        let record = self.write(|transaction, study| {
            let message = transfer_message(&study.own, &act);
            act.signature = study.sign(person, Some(StudyRole::Approver), &message)?;
            study.append(transaction, &by, &Act::Transfer(act))
        })?;
        Ok((record, false))
    }

    /// The record of a package, if the study made it.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn transfer_of(&self, package: &Digest) -> Result<Option<Record>, StudyError> {
        for record in ledger::of_kind(&self.connection, &self.own, "transfer")? {
            if matches!(record.act()?, Act::Transfer(act) if act.package == *package) {
                return Ok(Some(record));
            }
        }
        Ok(None)
    }
}

/// The latest day on which the run sheet dates one of the standards; else the day on which the calibration was recorded.
fn first_day(report: &Report, place: usize, record: &Record) -> Result<Date, StudyError> {
    let standards = report.calibrations.get(place).map_or(&[][..], |link| link.standards.as_slice());
    let rows = standards.iter().filter_map(|standard| report.scans.get(*standard)).map(|link| &link.row.date);
    let latest = rows.filter_map(|date| day_of(date)).max().or_else(|| day_of(&record.at_utc));
    latest.ok_or_else(|| StudyError::damaged("a calibration without a day"))
}

/// Today as days since 1970-01-01, UTC: what a device's clock is held against.
pub fn today() -> u32 {
    let today = stamp(crate::clock::Clock::system().now());
    day_of(&today).and_then(|day| day_number(day).ok()).unwrap_or(0)
}

/// A day as people write it, `2027-03-31`, from its number since 1970-01-01.
///
/// # Example
/// ```
/// assert_eq!(stillwell_study::day_of_number(20_908), "2027-03-31");
/// ```
pub fn day_of_number(number: u32) -> String {
    let epoch = jiff::civil::date(1970, 1, 1);
    let day = epoch.checked_add(jiff::Span::new().days(i64::from(number.min(2_900_000))));
    day.map_or_else(|_beyond| format!("day {number}"), |day| day.to_string())
}

fn day_number(day: Date) -> Result<u32, StudyError> {
    let days = day.duration_since(jiff::civil::date(1970, 1, 1)).as_hours() / 24;
    u32::try_from(days).map_err(|_before| StudyError::Unsayable {
        what: "day",
        found: format!("{day} is before 1970"),
        cure: "correct the date on the run sheet",
    })
}

/// What an approver signs when a calibration is carried to a device.
pub(crate) fn transfer_message(chain: &Digest, act: &Transfer) -> Digest {
    Joined::new("stillwell study transfer 1")
        .field(chain.as_bytes())
        .field(act.revision.as_bytes())
        .field(act.calibration.as_bytes())
        .field(act.lot.as_bytes())
        .field(act.package.as_bytes())
        .field(act.last_day.as_bytes())
        .field(act.software.as_bytes())
        .digest()
}

/// Whether a key signed these very bytes: how a lot's record is held against the key that stands beside it.
///
/// # Source
/// RFC 8032, 5.1.7 (Ed25519), without weak keys and with unique encodings only.
pub fn is_signed_by(public_key: &Digest, bytes: &[u8], signature: &[u8; 64]) -> bool {
    let signature = Ed25519Signature::from_bytes(signature);
    verifying_key(public_key).is_some_and(|key| key.verify_strict(bytes, &signature).is_ok())
}

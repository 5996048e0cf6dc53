//! Verification of what records name: texts unpacked and hashed, scans hashed, results computed again.

use rusqlite::Row;
use stillwell_method::{NUMBERS, Report};

use crate::act::{Act, DeterminationAct};
use crate::content::unpack;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::numbered::named;
use crate::reading::{reading_hash, scan_hash};
use crate::result::{DeterminationResult, calibration_result, determination_result};
use crate::study::{SOFTWARE, Study};
use crate::verify::{Recompute, Recomputed, Verifier};

impl Verifier<'_> {
    /// Every text and every scan in the file, and that each is named by some record.
    pub(crate) fn contents(&mut self) {
        let seen =
            self.each("texts", "SELECT hash, n_bytes, packed, packed_hash FROM content", |this, row| {
                let hash: Digest = row.get(0)?;
                this.found.n_texts += 1;
                let packed = row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?;
                let is_kept = Digest::of(packed) == row.get(3)?
                    && unpack(row.get(1)?, packed).is_some_and(|bytes| Digest::of(&bytes) == hash);
                Ok((hash, (!is_kept).then_some("a text that it names was changed")))
            });
        let sql = "SELECT hash, key, raw, understood, n_scans FROM reading";
        let read = self.each("readings", sql, |this, row| {
            let hash: Digest = row.get(0)?;
            let scans = this.scans_of(&hash)?;
            let understood: String = row.get(3)?;
            let n_scans: i64 = row.get(4)?;
            let whole: Vec<Digest> = scans.iter().filter_map(|scan| *scan).collect();
            let is_kept = whole.len() == scans.len()
                && i64::try_from(scans.len()).is_ok_and(|n| n == n_scans)
                && reading_hash(&row.get(1)?, &row.get(2)?, &understood, whole.into_iter()) == hash;
            Ok((hash, (!is_kept).then_some("scans that it names were changed")))
        });
        for (hash, name) in std::mem::take(&mut self.first_named) {
            if !seen.contains(&hash) && !read.contains(&hash) {
                self.damage(Some(name), format!("names {}, which is missing", hash.short()));
            }
        }
    }

    /// Looks at each row of a table; gives the hashes that were there.
    fn each(
        &mut self,
        what: &str,
        sql: &str,
        mut look: impl FnMut(&mut Self, &Row<'_>) -> Result<(Digest, Option<&'static str>), StudyError>,
    ) -> std::collections::BTreeSet<Digest> {
        let mut there = std::collections::BTreeSet::new();
        let connection = &self.study.connection;
        let looked = (|| {
            let mut statement = connection.prepare(sql)?;
            let mut rows = statement.query([])?;
            while let Some(row) = rows.next()? {
                self.step();
                match look(self, row) {
                    Ok((hash, damage)) => {
                        there.insert(hash);
                        self.judge(&hash, damage);
                    }
                    Err(error) => self.damage(None, format!("one of the {what}: {error}")),
                }
            }
            Ok(())
        })();
        self.or_damage(&format!("the {what}"), looked);
        there
    }

    fn judge(&mut self, hash: &Digest, damage: Option<&'static str>) {
        match (self.first_named.get(hash).cloned(), damage) {
            (name, Some(what)) => self.damage(name, format!("{what} ({})", hash.short())),
            (None, None) => {
                self.damage(None, format!("{} stands in the file, and no record names it", hash.short()));
            }
            (Some(_), None) => {}
        }
    }

    /// The hash of each scan of a reading; none where it is not what was kept.
    fn scans_of(&mut self, reading: &Digest) -> Result<Vec<Option<Digest>>, StudyError> {
        let mut statement = self.study.connection.prepare_cached(
            "SELECT hash, ordinal, details, potential_v, current_a, forward_a, reverse_a, time_s FROM scan \
             WHERE reading = ?1 ORDER BY ordinal",
        )?;
        let mut rows = statement.query([reading])?;
        let mut scans = Vec::new();
        while let Some(row) = rows.next()? {
            let hash: Digest = row.get(0)?;
            let ordinal: i64 = row.get(1)?;
            let details = row.get_ref(2)?.as_str().map_err(rusqlite::Error::from)?;
            let mut columns = [None; 5];
            for (index, column) in (3..).zip(&mut columns) {
                *column = row.get_ref(index)?.as_blob_or_null().map_err(rusqlite::Error::from)?;
            }
            let is_next = usize::try_from(ordinal).is_ok_and(|ordinal| ordinal == scans.len() + 1);
            let is_kept = is_next && scan_hash(details, columns.into_iter()) == hash;
            scans.push(is_kept.then_some(hash));
            self.found.n_scans += 1;
        }
        Ok(scans)
    }
}

impl Study {
    /// Computes determinations again, from the raw text on.
    pub(crate) fn recompute(&self, which: &Recompute) -> Result<Vec<Recomputed>, StudyError> {
        let mut chosen = Vec::new();
        match which {
            Recompute::Nothing => return Ok(Vec::new()),
            Recompute::All => chosen = self.determinations()?,
            Recompute::Named(names) => {
                for name in names {
                    chosen.push(named(self.determinations()?, "determination", name)?);
                }
            }
        }
        // Results that were issued together are computed again together.
        let mut walked: Option<(&DeterminationAct, Result<Report, StudyError>)> = None;
        let mut recomputed = Vec::new();
        for one in &chosen {
            let (_, report) = match walked.take() {
                Some(last) if is_one_walk(last.0, &one.act) => walked.insert(last),
                _ => walked.insert((&one.act, self.report_as_issued(&one.act, true))),
            };
            let mut difference = match report {
                Ok(report) => self.difference(&one.act, report)?,
                Err(error) => Some(error.to_string()),
            };
            let is_of_other_numbers = difference.is_some() && one.act.numbers != NUMBERS;
            if let Some(found) = difference.as_mut().filter(|_| is_of_other_numbers) {
                *found = other_numbers(&one.act, found);
            }
            let sample = one.act.result.sample.clone();
            recomputed.push(Recomputed { record: one.record.hash, sample, difference, is_of_other_numbers });
        }
        Ok(recomputed)
    }

    /// What came out otherwise than issued.
    fn difference(&self, act: &DeterminationAct, report: &Report) -> Result<Option<String>, StudyError> {
        let mut results = report.determinations.iter().map(|found| determination_result(report, found));
        let Some(again) = results.find(|result| result.identity() == act.result.identity()) else {
            return Ok(Some("the sample has no determination any more".to_owned()));
        };
        match (first_difference(&act.result, &again), &act.calibration) {
            (None, Some(calibration)) => self.calibration_difference(calibration, report),
            (difference, _) => Ok(difference),
        }
    }

    fn calibration_difference(
        &self,
        calibration: &Digest,
        report: &Report,
    ) -> Result<Option<String>, StudyError> {
        let Act::Calibration(act) = self.record(calibration)?.act()? else {
            return Ok(Some("its calibration is not where it should be".to_owned()));
        };
        let is_same = report.calibrations.iter().any(|link| {
            link.key.lot == act.result.lot
                && link.key.channel == act.result.channel
                && calibration_result(report, link).constants == act.result.constants
        });
        Ok((!is_same).then(|| "the calibration has other constants".to_owned()))
    }
}

/// The chain makes other numbers since, and says so.
fn other_numbers(act: &DeterminationAct, found: &str) -> String {
    let numbers = |numbers: u32| match numbers {
        0 => "numbers of a version not stated".to_owned(),
        numbers => format!("numbers of version {numbers}"),
    };
    let (then, now) = (numbers(act.numbers), numbers(NUMBERS));
    format!("made by {} with {then}; {SOFTWARE} makes {now}, which differ: {found}", act.software)
}

/// Whether two results came out of one walk through the chain.
fn is_one_walk(one: &DeterminationAct, other: &DeterminationAct) -> bool {
    one.series == other.series
        && one.revision == other.revision
        && one.as_of == other.as_of
        && one.borrowed == other.borrowed
}

/// In which of its parts a result came out otherwise; JSON keeps every bit of a number.
fn first_difference(issued: &DeterminationResult, again: &DeterminationResult) -> Option<String> {
    if issued == again {
        return None;
    }
    let parts = |result: &DeterminationResult| {
        [
            ("the outcome", format!("{} {}", result.outcome, result.unit)),
            ("the numbers", format!("{:?}", result.numbers)),
            ("a signal", format!("{:?}", result.scans)),
            ("a decision", format!("{:?}", result.decisions)),
            ("a finding", format!("{:?}", result.findings)),
        ]
    };
    let differing = parts(issued).into_iter().zip(parts(again)).find(|((_, one), (_, other))| one != other);
    Some(match differing {
        Some(((what, issued), (_, again))) => format!("{what} differs: issued {issued}, now {again}"),
        None => "method or calibration differ".to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::Clock;
    use crate::delivery::Delivery;
    use crate::ledger::By;
    use crate::verify::{Recompute, VerifyRequest};

    /// The same result with another number, as if issued by a version that makes these numbers.
    fn issued_otherwise(study: &mut Study, act: &DeterminationAct, numbers: u32) {
        let mut act = act.clone();
        act.numbers = numbers;
        act.result.numbers.as_mut().unwrap().value += 1.0;
        study
            .record_act(
                &By::new("Ines Field", "another version").unwrap(),
                &Act::Determination(Box::new(act)),
            )
            .unwrap();
    }

    #[test]
    fn a_result_of_a_version_that_made_other_numbers_is_told_from_one_that_was_changed() {
        let folder = tempfile::tempdir().unwrap();
        let scenario = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/alder-vale");
        let method = std::fs::read_to_string(scenario.join("method.toml")).unwrap();
        let by = By::new("Ines Field", "routine").unwrap();
        let path = folder.path().join("wells.study");
        let mut study = Study::create(&path, "wells", &method, &by, Clock::system()).unwrap();
        let series = study.add(&Delivery::of_folder(&scenario).unwrap(), &by, |_| {}).unwrap().series;
        let issued = study.determine(&series, &by).unwrap().determinations;
        let of_number = issued.iter().find(|one| one.act.result.numbers.is_some()).unwrap();
        assert_eq!(of_number.act.numbers, NUMBERS);
        let all = VerifyRequest { recompute: Recompute::All, ..VerifyRequest::default() };
        assert!(study.verify(&all).unwrap().is_sound());

        issued_otherwise(&mut study, &of_number.act, 0);
        let found = study.verify(&all).unwrap();
        assert!(!found.is_sound() && found.is_only_of_other_numbers());
        let words = found.recomputed.iter().find_map(|one| one.difference.as_ref()).unwrap();
        assert!(words.contains("a version not stated") && words.contains("which differ"), "{words}");

        issued_otherwise(&mut study, &of_number.act, NUMBERS);
        let found = study.verify(&all).unwrap();
        assert!(!found.is_sound() && !found.is_only_of_other_numbers(), "that is no other version");
    }
}

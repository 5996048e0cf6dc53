//! History: who did what, when and why, and what it rests on or touches.

use std::collections::{BTreeMap, BTreeSet};

use crate::act::Act;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, Record};
use crate::standing::Standing;
use crate::study::Study;

/// One line of history.
#[derive(Debug, Clone)]
pub struct HistoryEntry {
    /// The record.
    pub record: Record,
    /// The act.
    pub act: Act,
    /// Whether it comes from a ledger that was taken in.
    pub is_foreign: bool,
    /// Records that it names: what it rests on, or what it is about.
    pub rests_on: Vec<Digest>,
    /// How a calibration or result stands now.
    pub standing: Option<Standing>,
    /// For a calibration that was withdrawn or ended: the issued results that it touches.
    pub touches: Vec<Touched>,
}

/// An issued result that something touches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Touched {
    /// Its record.
    pub record: Digest,
    /// Its sample.
    pub sample: String,
    /// How it stands now.
    pub standing: &'static str,
}

impl Study {
    /// The history, in the order of time: of everything, or of one sample with all that its results rest on.
    ///
    /// # Errors
    /// A sample that the study does not know, or a file that cannot be read.
    pub fn history(&self, of_sample: Option<&str>) -> Result<Vec<HistoryEntry>, StudyError> {
        let records = match of_sample {
            None => self.all_records()?,
            Some(sample) => self.records_of(sample)?,
        };
        records.into_iter().map(|record| self.entry(record)).collect()
    }

    fn all_records(&self) -> Result<Vec<Record>, StudyError> {
        let mut records = Vec::new();
        for chain in ledger::chains(&self.connection, &self.own)? {
            ledger::walk(&self.connection, &chain, |record| {
                records.push(record);
                Ok(())
            })?;
        }
        records.sort_by(|a, b| (&a.at_utc, a.chain, a.seq).cmp(&(&b.at_utc, b.chain, b.seq)));
        Ok(records)
    }

    fn entry(&self, record: Record) -> Result<HistoryEntry, StudyError> {
        let act = record.act()?;
        let touched = match &act {
            Act::Withdrawal(withdrawal) => Some(withdrawal.target),
            Act::Trigger(trigger) => Some(trigger.calibration),
            _ => None,
        };
        let touches = touched.map_or_else(|| Ok(Vec::new()), |target| self.touched_by(&target))?;
        Ok(HistoryEntry {
            is_foreign: record.chain != self.own,
            rests_on: act.records(),
            standing: self.entry_standing(&record, &act)?,
            touches: touches
                .into_iter()
                .map(|one| Touched {
                    record: one.record.hash,
                    sample: one.act.result.sample,
                    standing: one.standing.word(),
                })
                .collect(),
            record,
            act,
        })
    }

    /// What an approver signs has a standing from the first; a laboratory's results once they no longer count.
    fn entry_standing(&self, record: &Record, act: &Act) -> Result<Option<Standing>, StudyError> {
        match act {
            Act::Calibration(_) | Act::Determination(_) | Act::Campaign(_) => self.standing(record).map(Some),
            Act::Laboratory(_) => Ok(Some(self.standing(record)?).filter(|standing| !standing.counts())),
            _ => Ok(None),
        }
    }

    /// Records about a sample, what its results rest on, and what was said about any of these.
    fn records_of(&self, sample: &str) -> Result<Vec<Record>, StudyError> {
        let about = ledger::of_subject(&self.connection, sample)?;
        let about: Vec<Record> =
            about.into_iter().filter(|r| matches!(r.kind.as_str(), "determination" | "custody")).collect();
        if about.is_empty() {
            return Err(StudyError::Unknown {
                what: format!("result or custody of \"{sample}\""),
                cure: "name a sample as the run sheet has it; `stillwell study determine` issues results"
                    .to_owned(),
            });
        }
        let mut found: BTreeMap<Digest, Record> = BTreeMap::new();
        let mut scans: BTreeSet<(Digest, String)> = BTreeSet::new();
        let mut open: Vec<Record> = about;
        while let Some(record) = open.pop() {
            if found.contains_key(&record.hash) {
                continue;
            }
            let act = record.act()?;
            if let Act::Determination(determination) = &act {
                let own = determination.result.scans.iter();
                scans.extend(own.map(|scan| (determination.series, scan.scan.label())));
            }
            for named in act.records() {
                open.extend(ledger::by_hash(&self.connection, &named)?);
            }
            open.extend(ledger::of_subject(&self.connection, &record.hash.to_string())?);
            open.extend(self.field_records(&record, &act)?);
            found.insert(record.hash, record);
        }
        for (series, label) in scans {
            for record in self.about_a_scan(&series, &label)? {
                found.insert(record.hash, record);
            }
        }
        let mut records: Vec<Record> = found.into_values().collect();
        records.sort_by(|a, b| (&a.at_utc, a.chain, a.seq).cmp(&(&b.at_utc, b.chain, b.seq)));
        Ok(records)
    }

    /// What was said of a scan of a series, and what took it back.
    fn about_a_scan(&self, series: &Digest, label: &str) -> Result<Vec<Record>, StudyError> {
        let mut said = Vec::new();
        for record in ledger::of_subject(&self.connection, label)? {
            let is_of_series = match record.act()? {
                Act::Exclusion(act) => act.series == *series,
                Act::Override(act) => act.series == *series,
                _ => false,
            };
            if is_of_series {
                said.extend(ledger::of_subject(&self.connection, &record.hash.to_string())?);
                said.push(record);
            }
        }
        Ok(said)
    }

    /// The steps of the field run that a result came of.
    fn field_records(&self, record: &Record, act: &Act) -> Result<Vec<Record>, StudyError> {
        match act {
            Act::Determination(_) => {
                let hash = record.hash.to_string();
                ledger::of_kind_holding(&self.connection, crate::field_desk::KIND, &hash)
            }
            Act::FieldStep(step) => ledger::of_subject(&self.connection, &step.run),
            _ => Ok(Vec::new()),
        }
    }
}

//! The whole study on a page, and the ledger with the names that a person gives its records.

use std::collections::BTreeMap;

use stillwell_method::Method;

use crate::act::{Act, CalibrationAct, KeyAct, Series};
use crate::campaign::CampaignAct;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::history::HistoryEntry;
use crate::laboratory::LaboratoryAct;
use crate::ledger::Record;
use crate::numbered::Numbered;
use crate::shown::Shown;
use crate::study::{Anchor, Study};

/// The whole study on a page.
#[derive(Debug)]
pub struct Overview {
    /// The method in force.
    pub method: Method,
    /// Series, the oldest first.
    pub series: Vec<Numbered<Series>>,
    /// Calibrations on record.
    pub calibrations: Vec<Numbered<CalibrationAct>>,
    /// Until when a calibration may be used or when it ended, in words, where anybody stated it.
    pub used_until: BTreeMap<Digest, String>,
    /// Results on record.
    pub results: Vec<Shown>,
    /// Campaigns in the field.
    pub campaigns: Vec<Numbered<CampaignAct>>,
    /// Records of a laboratory's results.
    pub laboratories: Vec<Numbered<LaboratoryAct>>,
    /// Keys, with whether each is in force.
    pub keys: Vec<(Record, KeyAct, bool)>,
    /// The head of the ledger.
    pub anchor: Anchor,
}

impl Overview {
    /// Whether some result is anything but approved and below every limit, or was taken back for good.
    pub fn needs_attention(&self) -> bool {
        self.results.iter().any(Shown::needs_attention)
            || !Shown::no_longer_counting(&self.results).is_empty()
    }

    /// What a study holds now.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn of(study: &Study) -> Result<Self, StudyError> {
        Ok(Self {
            method: study.method()?.method,
            series: study.series()?,
            used_until: used_until(study)?,
            calibrations: study.calibrations()?,
            results: Shown::all(study, study.determinations()?)?,
            campaigns: study.campaigns()?,
            laboratories: study.laboratories()?,
            keys: keys(study)?,
            anchor: study.anchor()?,
        })
    }
}

fn used_until(study: &Study) -> Result<BTreeMap<Digest, String>, StudyError> {
    let mut found = BTreeMap::new();
    for one in study.calibrations()? {
        let hash = one.record.hash;
        let mut words: Vec<String> = study.calibration_last_day(&hash)?.into_iter().collect();
        words.extend(study.ended(&hash)?.map(|(on, why)| format!("ended on {on}: {why}")));
        if !words.is_empty() {
            found.insert(hash, words.join(", "));
        }
    }
    Ok(found)
}

fn keys(study: &Study) -> Result<Vec<(Record, KeyAct, bool)>, StudyError> {
    let in_force = |record: &Record| study.standing(record).map(|standing| standing.withdrawn.is_none());
    let all = study.keys()?.into_iter();
    all.map(|(record, key)| Ok((record.clone(), key, in_force(&record)?))).collect()
}

/// The ledger, and how a person names what its records speak of.
#[derive(Debug)]
pub struct History {
    /// Its records, the oldest first.
    pub entries: Vec<HistoryEntry>,
    /// Calibrations by their records.
    pub calibrations: BTreeMap<Digest, Numbered<CalibrationAct>>,
    /// Results by their records.
    pub results: BTreeMap<Digest, Shown>,
    /// The head of the ledger.
    pub anchor: Anchor,
    /// The day that stayed in force after a record whose later day does not count.
    not_extending: BTreeMap<Digest, String>,
    names: BTreeMap<Digest, String>,
    places: BTreeMap<Digest, String>,
}

impl History {
    /// The ledger, or what of it concerns one sample, calibration, lot or record.
    ///
    /// # Errors
    /// A ledger that cannot be read, or a name that nothing bears.
    pub fn of(study: &Study, wanted: Option<&str>) -> Result<Self, StudyError> {
        Self::beside(study, &Overview::of(study)?, wanted)
    }

    /// The same, where the study was looked over already.
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn beside(study: &Study, overview: &Overview, wanted: Option<&str>) -> Result<Self, StudyError> {
        let entries = study.history(wanted)?;
        let anchor = study.anchor()?;
        let mut history = Self {
            calibrations: BTreeMap::new(),
            results: BTreeMap::new(),
            not_extending: BTreeMap::new(),
            names: BTreeMap::new(),
            places: entries.iter().map(|entry| (entry.record.hash, place(entry, &anchor.chain))).collect(),
            entries,
            anchor,
        };
        history.not_extending = not_extending(study, &history.entries)?;
        for one in &overview.series {
            history.names.insert(one.record.hash, format!("series {}", one.label));
        }
        for one in &overview.calibrations {
            history.names.insert(one.record.hash, format!("calibration {}", one.label));
            history.calibrations.insert(one.record.hash, one.clone());
        }
        for shown in &overview.results {
            history.names.insert(shown.one.record.hash, format!("result {}", shown.one.label));
            history.results.insert(shown.one.record.hash, shown.clone());
        }
        for one in study.campaigns()? {
            history.names.insert(one.record.hash, format!("campaign {}", one.label));
        }
        for one in &overview.laboratories {
            history.names.insert(one.record.hash, format!("laboratory results {}", one.label));
        }
        for (record, key, _) in &overview.keys {
            history.names.insert(record.hash, format!("key of {}", key.name));
        }
        let revisions = history.entries.iter().filter(|entry| entry.record.kind == "revision");
        let revisions: Vec<Digest> = revisions.map(|entry| entry.record.hash).collect();
        history.names.extend(revisions.into_iter().map(|hash| (hash, "method".to_owned())));
        Ok(history)
    }

    /// The day that stayed in force where a record states a later one that no approver signed.
    pub fn not_extending(&self, hash: &Digest) -> Option<&str> {
        self.not_extending.get(hash).map(String::as_str)
    }

    /// A record as a person names it, `calibration 2 (#11)`.
    pub fn name(&self, hash: &Digest) -> String {
        match (self.names.get(hash), self.places.get(hash)) {
            (Some(name), Some(place)) => format!("{name} ({place})"),
            (Some(name), None) => name.clone(),
            (None, Some(place)) => place.clone(),
            (None, None) => format!("record {}", hash.short()),
        }
    }

    /// The name without its place.
    pub fn name_alone(&self, hash: &Digest) -> String {
        self.names.get(hash).cloned().unwrap_or_else(|| format!("record {}", hash.short()))
    }
}

fn not_extending(study: &Study, entries: &[HistoryEntry]) -> Result<BTreeMap<Digest, String>, StudyError> {
    let mut found = BTreeMap::new();
    for entry in entries {
        let hash = entry.record.hash;
        let (stated, in_force) = match &entry.act {
            Act::Validity(act) => {
                let days = study.last_days(&act.calibration)?.into_iter();
                (&act.last_day, days.filter(|(record, ..)| *record == hash).map(|(_, day, _)| day).next())
            }
            Act::Lot(act) => {
                let lots = study.lots(&act.lot)?.into_iter();
                (&act.last_day, lots.filter(|(one, _)| one.hash == hash).map(|(_, lot)| lot.last_day).next())
            }
            _ => continue,
        };
        if let Some(day) = in_force.filter(|day| day != stated) {
            found.insert(hash, day);
        }
    }
    Ok(found)
}

fn place(entry: &HistoryEntry, own: &Digest) -> String {
    let record = &entry.record;
    if record.chain == *own {
        format!("#{}", record.seq)
    } else {
        format!("{} #{}", record.chain.short(), record.seq)
    }
}

//! What the ledger says beside a series that was walked: its calibrations and their kin, lots, custody. What many samples
//! share is asked once.

use std::collections::BTreeMap;

use stillwell_method::{Determination, NUMBERS};

use crate::act::{DeterminationAct, Lot, Withholding};
use crate::charts::ChartHold;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::issue::{Walked, as_custody};
use crate::ledger::Record;
use crate::result::DeterminationResult;
use crate::study::{SOFTWARE, Study};
use crate::validity::{Circumstances, measured_on};

/// The ledger beside one walk.
pub(crate) struct Surroundings<'a> {
    study: &'a Study,
    walked: &'a Walked,
    /// Records of the report's calibrations, in its order.
    calibrations: &'a [Option<Record>],
    charts: &'a ChartHold,
    /// Other calibrations from the same standards, for each.
    kin: Vec<Vec<Record>>,
    lots: BTreeMap<&'a str, Option<(Digest, Lot)>>,
    /// What was said of a calibration, by its place and the day of the measurement.
    said: BTreeMap<(usize, String), Vec<Withholding>>,
}

impl<'a> Surroundings<'a> {
    pub(crate) fn of(
        study: &'a Study,
        walked: &'a Walked,
        calibrations: &'a [Option<Record>],
        charts: &'a ChartHold,
    ) -> Result<Self, StudyError> {
        let kin = study.kin_of(walked, calibrations)?;
        Ok(Self { study, walked, calibrations, charts, kin, lots: BTreeMap::new(), said: BTreeMap::new() })
    }

    /// The act as it would be recorded; what it replaces is not yet known.
    pub(crate) fn act(
        &mut self,
        found: &'a Determination,
        result: &DeterminationResult,
    ) -> Result<DeterminationAct, StudyError> {
        let (walked, charts) = (self.walked, self.charts);
        let measured = measured_on(&walked.report, found, &walked.series);
        let of_calibration = self.of_calibration(found, &measured)?;
        let custody = self.study.last_about(&found.sample, "custody")?;
        let custody_act = custody.as_ref().map(Record::act).transpose()?;
        let lot = self.lot(&found.lot)?;
        let mut withheld = Study::withholdings(Circumstances {
            measured,
            of_calibration,
            lot: lot.map(|(_, act)| act),
            custody: custody_act.as_ref().and_then(as_custody),
        });
        withheld.extend(charts.of(&walked.series.hash, result).iter().cloned());
        let lot = lot.map(|(record, _)| *record);
        let calibration = found.calibration.and_then(|place| self.calibrations.get(place)?.as_ref());
        Ok(DeterminationAct {
            series: walked.series.hash,
            revision: walked.revision,
            calibration: calibration.map(|record| record.hash),
            borrowed: walked.borrowed.clone(),
            as_of: walked.as_of.clone(),
            lot,
            custody: custody.map(|record| record.hash),
            result: result.clone(),
            withheld,
            replaces: None,
            software: SOFTWARE.to_owned(),
            numbers: NUMBERS,
        })
    }

    fn of_calibration(
        &mut self,
        found: &Determination,
        measured: &str,
    ) -> Result<Vec<Withholding>, StudyError> {
        let Some(place) = found.calibration else { return Ok(Vec::new()) };
        let key = (place, measured.to_owned());
        if let Some(said) = self.said.get(&key) {
            return Ok(said.clone());
        }
        let calibration = self.calibrations.get(place).and_then(Option::as_ref);
        let kin = self.kin.get(place).map_or(&[][..], Vec::as_slice);
        let said = self.study.calibrations_withhold(calibration, kin, measured)?;
        self.said.insert(key, said.clone());
        Ok(said)
    }

    /// The last record of a lot.
    fn lot(&mut self, name: &'a str) -> Result<Option<&(Digest, Lot)>, StudyError> {
        if !self.lots.contains_key(name) {
            let known = self.study.lot_in_force(name)?.map(|(record, act)| (record.hash, act));
            self.lots.insert(name, known);
        }
        Ok(self.lots.get(name).and_then(Option::as_ref))
    }
}

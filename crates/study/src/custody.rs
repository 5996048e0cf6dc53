//! Where a sample comes from: taken where, when and by whom, how preserved, how long it may wait.

use crate::act::{Act, Custody};
use crate::day::moment_of;
use crate::error::StudyError;
use crate::ledger::{By, Record, said};
use crate::study::Study;

impl Study {
    /// Records a sample's custody. The last record counts; results issued before keep naming the one they used.
    ///
    /// # Errors
    /// A blank field, a moment that is none, or a holding time that is not positive.
    pub fn record_custody(&mut self, custody: &Custody, by: &By) -> Result<Record, StudyError> {
        let field = |what, text: &str, cure| said(what, text, 500, cure);
        let act = Custody {
            sample: field("sample", &custody.sample, "the sample as the run sheet has it")?,
            place: field("place", &custody.place, "where it was taken")?,
            taken: field("taken", &custody.taken, "when it was taken")?,
            taken_by: field("taken by", &custody.taken_by, "who took it")?,
            preservation: field("preservation", &custody.preservation, "how it was preserved, or \"none\"")?,
            holding_time_h: custody.holding_time_h,
            dilution: field("dilution", &custody.dilution, "how it was diluted, or \"none\"")?,
        };
        if moment_of(&act.taken).is_none() {
            return Err(StudyError::Unsayable {
                what: "taken",
                found: format!("\"{}\" is no day or moment", act.taken),
                cure: "2026-05-12, or 2026-05-12T08:30:00Z",
            });
        }
        if act.holding_time_h.is_some_and(|hours| !(hours > 0.0 && hours.is_finite())) {
            return Err(StudyError::not_allowed("a holding time must be positive", "state it in hours"));
        }
        self.record_act(by, &Act::Custody(act))
    }
}

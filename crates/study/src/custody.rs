//! Where a sample comes from: taken where, when and by whom, how preserved, how long it may wait.

use crate::act::{Act, Custody};
use crate::day::{day_of, moments_of};
use crate::error::StudyError;
use crate::ledger::{By, Record, said};
use crate::study::{DAY_AHEAD_OF_UTC_H, Study};

/// The longest holding time that is taken, a year in hours: preserved samples keep for months, none for longer.
const MAX_HOLDING_TIME_H: f64 = 8784.0;

impl Study {
    /// Records a sample's custody. The last record counts; results issued before keep naming the one they used.
    ///
    /// # Errors
    /// A blank field; a moment that is neither a day nor a whole moment, that is yet to come, or that lies after every
    /// measurement of the sample; or a holding time beyond 0 to 8784 h.
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
        self.check_taken(&act)?;
        if let Some(hours) =
            act.holding_time_h.filter(|hours| !(*hours > 0.0 && *hours <= MAX_HOLDING_TIME_H))
        {
            return Err(StudyError::not_allowed(
                format!("a holding time of {hours} h is none"),
                format!("state it in hours, above 0 and up to {MAX_HOLDING_TIME_H}"),
            ));
        }
        self.record_act(by, &Act::Custody(act))
    }

    /// Whether the sample can have been taken then.
    fn check_taken(&self, act: &Custody) -> Result<(), StudyError> {
        let unsayable = |found: String, cure| Err(StudyError::Unsayable { what: "taken", found, cure });
        let Some([first, _]) = moments_of(&act.taken) else {
            let found = format!("\"{}\" is no day and no whole moment", act.taken);
            return unsayable(found, "2026-05-12, or 2026-05-12T08:30:00Z");
        };
        let now = self.now();
        if first > now + jiff::SignedDuration::from_hours(DAY_AHEAD_OF_UTC_H) {
            let found = format!("\"{}\" is yet to come; it is {now} now", act.taken);
            return unsayable(found, "when the sample was taken");
        }
        let measured = self.days_measured(&act.sample)?;
        let ends = measured.last().and_then(|day| moments_of(day)).map(|[_, end]| end);
        if ends.is_some_and(|end| first > end) {
            let found = format!(
                "\"{}\" is after {}, when {} was measured last",
                act.taken,
                measured.last().map_or("", String::as_str),
                act.sample
            );
            return unsayable(
                found,
                "when it was taken; a new sample of the same water needs a name of its own",
            );
        }
        Ok(())
    }

    /// The days on which scans of a sample are dated, the earliest first; where a run sheet has no date, the day on which its
    /// series came in.
    pub(crate) fn days_measured(&self, sample: &str) -> Result<Vec<String>, StudyError> {
        let method = self.method()?.method;
        let mut days = Vec::new();
        for one in self.series()? {
            let opened = self.open_series(&one.record.hash, &method)?;
            let rows = opened.sheet.rows.iter().filter(|row| row.sample == sample);
            days.extend(rows.filter_map(|row| day_of(&row.date).or_else(|| day_of(&one.record.at_utc))));
        }
        days.sort_unstable();
        Ok(days.into_iter().map(|day| day.to_string()).collect())
    }
}

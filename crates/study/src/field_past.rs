//! What was done before, in the field and at the desk, asked for one thing at a time: no answer reads every step as JSON.

use stillwell_method::RunSheet;

use crate::act::Act;
use crate::content;
use crate::error::StudyError;
use crate::field_desk::KIND;
use crate::field_step::FieldStep;
use crate::ledger::{self, Record};
use crate::study::Study;

/// How the series of a field run is named: its run follows.
pub const FIELD_SERIES: &str = "field run ";

impl Study {
    /// The steps of a run that were handed in, in their order.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn field_steps_of(&self, run: &str) -> Result<Vec<FieldStep>, StudyError> {
        self.own_steps(ledger::of_subject(&self.connection, run)?)
    }

    /// The steps of the study's own ledger whose act holds a text as JSON, such as `"number":101`, in their order. The text is
    /// looked for byte by byte: whoever asks looks again at what is found.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn field_steps_holding(&self, text: &str) -> Result<Vec<FieldStep>, StudyError> {
        self.own_steps(ledger::of_kind_holding(&self.connection, KIND, text)?)
    }

    /// Shows the steps of the study's own ledger whose act holds a text, the last first, for as long as `visit` says so.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn field_steps_back(
        &self,
        text: &str,
        mut visit: impl FnMut(FieldStep) -> bool,
    ) -> Result<(), StudyError> {
        ledger::back(&self.connection, &self.own, KIND, text, |record| {
            Ok(match record.act()? {
                Act::FieldStep(step) => visit(*step),
                _ => true,
            })
        })
    }

    fn own_steps(&self, records: Vec<Record>) -> Result<Vec<FieldStep>, StudyError> {
        let mut steps = Vec::new();
        for record in records {
            if record.kind == KIND
                && record.chain == self.own
                && let Act::FieldStep(step) = record.act()?
            {
                steps.push(*step);
            }
        }
        Ok(steps)
    }

    /// Whether a run sheet of the desk names an electrode, whatever became of its scans: `is_it` is asked of lot and electrode
    /// of each row. `digits` stand in the electrode's name, so that run sheets without them need not be read.
    ///
    /// # Errors
    /// A file that cannot be read, or a run sheet that is damaged.
    pub fn desk_names_electrode(
        &self,
        digits: &str,
        is_it: impl Fn(&str, &str) -> bool,
    ) -> Result<bool, StudyError> {
        let method = self.method()?.method;
        for record in ledger::series_of_desk(&self.connection, FIELD_SERIES, KIND)? {
            let Act::Series(series) = record.act()? else { continue };
            let text = content::text(&self.connection, &series.run_sheet)?;
            if memchr::memmem::find(text.as_bytes(), digits.as_bytes()).is_none() {
                continue;
            }
            let sheet = RunSheet::parse("run-sheet.csv", &text, &method.analyte.reported_as)?;
            if sheet.rows.iter().any(|row| is_it(&row.lot, &row.electrode)) {
                return Ok(true);
            }
        }
        Ok(false)
    }
}

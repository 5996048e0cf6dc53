//! Quality over time of a study: control charts, lots, validation and the comparison with a laboratory, reviewed together over all
//! its series, with one answer a question and tables that page and dossier set alike. The reviews are the method room's; nothing
//! is computed here.

mod answers;
mod control_answer;
mod tables;

use stillwell_method::{
    ChartReview, ComparisonAsked, ComparisonReview, LotAsked, LotRefusal, LotReview, Method,
    ValidationReview, Walk, chart_review, comparison_review, lot_review, validation_review,
};
use stillwell_study::{LaboratoryAct, LaboratoryOnRecord, Numbered, Study, StudyError};

pub use answers::{
    Answer, AnswerGrade, comparison_answer, lot_missing_words, lots_answer, validation_answer,
};
pub use control_answer::{control_answer, has_no_point_words};
pub use tables::{
    HeldAlike, Holds, WordsTable, ageing_words, alone_table, chart_name, chart_state_word, charts_table,
    held_alike, held_name, held_table, lot_words, lots_table, pairs_table, records_table, validation_table,
};

/// The four reviews.
#[derive(Debug)]
pub struct Quality {
    /// Every control chart, and what charts withhold.
    pub charts: ChartReview,
    /// Lots beside the approved calibration, or why none could be looked at.
    pub lots: Result<LotReview, LotRefusal>,
    /// The validation table with its evidence.
    pub validation: ValidationReview,
    /// The comparison with a laboratory, or what is missing.
    pub comparison: Compared,
}

/// The comparison with a laboratory, or what is missing.
#[derive(Debug)]
pub enum Compared {
    /// It was made.
    Made {
        /// What it says.
        review: Box<ComparisonReview>,
        /// The records that hold the laboratory's results.
        records: Vec<Numbered<LaboratoryAct>>,
    },
    /// No laboratory's results are on record.
    NoLaboratory,
    /// The method does not say which bias does not matter.
    NoMargin {
        /// The records that hold the laboratory's results.
        records: Vec<Numbered<LaboratoryAct>>,
    },
    /// What is on record cannot be read by the method in force.
    Unreadable {
        /// Why.
        why: String,
    },
}

impl Compared {
    /// The records whose results are compared with.
    pub fn records(&self) -> &[Numbered<LaboratoryAct>] {
        match self {
            Self::Made { records, .. } | Self::NoMargin { records } => records,
            Self::NoLaboratory | Self::Unreadable { .. } => &[],
        }
    }
}

impl Quality {
    /// Reviews walks that stand in the order of time, by what the method states and what is on record.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn of(study: &Study, method: &Method, walks: &[Walk<'_>]) -> Result<Self, StudyError> {
        Ok(Self {
            charts: chart_review(method, walks, None),
            lots: lot_review(method, walks, &LotAsked::default()),
            validation: validation_review(method, walks),
            comparison: compared(study.laboratory_on_record(), method, walks)?,
        })
    }
}

fn compared(
    on_record: Result<Option<LaboratoryOnRecord>, StudyError>,
    method: &Method,
    walks: &[Walk<'_>],
) -> Result<Compared, StudyError> {
    let found = match on_record {
        Ok(None) => return Ok(Compared::NoLaboratory),
        Ok(Some(found)) => found,
        Err(error @ StudyError::Content(_)) => return Ok(Compared::Unreadable { why: error.to_string() }),
        Err(error) => return Err(error),
    };
    let LaboratoryOnRecord { results, records } = found;
    Ok(match comparison_review(method, walks, &results, ComparisonAsked::default()) {
        Some(review) => Compared::Made { review: Box::new(review), records },
        None => Compared::NoMargin { records },
    })
}

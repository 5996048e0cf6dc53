//! Every series of a study walked once, in the order of time, beside what the ledger says of it: what quality over time rests on.

use std::ops::ControlFlow;

use rusqlite::{Transaction, TransactionBehavior};
use stillwell_method::{Method, Report, Walk};

use crate::act::Series;
use crate::charts::ChartHold;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::look::Looked;
use crate::numbered::Numbered;
use crate::study::{Anchor, Study};

/// Hears how many of how many series are done.
type Teller<'t> = &'t mut dyn FnMut(usize, usize) -> ControlFlow<()>;

/// A study whose series were all walked.
#[derive(Debug)]
pub struct WalkedStudy {
    /// The method in force.
    pub method: Method,
    /// The head of the ledger at which they were walked.
    pub anchor: Anchor,
    /// Each series with what the chain finds in it today, in the order of time, and what the ledger says of it.
    pub series: Vec<(Numbered<Series>, Looked)>,
    /// Series that the method in force cannot read, by number and name, and why.
    pub unread: Vec<(Numbered<Series>, String)>,
}

impl WalkedStudy {
    /// What reviews of quality look at.
    pub fn walks(&self) -> Vec<Walk<'_>> {
        self.series.iter().map(|(one, looked)| Walk { series: &one.label, report: &looked.report }).collect()
    }

    /// The numbers of the walked series.
    pub fn labels(&self) -> Vec<String> {
        self.series.iter().map(|(one, _)| one.label.clone()).collect()
    }
}

impl Study {
    /// Walks every series once. `tell` hears how many of how many are done, and may stop it.
    ///
    /// # Errors
    /// A file that cannot be read; [`StudyError::Stopped`]. A series that the method in force cannot read is none: it stands among those unread.
    pub fn walk_in_time(&self, tell: Teller<'_>) -> Result<WalkedStudy, StudyError> {
        // One state of the file throughout, whatever others add meanwhile.
        let snapshot = Transaction::new_unchecked(&self.connection, TransactionBehavior::Deferred)?;
        let walked = self.walk_within(tell);
        drop(snapshot);
        walked
    }

    fn walk_within(&self, tell: Teller<'_>) -> Result<WalkedStudy, StudyError> {
        let revision = self.method()?;
        let all = self.series_in_time()?;
        let n_all = all.len();
        let (mut walked, mut unread) = (Vec::new(), Vec::new());
        for (n_done, one) in all.into_iter().enumerate() {
            if tell(n_done, n_all).is_break() {
                return Err(StudyError::Stopped);
            }
            match self.walk_for_charts(&one.record.hash, &revision) {
                Ok(report) => walked.push((one, report)),
                Err(error @ (StudyError::Content(_) | StudyError::NotAllowed { .. })) => {
                    unread.push((one, error.to_string()));
                }
                Err(error) => return Err(error),
            }
        }
        let judged: Vec<(Digest, &Report)> =
            walked.iter().map(|(one, report)| (one.record.hash, report)).collect();
        let charts = ChartHold::judged(&revision.method, &judged);
        let mut series = Vec::new();
        for (one, report) in walked {
            let looked = self.look_beside(&one.record.hash, report, &charts)?;
            series.push((one, looked));
        }
        if tell(n_all, n_all).is_break() {
            return Err(StudyError::Stopped);
        }
        Ok(WalkedStudy { method: revision.method, anchor: self.anchor()?, series, unread })
    }
}

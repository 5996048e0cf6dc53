//! How a calibration or a result stands now: approved or not, withdrawn, replaced.

use crate::act::{Act, Word};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, Record};
use crate::study::Study;

/// Who said something about a record, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// Record in which it stands.
    pub record: Digest,
    /// Who.
    pub by: String,
    /// When.
    pub at_utc: String,
    /// Why.
    pub reason: String,
}

impl Said {
    fn of(record: &Record) -> Self {
        Self {
            record: record.hash,
            by: record.actor.clone(),
            at_utc: record.at_utc.clone(),
            reason: record.reason.clone(),
        }
    }
}

/// How a record stands now.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Standing {
    /// The last approver's word, where there is one.
    pub approval: Option<(Word, Said)>,
    /// The withdrawal, where there is one.
    pub withdrawn: Option<Said>,
    /// The result that takes its place, where there is one.
    pub replaced_by: Option<Said>,
}

impl Standing {
    /// Whether an approver's last word approves it, and nothing ended it since.
    pub fn is_approved(&self) -> bool {
        self.counts() && matches!(self.approval, Some((Word::Approved, _)))
    }

    /// Whether it may be used at all: neither withdrawn, nor replaced, nor refused by an approver.
    pub fn counts(&self) -> bool {
        self.withdrawn.is_none()
            && self.replaced_by.is_none()
            && !matches!(self.approval, Some((Word::Refused, _)))
    }

    /// Whether somebody took it back and nothing took its place: then its sample counts as unknown.
    pub fn leaves_unknown(&self) -> bool {
        self.replaced_by.is_none() && !self.counts()
    }

    /// Who took it back and why, `withdrawn by Ines Field: the bottle was another well's`; nothing where it counts.
    pub fn taken_back(&self) -> Option<String> {
        let refused = self.approval.as_ref().filter(|(word, _)| *word == Word::Refused).map(|(_, said)| said);
        let said = self.withdrawn.as_ref().or(self.replaced_by.as_ref()).or(refused)?;
        Some(format!("{} by {}: {}", self.word().trim_end_matches(" by the approver"), said.by, said.reason))
    }

    /// In the words that stand beside every number.
    pub fn word(&self) -> &'static str {
        match (&self.withdrawn, &self.replaced_by, &self.approval) {
            (Some(_), _, _) => "withdrawn",
            (None, Some(_), _) => "replaced",
            (None, None, Some((Word::Approved, _))) => "approved",
            (None, None, Some((Word::Refused, _))) => "refused by the approver",
            (None, None, None) => "not approved",
        }
    }
}

impl Study {
    /// How a record stands now.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn standing(&self, record: &Record) -> Result<Standing, StudyError> {
        let mut standing = Standing::default();
        for later in ledger::of_subject(&self.connection, &record.hash.to_string())? {
            match later.act()? {
                Act::Approval(act) if act.target == record.hash && self.approval_holds(&later, &act)? => {
                    standing.approval = Some((act.word, Said::of(&later)));
                }
                Act::Withdrawal(act) if act.target == record.hash => {
                    standing.withdrawn.get_or_insert_with(|| Said::of(&later));
                }
                _ => {}
            }
        }
        if record.kind == "determination" {
            standing.replaced_by = self.replacement(record)?;
        }
        Ok(standing)
    }

    fn replacement(&self, record: &Record) -> Result<Option<Said>, StudyError> {
        for later in ledger::about(&self.connection, &record.subject, "determination")? {
            if later.names(&record.hash)
                && matches!(later.act()?, Act::Determination(act) if act.replaces == Some(record.hash))
            {
                return Ok(Some(Said::of(&later)));
            }
        }
        Ok(None)
    }
}

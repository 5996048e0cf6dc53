//! What an accredited laboratory found in the same waters, taken in as a record: its file byte for byte, who took it in, and why.

use serde::{Deserialize, Serialize};
use stillwell_method::{LaboratoryResults, Problems};
use stillwell_quantity::QuantityKind;

use crate::act::Act;
use crate::content::{self, Packed};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{By, Record, said};
use crate::numbered::{Numbered, named, numbered};
use crate::study::Study;

/// The largest file of results that is taken: some twenty thousand lines.
pub const MOST_LABORATORY_BYTES: usize = 1 << 20;

/// A laboratory's results as they stand in the ledger.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LaboratoryAct {
    /// Name of the file. Data, never a path.
    pub file: String,
    /// Hash of its bytes.
    pub text: Digest,
    /// Results in it.
    pub n_results: usize,
    /// Which laboratory, in words; empty where nobody said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub laboratory: String,
}

/// What taking a laboratory's file in did.
#[derive(Debug, Clone)]
pub struct LaboratoryTaken {
    /// The record that holds it.
    pub record: Record,
    /// Whether the very same file counted already, so that nothing was recorded.
    pub was_there: bool,
}

/// Everything that laboratories reported and that counts, read as one.
#[derive(Debug, Clone)]
pub struct LaboratoryOnRecord {
    /// The results, record by record.
    pub results: LaboratoryResults,
    /// The records that they stand in.
    pub records: Vec<Numbered<LaboratoryAct>>,
}

impl Study {
    /// Takes a laboratory's results in. A later file adds to those that count; the very same bytes again are a no-op.
    ///
    /// # Errors
    /// A file that is too large or cannot be read, a sample that was reported already, or another laboratory's name than before.
    pub fn record_laboratory(
        &mut self,
        file: &str,
        bytes: &[u8],
        laboratory: &str,
        by: &By,
    ) -> Result<LaboratoryTaken, StudyError> {
        let file = said("name of the file", file, 200, "a short name, such as laboratory-may.csv")?;
        let laboratory = match laboratory.trim() {
            "" => String::new(),
            name => said("laboratory", name, 200, "the laboratory by its name, in a line")?,
        };
        let text = text_of(&file, bytes)?;
        let packed = Packed::of(bytes)?;
        self.write(|transaction, study| {
            let kind = study.method()?.method.analyte.reported_as;
            let read = LaboratoryResults::parse(&file, text, &kind)?;
            let counting = study.laboratories_counting()?;
            if let Some(there) = counting.iter().find(|one| one.act.text == packed.hash) {
                return Ok(LaboratoryTaken { record: there.record.clone(), was_there: true });
            }
            must_be_same(&counting, &laboratory)?;
            let n_results = read.results.len();
            if let Some(before) = study.joined(&counting, &kind)? {
                before.and(read)?;
            }
            content::put(transaction, &packed)?;
            let act = LaboratoryAct { file, text: packed.hash, n_results, laboratory };
            let record = study.append(transaction, by, &Act::Laboratory(act))?;
            Ok(LaboratoryTaken { record, was_there: false })
        })
    }

    /// Every record of a laboratory's results, the study's own first.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn laboratories(&self) -> Result<Vec<Numbered<LaboratoryAct>>, StudyError> {
        numbered(self, "laboratory", |act| match act {
            Act::Laboratory(act) => Some(act),
            _ => None,
        })
    }

    /// The record that a person names: `1`, or its hash.
    ///
    /// # Errors
    /// No such record; the numbers there are.
    pub fn laboratory(&self, name: &str) -> Result<Numbered<LaboratoryAct>, StudyError> {
        named(self.laboratories()?, "record of a laboratory's results", name)
    }

    /// What laboratories reported and counts, read by the method in force; none where nothing counts.
    ///
    /// # Errors
    /// A text that is damaged, or results that the method in force cannot read or that stand twice since a ledger was taken in.
    pub fn laboratory_on_record(&self) -> Result<Option<LaboratoryOnRecord>, StudyError> {
        let records = self.laboratories_counting()?;
        let kind = self.method()?.method.analyte.reported_as;
        let results = self.joined(&records, &kind)?;
        Ok(results.map(|results| LaboratoryOnRecord { results, records }))
    }

    /// Those that were not withdrawn; a file that a merged ledger holds as well counts once.
    fn laboratories_counting(&self) -> Result<Vec<Numbered<LaboratoryAct>>, StudyError> {
        let mut counting: Vec<Numbered<LaboratoryAct>> = Vec::new();
        for one in self.laboratories()? {
            let is_new = !counting.iter().any(|known| known.act.text == one.act.text);
            if one.standing.counts() && is_new {
                counting.push(one);
            }
        }
        Ok(counting)
    }

    fn joined(
        &self,
        records: &[Numbered<LaboratoryAct>],
        kind: &QuantityKind,
    ) -> Result<Option<LaboratoryResults>, StudyError> {
        let mut joined: Option<LaboratoryResults> = None;
        for one in records {
            let text = content::text(&self.connection, &one.act.text)?;
            let read = LaboratoryResults::parse(&one.act.file, &text, kind)?;
            let both: Result<_, Problems> = match joined {
                None => Ok(read),
                Some(before) => before.and(read),
            };
            joined = Some(both?);
        }
        Ok(joined)
    }
}

fn text_of<'b>(file: &str, bytes: &'b [u8]) -> Result<&'b str, StudyError> {
    if bytes.len() > MOST_LABORATORY_BYTES {
        return Err(StudyError::TooLarge {
            what: format!("{file}, in bytes"),
            found: bytes.len() as u64,
            limit: MOST_LABORATORY_BYTES as u64,
        });
    }
    std::str::from_utf8(bytes).map_err(|error| StudyError::NotAllowed {
        found: format!("{file}: not UTF-8 from byte {}", error.valid_up_to()),
        cure: "save the file as UTF-8 text".to_owned(),
    })
}

/// One comparison rests on one laboratory: the bias of two would hide in their mean.
fn must_be_same(counting: &[Numbered<LaboratoryAct>], laboratory: &str) -> Result<(), StudyError> {
    let Some(other) = counting.iter().find(|one| one.act.laboratory != laboratory) else { return Ok(()) };
    let name = |laboratory: &str| {
        if laboratory.is_empty() {
            "a laboratory without a name".to_owned()
        } else {
            format!("\"{laboratory}\"")
        }
    };
    Err(StudyError::not_allowed(
        format!(
            "the study compares with {}, by record {}; this file is of {}",
            name(&other.act.laboratory),
            other.label,
            name(laboratory)
        ),
        "results of two laboratories are not mixed: name the same laboratory, withdraw what is on record, or compare beside the study with `stillwell compare STUDY --with FILE.csv`",
    ))
}

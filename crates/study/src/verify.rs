//! Verification: shows that nothing was changed, or names the first record that was.
//!
//! What is proved: every record is the one that its successors and the anchor were made from, and every text and number
//! it names is what was recorded. What is not: see `crates/study/limits.md`.

use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::{Connection, Transaction, TransactionBehavior};

use crate::act::{Act, Merge};
use crate::connection;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, Record};
use crate::schema::{expected_statements, statements};
use crate::study::{Anchor, Study};

/// What is to be verified beside ledger and content.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct VerifyRequest {
    /// Head of the ledger as it was printed or written down earlier.
    pub anchor: Option<Digest>,
    /// Which determinations are computed again from the raw text.
    pub recompute: Recompute,
}

/// Which determinations are computed again.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Recompute {
    /// None.
    #[default]
    Nothing,
    /// These, by number or hash of the record.
    Named(Vec<String>),
    /// All of them.
    All,
}

/// What verification found.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Verification {
    /// The head of the study's ledger; none where it cannot be read.
    pub head: Option<Anchor>,
    /// Records looked at, in all ledgers of the file.
    pub n_records: usize,
    /// Ledgers in the file: the study's own and those it took in.
    pub n_ledgers: usize,
    /// Texts looked at.
    pub n_texts: usize,
    /// Scans looked at.
    pub n_scans: usize,
    /// Everything that is not what was recorded, the first record first.
    pub damages: Vec<Damage>,
    /// Where the anchor stands in the ledger, if it was given and found.
    pub anchored_at: Option<u64>,
    /// The determinations that were computed again.
    pub recomputed: Vec<Recomputed>,
}

impl Verification {
    /// Whether all that was found are results of a version that made other numbers: ledger and content are as they were
    /// recorded, and whether the results are what was computed then only that version can show.
    pub fn is_only_of_other_numbers(&self) -> bool {
        let is_explained = |one: &Recomputed| one.difference.is_none() || one.is_of_other_numbers;
        !self.is_sound() && self.damages.is_empty() && self.recomputed.iter().all(is_explained)
    }

    /// Whether nothing was found.
    pub fn is_sound(&self) -> bool {
        self.damages.is_empty() && self.recomputed.iter().all(|one| one.difference.is_none())
    }
}

/// Something that is not what was recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// The first record that is, or rests on what is.
    pub record: Option<RecordName>,
    /// What was found.
    pub what: String,
}

/// A record as it is named to a person.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct RecordName {
    /// Whether it stands in the study's own ledger.
    pub is_foreign: bool,
    /// Which ledger.
    pub chain: Digest,
    /// Place in that ledger.
    pub seq: u64,
    /// What kind of act.
    pub kind: String,
}

/// A determination that was computed again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recomputed {
    /// Its record.
    pub record: Digest,
    /// Sample.
    pub sample: String,
    /// What came out otherwise; none where every number has the same bits.
    pub difference: Option<String>,
    /// Whether it came out otherwise and was issued by a version that makes other numbers, as its record says.
    pub is_of_other_numbers: bool,
}

/// Verifies the file at a path. A file so damaged that it cannot be opened is a finding, not an error.
///
/// # Errors
/// No such file, another kind of file, a newer format, a file in use, an anchor or determination that makes no sense.
pub fn verify(path: &Path, request: &VerifyRequest) -> Result<Verification, StudyError> {
    verify_telling(path, request, &mut |_, _| {})
}

/// [`verify()`], which tells how many records, texts and readings of how many it has looked at.
///
/// # Errors
/// As [`verify()`].
pub fn verify_telling(
    path: &Path,
    request: &VerifyRequest,
    tell: &mut dyn FnMut(usize, usize),
) -> Result<Verification, StudyError> {
    match Study::open_to_read(path) {
        Ok(study) => study.verify_at_once(request, tell),
        Err(error @ (StudyError::Damaged { .. } | StudyError::Storage { .. })) => Ok(Verification {
            damages: vec![Damage { record: None, what: error.to_string() }],
            ..Verification::default()
        }),
        Err(error) => Err(error),
    }
}

impl Study {
    /// Verifies this study. See [`verify()`].
    ///
    /// # Errors
    /// A determination to be recomputed that the study does not hold.
    pub fn verify(&self, request: &VerifyRequest) -> Result<Verification, StudyError> {
        self.verify_at_once(request, &mut |_, _| {})
    }

    fn verify_at_once(
        &self,
        request: &VerifyRequest,
        tell: &mut dyn FnMut(usize, usize),
    ) -> Result<Verification, StudyError> {
        // One state of the file throughout, whatever others add meanwhile.
        let snapshot = Transaction::new_unchecked(&self.connection, TransactionBehavior::Deferred)?;
        let found = self.verify_within(request, tell);
        drop(snapshot);
        found
    }

    /// Verifies within the transaction that the caller holds.
    pub(crate) fn verify_within(
        &self,
        request: &VerifyRequest,
        tell: &mut dyn FnMut(usize, usize),
    ) -> Result<Verification, StudyError> {
        let mut verifier = Verifier {
            study: self,
            found: Verification::default(),
            first_named: BTreeMap::new(),
            tell,
            n_done: 0,
            n_all: n_rows(&self.connection),
        };
        verifier.structure();
        verifier.ledgers();
        verifier.contents();
        if let Some(anchor) = &request.anchor {
            verifier.anchor(anchor);
        }
        let mut found = verifier.found;
        found.damages.sort_by(|a, b| (a.record.is_none(), &a.record).cmp(&(b.record.is_none(), &b.record)));
        match self.recompute(&request.recompute) {
            Ok(recomputed) => found.recomputed = recomputed,
            Err(error @ StudyError::Unknown { .. }) => return Err(error),
            Err(error) => {
                found.damages.push(Damage { record: None, what: format!("computing again: {error}") });
            }
        }
        Ok(found)
    }
}

/// One verification on its way.
pub(crate) struct Verifier<'a> {
    pub(crate) study: &'a Study,
    pub(crate) found: Verification,
    /// The first record that names a text or reading.
    pub(crate) first_named: BTreeMap<Digest, RecordName>,
    tell: &'a mut dyn FnMut(usize, usize),
    n_done: usize,
    n_all: usize,
}

/// Records, texts and readings; only to say how far the verification is, so that a file that cannot be counted has none.
fn n_rows(connection: &Connection) -> usize {
    let sql = "SELECT (SELECT count(*) FROM record) + (SELECT count(*) FROM content) + (SELECT count(*) FROM reading)";
    let n_rows: Result<i64, _> = connection.query_row(sql, [], |row| row.get(0));
    n_rows.ok().and_then(|n_rows| usize::try_from(n_rows).ok()).unwrap_or(0)
}

impl Verifier<'_> {
    /// One more row was looked at.
    pub(crate) fn step(&mut self) {
        self.n_done += 1;
        (self.tell)(self.n_done.min(self.n_all), self.n_all);
    }

    pub(crate) fn damage(&mut self, record: Option<RecordName>, what: impl Into<String>) {
        self.found.damages.push(Damage { record, what: what.into() });
    }

    /// A step that cannot even be read is a finding.
    pub(crate) fn or_damage<T>(&mut self, what: &str, result: Result<T, StudyError>) -> Option<T> {
        result.map_err(|error| self.damage(None, format!("{what}: {error}"))).ok()
    }

    /// Pages, indices, foreign keys, and the statements that made the tables.
    fn structure(&mut self) {
        let connection = &self.study.connection;
        let faults = structural_faults(connection);
        for fault in self.or_damage("the file's structure", faults).into_iter().flatten() {
            self.damage(None, format!("the file's structure: {fault}"));
        }
        let schema = connection
            .pragma_query_value(None, "user_version", |row| row.get(0))
            .map_err(StudyError::from)
            .and_then(|format| Ok((statements(connection)?, expected_statements(format)?)));
        if let Some((found, expected)) = self.or_damage("the tables", schema)
            && found != expected
        {
            let lacking = expected.iter().find(|one| !found.contains(one));
            let surplus = found.iter().find(|one| !expected.contains(one));
            let name = |one: &String| one.split(' ').take(2).collect::<Vec<_>>().join(" ");
            let what = match (lacking, surplus) {
                (Some(one), _) => format!("the {} is not as this software made it", name(one)),
                (None, Some(one)) => format!("there is a foreign {}", name(one)),
                (None, None) => "a table stands twice".to_owned(),
            };
            self.damage(None, what);
        }
    }

    fn ledgers(&mut self) {
        let connection = &self.study.connection;
        let Some(chains) = self.or_damage("the ledgers", ledger::chains(connection, &self.study.own)) else {
            return;
        };
        let owners = connection
            .query_row("SELECT count(*), max(chain) FROM study", [], |row| Ok((row.get(0)?, row.get(1)?)))
            .map_err(StudyError::from);
        if let Some((n, chain)) = self.or_damage("the study's name", owners)
            && ((n, chain) != (1_i64, self.study.own) || !chains.contains(&self.study.own))
        {
            self.damage(None, "the ledger that the study calls its own is not there");
        }
        self.found.n_ledgers = chains.len();
        let mut merges = BTreeMap::new();
        for chain in &chains {
            self.one_ledger(chain, &mut merges);
        }
        for chain in chains.iter().filter(|chain| **chain != self.study.own) {
            self.taken_in(chain, merges.get(chain));
        }
        self.found.head = crate::study::anchor_of(connection, &self.study.own).ok();
    }

    fn one_ledger(&mut self, chain: &Digest, merges: &mut BTreeMap<Digest, Merge>) {
        let connection = &self.study.connection;
        let mut before: Option<Record> = None;
        let walked = ledger::walk(connection, chain, |record| {
            self.found.n_records += 1;
            self.step();
            let name = self.name_of(&record);
            self.follows(&name, &record, before.as_ref());
            self.says_what_it_says(&name, &record, merges);
            before = Some(record);
            Ok(())
        });
        if let Err(error) = walked {
            let seq = before.map_or(1, |record| record.seq + 1);
            let name = RecordName {
                is_foreign: *chain != self.study.own,
                chain: *chain,
                seq,
                kind: "record".to_owned(),
            };
            self.damage(Some(name), format!("cannot be read: {error}"));
        }
    }

    fn name_of(&self, record: &Record) -> RecordName {
        RecordName {
            is_foreign: record.chain != self.study.own,
            chain: record.chain,
            seq: record.seq,
            kind: record.kind.clone(),
        }
    }

    /// Number, predecessor, hash and time.
    fn follows(&mut self, name: &RecordName, record: &Record, before: Option<&Record>) {
        let expected_seq = before.map_or(1, |before| before.seq + 1);
        if record.seq != expected_seq {
            let what = format!("stands where record {expected_seq} should: records are missing");
            self.damage(Some(name.clone()), what);
        }
        if record.previous != before.map_or(Digest::NOTHING, |before| before.hash) {
            self.damage(Some(name.clone()), "does not follow the record before it");
        }
        if record.computed_hash() != record.hash {
            self.damage(Some(name.clone()), "was changed: its hash is not that of what it says");
        }
        if before.is_none() && record.hash != record.chain {
            self.damage(Some(name.clone()), "is not the first record that its ledger is named after");
        }
        let is_time = record.at_utc.parse::<jiff::Timestamp>().is_ok();
        let goes_on = before.is_none_or(|before| before.at_utc <= record.at_utc);
        if !is_time || !goes_on || record.clock_utc > record.at_utc {
            self.damage(Some(name.clone()), "its time is not later than that of the record before");
        }
    }

    /// The act can be read, and everything that it names is there.
    fn says_what_it_says(
        &mut self,
        name: &RecordName,
        record: &Record,
        merges: &mut BTreeMap<Digest, Merge>,
    ) {
        let act = match record.act() {
            Ok(act) => act,
            Err(error) => return self.damage(Some(name.clone()), error.to_string()),
        };
        if act.kind() != record.kind || act.subject() != record.subject {
            self.damage(Some(name.clone()), "its kind or subject is not that of its act");
        }
        for named in act.contents().into_iter().chain(act.readings()) {
            self.first_named.entry(named).or_insert_with(|| name.clone());
        }
        for named in act.records() {
            if !matches!(ledger::by_hash(&self.study.connection, &named), Ok(Some(_))) {
                self.damage(Some(name.clone()), format!("names record {}, which is missing", named.short()));
            }
        }
        match self.study.signature_holds(record, &act) {
            Ok(true) => {}
            Ok(false) => self.damage(Some(name.clone()), "its signature does not hold"),
            Err(error) => self.damage(Some(name.clone()), error.to_string()),
        }
        if let Act::Merge(merge) = act
            && record.chain == self.study.own
        {
            merges.insert(merge.chain, merge);
        }
    }

    /// A ledger that was taken in is there as far as the last merge says.
    fn taken_in(&mut self, chain: &Digest, merge: Option<&Merge>) {
        let head = ledger::head(&self.study.connection, chain);
        let Some(Some(head)) = self.or_damage("a ledger that was taken in", head) else { return };
        let name = self.name_of(&head);
        match merge {
            None => self.damage(Some(name), "its ledger was never taken in by this study"),
            Some(merge) if (merge.seq, merge.head) != (head.seq, head.hash) => {
                let what = format!("its ledger was taken in up to record {}, and ends here", merge.seq);
                self.damage(Some(name), what);
            }
            Some(_) => {}
        }
    }

    fn anchor(&mut self, anchor: &Digest) {
        let found = ledger::by_hash(&self.study.connection, anchor);
        match self.or_damage("the anchor", found) {
            Some(Some(record)) if record.chain == self.study.own => self.found.anchored_at = Some(record.seq),
            Some(_) => self.damage(
                None,
                format!(
                    "the anchor {} is no record of this study: the ledger was cut off or rewritten, or the anchor \
                     belongs to another study",
                    anchor.short()
                ),
            ),
            None => {}
        }
    }
}

fn structural_faults(connection: &Connection) -> Result<Vec<String>, StudyError> {
    // At most twenty are listed: the first ones tell enough.
    let mut statement = connection.prepare("PRAGMA integrity_check(20)")?;
    let mut faults: Vec<String> = statement.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
    faults.retain(|fault| fault != "ok");
    let orphans: i64 =
        connection.query_row("SELECT count(*) FROM pragma_foreign_key_check", [], |row| row.get(0))?;
    if orphans > 0 {
        faults.push(format!("{orphans} rows name a row that is missing"));
    }
    Ok(faults)
}

/// Opens just far enough to say whether a path is a study.
///
/// # Errors
/// As [`Study::open_to_read`].
pub fn is_study(path: &Path) -> Result<bool, StudyError> {
    match connection::open_to_read(path) {
        Ok(_) => Ok(true),
        Err(StudyError::NotAStudy { .. }) => Ok(false),
        Err(error) => Err(error),
    }
}

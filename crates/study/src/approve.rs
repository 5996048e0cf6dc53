//! Who may approve, and what they approved: keys, signatures, and the rule of two persons.

use ed25519_dalek::{Signature as Ed25519Signature, VerifyingKey};
use rusqlite::Transaction;

use crate::act::{Act, Approval, KeyAct, Signature, StudyRole, Withdrawal, Withholding, Word};
use crate::charts::ChartHold;
use crate::error::StudyError;
use crate::hash::{Digest, Joined};
use crate::key_file::{SigningPerson, unhex};
use crate::ledger::{self, By, Record};
use crate::look::Today;
use crate::lot::lot_message;
use crate::study::Study;
use crate::transfer::transfer_message;
use crate::validity::validity_message;
use crate::withdraw::withdrawal_message;

/// So many of the things that did not pass are named.
const MOST_SAID: usize = 4;

impl Study {
    /// Gives someone a role and a key. The first approver comes on trust; each later one needs the word of an approver
    /// who is there.
    ///
    /// # Errors
    /// A key that is there already, or a second approver without a voucher.
    pub fn add_key(
        &mut self,
        name: &str,
        public_key: Digest,
        role: StudyRole,
        voucher: Option<&SigningPerson>,
        by: &By,
    ) -> Result<Record, StudyError> {
        let name = ledger::said("name", name, 200, "the name of the key's owner")?;
        if verifying_key(&public_key).is_none() {
            let found = format!("{public_key} is no Ed25519 public key");
            return Err(StudyError::not_allowed(found, "copy all 64 digits from the owner's key file"));
        }
        self.write(|transaction, study| {
            let keys = study.keys()?;
            if keys.iter().any(|(_, key)| key.public_key == public_key) {
                return Err(StudyError::not_allowed("this key is there already", "nothing needs to be done"));
            }
            let has_approver = keys.iter().any(|(_, key)| key.role == StudyRole::Approver);
            let message = key_message(&study.own, &name, role, &public_key);
            let voucher = match voucher {
                Some(person) => Some(study.sign(person, Some(StudyRole::Approver), &message)?),
                None if role == StudyRole::Approver && has_approver => {
                    return Err(StudyError::not_allowed(
                        "another approver needs the word of an approver who is there",
                        "let one of them unlock their key for this",
                    ));
                }
                None => None,
            };
            let act = KeyAct { name: name.clone(), role, public_key, voucher };
            study.append(transaction, by, &Act::Key(act))
        })
    }

    /// The keys of the study with their records, those of ledgers it took in as well.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn keys(&self) -> Result<Vec<(Record, KeyAct)>, StudyError> {
        let mut keys = Vec::new();
        for record in ledger::of_kind(&self.connection, &self.own, "key")? {
            if let Act::Key(key) = record.act()? {
                keys.push((record, key));
            }
        }
        Ok(keys)
    }

    /// Signs with a key that the study's own ledger knows, in the role that is needed.
    pub(crate) fn sign(
        &self,
        person: &SigningPerson,
        role: Option<StudyRole>,
        message: &Digest,
    ) -> Result<Signature, StudyError> {
        let known = self.keys()?.into_iter().find(|(record, key)| {
            record.chain == self.own && key.public_key == person.public_key() && key.name == person.name()
        });
        let Some((record, key)) = known else {
            return Err(StudyError::not_allowed(
                format!("the study does not know this key of {}", person.name()),
                "record it first with `stillwell study key add`",
            ));
        };
        if role.is_some_and(|role| role != key.role) {
            return Err(StudyError::not_allowed(
                format!("{} is {} here and cannot do this", key.name, key.role.word()),
                "let an approver do it",
            ));
        }
        if let Some(withdrawn) = self.standing(&record)?.withdrawn {
            let found = format!("this key of {} was withdrawn: {}", key.name, withdrawn.reason);
            return Err(StudyError::not_allowed(found, "use a key that is in force"));
        }
        Ok(Signature { key: record.hash, signature: person.sign(message) })
    }

    /// An approver's word on a method revision, a calibration, a determination or a campaign: signed, and never the word of the
    /// one who recorded it.
    ///
    /// # Errors
    /// Something that is not approved, a key without that role, or the recorder's own key.
    pub fn approve(
        &mut self,
        target: &Digest,
        word: Word,
        person: &SigningPerson,
        reason: &str,
    ) -> Result<Record, StudyError> {
        let records = self.approve_all(&[*target], word, person, reason)?;
        records.into_iter().next().ok_or_else(|| StudyError::damaged("an approval left no record"))
    }

    /// The same word on several: all of them, or none.
    ///
    /// # Errors
    /// As [`Self::approve`], of the first that is refused.
    pub fn approve_all(
        &mut self,
        targets: &[Digest],
        word: Word,
        person: &SigningPerson,
        reason: &str,
    ) -> Result<Vec<Record>, StudyError> {
        self.approve_although(targets, word, person, reason, None)
    }

    /// The same, where a calibration that did not pass acceptance or a result without a verdict is to be approved: `although`
    /// says why, and goes on record with what did not pass.
    ///
    /// # Errors
    /// As [`Self::approve_all`].
    pub fn approve_although(
        &mut self,
        targets: &[Digest],
        word: Word,
        person: &SigningPerson,
        reason: &str,
        although: Option<&str>,
    ) -> Result<Vec<Record>, StudyError> {
        let by = By::new(person.name(), reason)?;
        let although =
            although.map(|why| ledger::said("although", why, 500, "why all the same")).transpose()?;
        let charts = self.chart_hold()?;
        self.write(|transaction, study| {
            let mut said = Vec::new();
            for target in targets {
                let by = study.by_for(target, word, &by, although.as_deref(), &charts)?;
                said.push(study.say(transaction, target, word, person, &by)?);
            }
            Ok(said)
        })
    }

    /// The reason with what did not pass, where something did not and the approver says so.
    fn by_for(
        &self,
        target: &Digest,
        word: Word,
        by: &By,
        although: Option<&str>,
        charts: &ChartHold,
    ) -> Result<By, StudyError> {
        let failed = if word == Word::Approved { self.did_not_pass(target, charts)? } else { None };
        match (failed, although) {
            (None, _) => Ok(by.clone()),
            (Some(failed), Some(although)) => {
                Ok(by.for_reason(&format!("{}; although {failed}: {although}", by.reason())))
            }
            (Some(failed), None) => Err(StudyError::not_allowed(
                failed,
                "refuse it, or say why it is approved all the same: --although \"WORDS\", which goes on record",
            )),
        }
    }

    /// What of a calibration or a result did not pass, in words.
    fn did_not_pass(&self, target: &Digest, charts: &ChartHold) -> Result<Option<String>, StudyError> {
        match self.record(target)?.act()? {
            Act::Calibration(act) if !act.result.accepted => {
                let found = act.result.findings.iter().filter(|one| one.effect == "refused");
                let found: Vec<&str> = found.map(|one| one.found.as_str()).take(MOST_SAID).collect();
                Ok(Some(format!(
                    "the calibration of lot {} did not pass acceptance: {}",
                    act.result.lot,
                    found.join("; ")
                )))
            }
            Act::Determination(act) => {
                let sample = &act.result.sample;
                if act.result.numbers.is_none() {
                    return Ok(Some(format!("the chain refused {sample} a number")));
                }
                let today = Today::of(self, charts).withheld(&act)?;
                if today.is_empty() && (!act.verdicts().is_empty() || act.result.decisions.is_empty()) {
                    return Ok(None);
                }
                let of_chain = act.result.findings.iter().filter(|one| one.is_withholding());
                let of_study = act.withheld.iter().chain(&today).map(Withholding::found);
                let mut why: Vec<String> = of_study.chain(of_chain.map(|one| one.found.clone())).collect();
                why.dedup();
                why.truncate(MOST_SAID);
                Ok(Some(format!("the verdict on {sample} is withheld: {}", why.join("; "))))
            }
            _ => Ok(None),
        }
    }

    fn say(
        &self,
        transaction: &Transaction<'_>,
        target: &Digest,
        word: Word,
        person: &SigningPerson,
        by: &By,
    ) -> Result<Record, StudyError> {
        let record = self.record(target)?;
        if !matches!(record.kind.as_str(), "revision" | "calibration" | "determination" | "campaign") {
            return Err(StudyError::not_allowed(
                format!("a {} is not approved", record.kind),
                "name a method revision, a calibration, a determination or a campaign",
            ));
        }
        if is_same_person(&record.actor, person.name()) {
            return Err(StudyError::not_allowed(
                format!("{} recorded this and cannot approve it", record.actor),
                "let another person look at it",
            ));
        }
        let standing = self.standing(&record)?;
        if let Some((before, said)) = &standing.approval
            && *before == word
            && is_same_person(&said.by, person.name())
        {
            return Err(StudyError::not_allowed(
                format!("{} said so of this {} already, at {}", said.by, record.kind, said.at_utc),
                "nothing needs to be done",
            ));
        }
        if word == Word::Approved && (standing.withdrawn.is_some() || standing.replaced_by.is_some()) {
            return Err(StudyError::not_allowed(
                format!("this {} is {}", record.kind, standing.word()),
                "approve the one that took its place",
            ));
        }
        self.append_approval(transaction, target, word, person, by)
    }

    fn append_approval(
        &self,
        transaction: &Transaction<'_>,
        target: &Digest,
        word: Word,
        person: &SigningPerson,
        by: &By,
    ) -> Result<Record, StudyError> {
        let message = approval_message(&self.own, target, word, by.reason());
        let signature = self.sign(person, Some(StudyRole::Approver), &message)?;
        self.append(transaction, by, &Act::Approval(Approval { target: *target, word, signature }))
    }

    /// Whether an approval is what it says: signed by an approver of its ledger, on what another recorded.
    pub(crate) fn approval_holds(&self, record: &Record, approval: &Approval) -> Result<bool, StudyError> {
        let message = approval_message(&record.chain, &approval.target, approval.word, &record.reason);
        let Some(key) = self.signed_by(record, &approval.signature, &message)? else { return Ok(false) };
        let target = self.record(&approval.target)?;
        Ok(key.role == StudyRole::Approver
            && key.name == record.actor
            && !is_same_person(&target.actor, &key.name))
    }

    /// Whether the signature that an act needs is there and right; acts that need none hold.
    pub(crate) fn signature_holds(&self, record: &Record, act: &Act) -> Result<bool, StudyError> {
        match act {
            Act::Approval(approval) => self.approval_holds(record, approval),
            Act::Lot(lot) => {
                let message = lot_message(&record.chain, lot);
                Ok(self
                    .signed_by(record, &lot.signature, &message)?
                    .is_some_and(|key| key.name == record.actor))
            }
            Act::Transfer(act) => {
                let message = transfer_message(&record.chain, act);
                let key = self.signed_by(record, &act.signature, &message)?;
                Ok(key.is_some_and(|key| key.role == StudyRole::Approver && key.name == record.actor))
            }
            Act::Withdrawal(Withdrawal { target, signature: Some(signature) }) => {
                let message = withdrawal_message(&record.chain, target, &record.reason);
                self.is_approvers(record, signature, &message)
            }
            Act::Validity(act) => match &act.signature {
                Some(signature) => self.is_approvers(
                    record,
                    signature,
                    &validity_message(&record.chain, act, &record.reason),
                ),
                None => Ok(true),
            },
            Act::Key(key) => self.key_is_vouched_for(record, key),
            _ => Ok(true),
        }
    }

    /// Whether an approver who is the record's actor signed.
    pub(crate) fn is_approvers(
        &self,
        record: &Record,
        signature: &Signature,
        message: &Digest,
    ) -> Result<bool, StudyError> {
        let key = self.signed_by(record, signature, message)?;
        Ok(key.is_some_and(|key| key.role == StudyRole::Approver && key.name == record.actor))
    }

    /// Only the first approver of a ledger comes without a voucher.
    fn key_is_vouched_for(&self, record: &Record, key: &KeyAct) -> Result<bool, StudyError> {
        let Some(voucher) = &key.voucher else {
            let earlier = |(other, known): &(Record, KeyAct)| {
                known.role == StudyRole::Approver && other.chain == record.chain && other.seq < record.seq
            };
            return Ok(key.role == StudyRole::Analyst || !self.keys()?.iter().any(earlier));
        };
        let message = key_message(&record.chain, &key.name, key.role, &key.public_key);
        let signer = self.signed_by(record, voucher, &message)?;
        Ok(signer.is_some_and(|signer| signer.role == StudyRole::Approver))
    }

    /// The key that signed, if the signature is right and the key stood in the same ledger before.
    pub(crate) fn signed_by(
        &self,
        record: &Record,
        signature: &Signature,
        message: &Digest,
    ) -> Result<Option<KeyAct>, StudyError> {
        let Some(key_record) = ledger::by_hash(&self.connection, &signature.key)? else { return Ok(None) };
        let Act::Key(key) = key_record.act()? else { return Ok(None) };
        let is_earlier = key_record.chain == record.chain && key_record.seq < record.seq;
        Ok(Some(key).filter(|key| is_earlier && is_signed(&key.public_key, message, &signature.signature)))
    }
}

fn is_same_person(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

pub(crate) fn verifying_key(public_key: &Digest) -> Option<VerifyingKey> {
    VerifyingKey::from_bytes(public_key.as_bytes()).ok().filter(|key| !key.is_weak())
}

fn is_signed(public_key: &Digest, message: &Digest, signature: &str) -> bool {
    let signature = unhex(signature).and_then(|bytes| Ed25519Signature::from_slice(&bytes).ok());
    verifying_key(public_key)
        .zip(signature)
        .is_some_and(|(key, signature)| key.verify_strict(message.as_bytes(), &signature).is_ok())
}

/// What an approver signs: study, target, word and reason, so that none can be moved to another place.
pub(crate) fn approval_message(chain: &Digest, target: &Digest, word: Word, reason: &str) -> Digest {
    let word = match word {
        Word::Approved => "approved",
        Word::Refused => "refused",
    };
    Joined::new("stillwell study approval 1")
        .field(chain.as_bytes())
        .field(target.as_bytes())
        .field(word.as_bytes())
        .field(reason.as_bytes())
        .digest()
}

/// What an approver signs who vouches for another.
pub(crate) fn key_message(chain: &Digest, name: &str, role: StudyRole, public_key: &Digest) -> Digest {
    Joined::new("stillwell study key 1")
        .field(chain.as_bytes())
        .field(name.as_bytes())
        .field(role.word().as_bytes())
        .field(public_key.as_bytes())
        .digest()
}

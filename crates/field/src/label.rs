//! What a printed label says: of which study it is, and which well, box or strip is meant. A picture of it picks from the list.
//!
//! `SWF1:WELL:<study>:<item>:AVW-11`, in the characters that a QR code packs tightest. `study` begins the hash of the study's
//! first record, so that another study's well of the same code is told apart; `item` begins the hash of what the code stood for
//! when it was printed, so that a plate is told apart whose code was given to another well since. It is no secret and no signature:
//! who can copy a label can make one.

use stillwell_study::{Deed, Digest};

use crate::campaign::{Campaign, Lot, Well};

/// The first part of every label.
const OURS: &str = "SWF1";
/// Digits of the study's hash: 64 bits, which no two studies share by chance.
const STUDY_DIGITS: usize = 16;
/// Digits of the item's hash: 32 bits, to notice a change and not to stop anyone.
const ITEM_DIGITS: usize = 8;
/// Longer than any label.
const MOST_CHARACTERS: usize = 100;

/// What a label is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LabelKind {
    /// A plate at a well.
    Well,
    /// A box of strips.
    Box,
    /// A single strip, or its pouch.
    Strip,
}

impl LabelKind {
    /// The word on the label and in the keys of texts.
    pub fn word(self) -> &'static str {
        match self {
            Self::Well => "well",
            Self::Box => "box",
            Self::Strip => "strip",
        }
    }

    fn of_word(word: &str) -> Option<Self> {
        [Self::Well, Self::Box, Self::Strip].into_iter().find(|kind| kind.word().to_ascii_uppercase() == word)
    }
}

/// A label as it is printed or was read; that it is one of ours says nothing about whether the list knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    study: String,
    kind: LabelKind,
    item: String,
    code: String,
}

impl Label {
    /// The label of a well.
    pub(crate) fn of_well(study: &Digest, well: &Well) -> Self {
        Self::of(study, LabelKind::Well, &well.code, item(&[&well.code, &well.name]))
    }

    /// The label of a box.
    pub(crate) fn of_box(study: &Digest, lot: &Lot) -> Self {
        Self::of(study, LabelKind::Box, &lot.code, item_of_lot(lot))
    }

    /// The label of a strip.
    pub(crate) fn of_strip(study: &Digest, lot: &Lot, number: u32) -> Self {
        Self::of(study, LabelKind::Strip, &format!("{}-{number}", lot.code), item_of_lot(lot))
    }

    fn of(study: &Digest, kind: LabelKind, code: &str, item: String) -> Self {
        Self { study: beginning(study, STUDY_DIGITS), kind, item, code: code.to_owned() }
    }

    /// Reads what a picture said; none where it is no label of ours.
    ///
    /// # Example
    /// ```
    /// use stillwell_field::{Label, LabelKind};
    /// let text = "SWF1:WELL:0123456789ABCDEF:01234567:AVW-11";
    /// let label = Label::read(text).unwrap();
    /// assert_eq!((label.kind(), label.code(), label.text()), (LabelKind::Well, "AVW-11", text.to_owned()));
    /// assert_eq!(Label::read("https://wells.example"), None);
    /// ```
    pub fn read(text: &str) -> Option<Self> {
        let text = text.trim();
        if text.len() > MOST_CHARACTERS {
            return None;
        }
        let parts: Vec<&str> = text.split(':').collect();
        let [OURS, kind, study, item, code] = parts.as_slice() else { return None };
        let is_hash = |text: &str, digits: usize| {
            text.len() == digits && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'A'..=b'F'))
        };
        let is_code = !code.is_empty()
            && code.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b == b'-');
        (is_hash(study, STUDY_DIGITS) && is_hash(item, ITEM_DIGITS) && is_code).then_some(())?;
        Some(Self {
            study: (*study).to_owned(),
            kind: LabelKind::of_word(kind)?,
            item: (*item).to_owned(),
            code: (*code).to_owned(),
        })
    }

    /// As it is printed.
    pub fn text(&self) -> String {
        let kind = self.kind.word().to_ascii_uppercase();
        [OURS, &kind, &self.study, &self.item, &self.code].join(":")
    }

    /// What it is on.
    pub fn kind(&self) -> LabelKind {
        self.kind
    }

    /// The code of the well, box or strip.
    pub fn code(&self) -> &str {
        &self.code
    }

    /// Whether it names the well, the strip or the strip's box that a step chose.
    pub(crate) fn names(&self, deed: &Deed) -> bool {
        match (deed, self.kind) {
            (Deed::Well { code }, LabelKind::Well) => self.code.eq_ignore_ascii_case(code),
            (Deed::Strip { lot, .. }, LabelKind::Box) => self.code.eq_ignore_ascii_case(lot),
            (Deed::Strip { lot, number }, LabelKind::Strip) => Campaign::lot_and_number(&self.code)
                .is_some_and(|(own, of_own)| own.eq_ignore_ascii_case(lot) && of_own == *number),
            _ => false,
        }
    }

    /// Whether it was printed for this study.
    pub(crate) fn is_of(&self, study: &Digest) -> bool {
        self.study == beginning(study, STUDY_DIGITS)
    }

    /// Whether its code still stands for what it was printed for. A code that the list does not know stands for nothing else.
    pub(crate) fn means_the_same(&self, campaign: &Campaign) -> bool {
        let lot = |code: &str| campaign.lots.iter().find(|lot| lot.code == code);
        let now = match self.kind {
            LabelKind::Well => {
                let well = campaign.wells.iter().find(|well| well.code == self.code);
                well.map(|well| item(&[&well.code, &well.name]))
            }
            LabelKind::Box => lot(&self.code).map(item_of_lot),
            LabelKind::Strip => {
                Campaign::lot_and_number(&self.code).and_then(|(code, _)| lot(code)).map(item_of_lot)
            }
        };
        now.is_none_or(|now| now == self.item)
    }
}

fn item_of_lot(lot: &Lot) -> String {
    item(&[&lot.code, &lot.lot])
}

/// No code or name holds a line break.
fn item(parts: &[&str]) -> String {
    beginning(&Digest::of(parts.join("\n").as_bytes()), ITEM_DIGITS)
}

fn beginning(hash: &Digest, digits: usize) -> String {
    hash.to_string().chars().take(digits).collect::<String>().to_ascii_uppercase()
}

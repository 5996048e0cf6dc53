//! A step as a device hands it in.

use stillwell_study::{Deed, StepTime};

/// A step with its raw file, if it has one, as it comes from a device. All words are checked against the campaign.
#[derive(Debug, Clone, PartialEq)]
pub struct HandedIn<'a> {
    /// Which run: a name that the device drew at random.
    pub run: &'a str,
    /// Place of the step in its run, from 1. Steps that were refused count.
    pub place: u32,
    /// Drawn at random for each step: what tells one handed in twice from two.
    pub key: &'a str,
    /// Which device, as it was paired.
    pub device: &'a str,
    /// When.
    pub when: StepTime,
    /// What.
    pub deed: Handed<'a>,
    /// The text of the label that was scanned for it. It is recorded where it names what was chosen, and is not needed.
    pub label: Option<&'a str>,
}

/// What was done.
#[derive(Debug, Clone, PartialEq)]
pub enum Handed<'a> {
    /// A well was picked or scanned.
    Well(&'a str),
    /// A strip was picked or scanned.
    Strip {
        /// Code of its lot.
        lot: &'a str,
        /// Its number.
        number: u32,
    },
    /// The thermometer was read, °C.
    Temperature(f64),
    /// Rinsing was begun.
    Rinse,
    /// The drop was applied.
    Apply,
    /// The scan was started.
    Start,
    /// The bytes of the scan's file.
    File(&'a [u8]),
    /// The run is given up.
    Abandon(AbandonReason),
}

/// Why a run is given up: a choice, nothing typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AbandonReason {
    /// Another well was meant.
    WrongWell,
    /// Something was spilt or dropped.
    Spilt,
    /// Strip, cable or instrument does not work.
    Broken,
    /// No time, weather, danger.
    HadToLeave,
    /// None of these.
    Other,
}

impl AbandonReason {
    /// All, in the order in which they are offered.
    pub const ALL: [Self; 5] = [Self::WrongWell, Self::Spilt, Self::Broken, Self::HadToLeave, Self::Other];

    /// The word in the ledger and in the keys of texts.
    pub fn word(self) -> &'static str {
        match self {
            Self::WrongWell => "wrong-well",
            Self::Spilt => "spilt",
            Self::Broken => "broken",
            Self::HadToLeave => "had-to-leave",
            Self::Other => "other",
        }
    }

    /// The reason of this word.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|reason| reason.word() == word)
    }
}

/// A step as the state machine takes it: what and when.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What was done.
    pub deed: Deed,
    /// When.
    pub when: StepTime,
}

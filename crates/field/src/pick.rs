//! A label picks from the list: what its picture said is looked up as if it had been picked there, or it is said why it is none
//! of this campaign's. Nothing is recorded: the step that follows says what was done.

use stillwell_study::Study;

use crate::campaign::{Campaign, Known, Lot, Strip, Well};
use crate::desk::Field;
use crate::error::FieldError;
use crate::label::{Label, LabelKind};
use crate::laboratory::World as _;
use crate::refusal::Refusal;
use crate::run::{Run, Stage, Work, strip_for};

/// What a label picks.
#[derive(Debug, Clone, PartialEq)]
pub enum Picked {
    /// A well.
    Well(Known<Well>),
    /// A box: one of its strips is picked from its list.
    Box(Lot),
    /// A strip that may be used now.
    Strip(Known<Strip>),
}

/// Why a label picks nothing.
#[derive(Debug, Clone, PartialEq)]
pub enum Unpicked {
    /// It is none of our labels.
    NoLabel,
    /// It was printed for another study.
    OtherStudy {
        /// The code on it.
        code: String,
    },
    /// Its code stands for something else by now.
    Outdated {
        /// The code on it.
        code: String,
    },
    /// A plate where a strip is asked for.
    WellNow {
        /// The code on it.
        code: String,
    },
    /// A box or strip where a well is asked for.
    StripNow {
        /// The code on it.
        code: String,
    },
    /// What the list says to it.
    Refused(Refusal),
}

impl Unpicked {
    /// Keys of the texts of those that are no refusal of a step.
    pub const TEXTS: [&'static str; 5] =
        ["label-none", "label-other-study", "label-outdated", "label-well-now", "label-strip-now"];

    /// The key of its text, and the words that it names.
    pub fn text(&self) -> (String, Vec<(String, String)>) {
        let with = |key: &str, code: &str| (key.to_owned(), vec![("code".to_owned(), code.to_owned())]);
        match self {
            Self::NoLabel => ("label-none".to_owned(), Vec::new()),
            Self::OtherStudy { code } => with("label-other-study", code),
            Self::Outdated { code } => with("label-outdated", code),
            Self::WellNow { code } => with("label-well-now", code),
            Self::StripNow { code } => with("label-strip-now", code),
            Self::Refused(refusal) => (format!("refusal-{}", refusal.code()), refusal.with()),
        }
    }
}

/// The labels of a campaign.
#[derive(Debug, Clone, PartialEq)]
pub struct Labels {
    /// One for each well, in the order of the campaign.
    pub wells: Vec<(Label, Well)>,
    /// One for each box.
    pub boxes: Vec<(Label, Lot)>,
    /// One for each strip that was not called back.
    pub strips: Vec<(Label, Strip)>,
}

impl Field {
    /// The labels to print.
    pub fn labels(&self) -> Labels {
        let (ledger, campaign) = (self.ledger(), self.campaign());
        let strips_of = |lot: &Lot| {
            let numbers = (lot.numbers[0]..=lot.numbers[1]).filter(|number| !lot.recalled.contains(number));
            let strip = |number| (Label::of_strip(ledger, lot, number), Strip { lot: lot.clone(), number });
            numbers.map(strip).collect::<Vec<_>>()
        };
        Labels {
            wells: campaign.wells.iter().map(|well| (Label::of_well(ledger, well), well.clone())).collect(),
            boxes: campaign.lots.iter().map(|lot| (Label::of_box(ledger, lot), lot.clone())).collect(),
            strips: campaign.lots.iter().flat_map(strips_of).collect(),
        }
    }

    /// What the text of a picture picks for a run as it stands, on a day.
    ///
    /// # Errors
    /// A ledger that cannot be read; inside, why it picks nothing.
    pub fn pick(
        &self,
        study: &Study,
        name: &str,
        text: &str,
        day: &str,
    ) -> Result<Result<Picked, Unpicked>, FieldError> {
        let run = Run::of_record(self.campaign(), &study.field_steps_of(name)?)?;
        let Some(label) = Label::read(text) else { return Ok(Err(Unpicked::NoLabel)) };
        let code = label.code().to_owned();
        if !label.is_of(self.ledger()) {
            return Ok(Err(Unpicked::OtherStudy { code }));
        }
        if !label.means_the_same(self.campaign()) {
            return Ok(Err(Unpicked::Outdated { code }));
        }
        let world = self.world(study, name);
        let picked = match (run.stage(), label.kind()) {
            (Stage::AtWell, LabelKind::Well) => self.campaign().well(&code).map(Picked::Well),
            (Stage::AtWell, _) => return Ok(Err(Unpicked::WellNow { code })),
            (Stage::AtWork { work: Work::Strip, .. }, LabelKind::Well) => {
                return Ok(Err(Unpicked::StripNow { code }));
            }
            (Stage::AtWork { work: Work::Strip, purpose, .. }, LabelKind::Strip) => {
                match Campaign::lot_and_number(&code) {
                    Some(named) => strip_for(self.campaign(), &world, purpose, named, day).map(Picked::Strip),
                    None => return Ok(Err(Unpicked::NoLabel)),
                }
            }
            (Stage::AtWork { work: Work::Strip, purpose, .. }, LabelKind::Box) => {
                self.open_box(&code, day).and_then(|strip| {
                    purpose.same_box(&strip)?;
                    world.calibration_in_force(&strip, day)?;
                    Ok(Picked::Box(strip.lot))
                })
            }
            _ => Err(Refusal::NotNow),
        };
        Ok(picked.map_err(Unpicked::Refused))
    }

    /// The first strip of a box that is on the list and in its time: the box stands or falls with it.
    fn open_box(&self, code: &str, day: &str) -> Result<Strip, Refusal> {
        let campaign = self.campaign();
        let lot = campaign.lots.iter().find(|lot| lot.code == code);
        let lot = lot.ok_or_else(|| Refusal::LotUnknown { code: code.to_owned() })?;
        let number = (lot.numbers[0]..=lot.numbers[1]).find(|number| !lot.recalled.contains(number));
        let known = campaign.strip(code, number.unwrap_or(lot.numbers[0]), day)?;
        Ok(known.get().clone())
    }
}

//! The first question of every result: may this number be trusted? The words are the report room's; here they get their shape.

use stillwell_report::wording::{self, TrustGrade};
use stillwell_study::Shown;

use crate::layout::LinkState;

/// The answer, and what speaks against a plain yes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Trust {
    /// The answer in a few words.
    pub(crate) answer: &'static str,
    /// Its shape.
    pub(crate) state: LinkState,
    /// What stands in the way, each in a sentence.
    pub(crate) because: Vec<String>,
}

/// What a reader may take from a result today.
pub(crate) fn trust(shown: &Shown) -> Trust {
    let wording::Trust { answer, grade, because } = wording::trust(shown);
    let state = match grade {
        TrustGrade::None => LinkState::Stops,
        TrustGrade::WithCare => LinkState::Attention,
        TrustGrade::Full => LinkState::Holds,
    };
    Trust { answer, state, because }
}

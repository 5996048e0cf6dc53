//! The first question of every result: may this number be trusted? The answer only repeats what chain and study say.

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
    let (act, standing) = (&shown.one.act, &shown.one.standing);
    if !standing.counts() {
        let said = standing.withdrawn.as_ref().or(standing.replaced_by.as_ref());
        let said = said.or(standing.approval.as_ref().map(|(_, said)| said));
        let because = said.map(|said| format!("{} by {}: {}", standing.word(), said.by, said.reason));
        return stops("No: it no longer counts", because.into_iter().collect());
    }
    if act.result.numbers.is_none() {
        let refused =
            act.result.findings.iter().filter(|one| one.effect == "refused" && one.overridden.is_none());
        return stops("No number: the chain refused it", refused.map(|one| one.found.clone()).collect());
    }
    if shown.is_withheld() {
        return stops("The number, but no verdict", shown.reasons());
    }
    let mut because = Vec::new();
    if !standing.is_approved() {
        because.push("no approver has put a name to it".to_owned());
    }
    if let Some((label, word)) = &shown.unapproved_calibration {
        because.push(format!("its calibration {label} is {word}"));
    }
    if !because.is_empty() {
        return Trust { answer: "Not yet: NOT APPROVED", state: LinkState::Attention, because };
    }
    let warned = act.result.findings.iter().filter(|one| one.effect == "warning" || one.overridden.is_some());
    let because: Vec<String> = warned.map(|one| one.found.clone()).collect();
    if because.is_empty() {
        return Trust { answer: "Yes, within what the method covers", state: LinkState::Holds, because };
    }
    Trust { answer: "Yes, with this in mind", state: LinkState::Attention, because }
}

fn stops(answer: &'static str, because: Vec<String>) -> Trust {
    Trust { answer, state: LinkState::Stops, because }
}

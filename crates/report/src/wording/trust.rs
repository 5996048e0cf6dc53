//! The first question of every result: may this number be trusted? The answer only repeats what chain and study say.

use stillwell_study::{FindingText, Shown};

/// The answer, and what speaks against a plain yes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trust {
    /// The answer in a few words.
    pub answer: &'static str,
    /// The same as a grade.
    pub grade: TrustGrade,
    /// What stands in the way, each in a sentence.
    pub because: Vec<String>,
}

/// How far a result may be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum TrustGrade {
    /// Nothing may be concluded from it.
    None,
    /// Something must be looked at first.
    WithCare,
    /// Nothing speaks against it.
    Full,
}

/// What a reader may take from a result today.
pub fn trust(shown: &Shown) -> Trust {
    let (act, standing) = (&shown.one.act, &shown.one.standing);
    if !standing.counts() {
        return stops("No: it no longer counts", standing.taken_back().into_iter().collect());
    }
    if act.result.numbers.is_none() {
        return stops("No number: the chain refused it", refusals(&act.result.findings));
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
        return Trust { answer: "Not yet: NOT APPROVED", grade: TrustGrade::WithCare, because };
    }
    let warned = act.result.findings.iter().filter(|one| one.effect == "warning" || one.overridden.is_some());
    let because: Vec<String> = warned.map(|one| one.found.clone()).collect();
    if because.is_empty() {
        return Trust { answer: "Yes, within what the method covers", grade: TrustGrade::Full, because };
    }
    Trust { answer: "Yes, with this in mind", grade: TrustGrade::WithCare, because }
}

/// What was refused, once for each check: scans of one sample are often refused alike.
fn refusals(findings: &[FindingText]) -> Vec<String> {
    let mut by_check: Vec<(&str, &str, usize)> = Vec::new();
    for one in findings.iter().filter(|one| one.effect == "refused" && one.overridden.is_none()) {
        match by_check.iter_mut().find(|(check, _, _)| *check == one.check) {
            Some((_, _, n)) => *n += 1,
            None => by_check.push((&one.check, &one.found, 1)),
        }
    }
    let in_words = |(check, found, n): (&str, &str, usize)| match n {
        1 => format!("{check}: {found}"),
        n => format!("{check}, {n} times: {found}"),
    };
    by_check.into_iter().map(in_words).collect()
}

fn stops(answer: &'static str, because: Vec<String>) -> Trust {
    Trust { answer, grade: TrustGrade::None, because }
}

//! One answer a question, in words: how it stands, since when or on what it rests, and what to do next.

use stillwell_assure::compare::BiasVerdict;
use stillwell_assure::lots::PartVerdict;
use stillwell_assure::validate::{RowVerdict, ValidationRow};
use stillwell_method::{LotFound, LotRefusal, LotReview, ValidationReview};
use stillwell_study::{LaboratoryAct, Numbered};

use super::Compared;
use crate::wording::{counted, moment};

/// How a question of quality stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum AnswerGrade {
    /// There is nothing to judge yet.
    Open,
    /// It holds.
    Holds,
    /// Someone must look.
    Look,
    /// Verdicts are withheld on its account.
    Stops,
}

/// The answer to one question of quality.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// How it stands.
    pub grade: AnswerGrade,
    /// The same in words.
    pub words: String,
    /// Since when, or what it rests on, in a sentence; empty where there is neither.
    pub since: String,
    /// What to do next.
    pub next: String,
}

pub(super) fn answer(
    grade: AnswerGrade,
    words: impl Into<String>,
    since: impl Into<String>,
    next: impl Into<String>,
) -> Answer {
    Answer { grade, words: words.into(), since: since.into(), next: next.into() }
}

/// With a capital at its start and a full stop at its end.
pub(super) fn sentence(words: &str) -> String {
    format!("{}.", capital_start(words))
}

/// Are lots equivalent to the approved calibration?
pub fn lots_answer(lots: &Result<LotReview, LotRefusal>) -> Answer {
    let review = match lots {
        Ok(review) => review,
        Err(why) => {
            return answer(
                AnswerGrade::Open,
                format!("Not compared: {}.", lot_refusal_words(why)),
                "",
                sentence(lot_missing_words(why)),
            );
        }
    };
    let of = |wanted: fn(&PartVerdict) -> bool| -> Vec<&str> {
        let verdict = |found: &&LotFound| {
            found.verdict.as_ref().and_then(|one| one.as_ref().ok()).is_some_and(|one| wanted(&one.verdict))
        };
        review.lots.iter().filter(verdict).map(|found| found.lot.as_str()).collect()
    };
    let same = of(|one| *one == PartVerdict::Equivalent);
    let other = of(|one| *one == PartVerdict::NotEquivalent);
    let open: Vec<&str> = review
        .lots
        .iter()
        .map(|found| found.lot.as_str())
        .filter(|lot| !same.contains(lot) && !other.contains(lot))
        .collect();
    let rests = format!("Held against the approved calibration of {}.", review.approved.label());
    let said =
        |words: &str, lots: &[&str]| (!lots.is_empty()).then(|| format!("{words}: {}", lots.join(", ")));
    let all = [said("not equivalent", &other), said("cannot be said yet", &open), said("equivalent", &same)];
    let words = all.into_iter().flatten().collect::<Vec<_>>().join("; ");
    let words = sentence(&words);
    let next = match (other.is_empty(), open.is_empty()) {
        (false, _) => {
            "Calibrate the lots that are not equivalent, or adjust their sensitivity where that is allowed; until then they may not be read off the approved calibration."
        }
        (true, false) => {
            "Measure more strips of these lots at known levels; until then they may not be read off the approved calibration."
        }
        (true, true) => "Keep a check standard in every batch.",
    };
    let grade = if review.all_equivalent() { AnswerGrade::Holds } else { AnswerGrade::Look };
    answer(grade, words, rests, next)
}

fn capital_start(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn lot_refusal_words(why: &LotRefusal) -> String {
    match why {
        LotRefusal::NoMargin => "the method states no margin for the sensitivity of lots".to_owned(),
        other => other.to_string(),
    }
}

/// What a study lacks for lots to be compared: what its method or run sheets would have to hold.
pub const fn lot_missing_words(why: &LotRefusal) -> &'static str {
    match why {
        LotRefusal::NoMargin => {
            "state lot_margin_percent under [calibration.acceptance] of the method, before the lot is measured"
        }
        LotRefusal::NoCalibration { .. } => {
            "measure the standards of the lot that is to be the approved one; its calibration says why it was not accepted"
        }
        other => other.remedy(),
    }
}

/// What was shown of the method?
pub fn validation_answer(review: &ValidationReview) -> Answer {
    let rows = &review.table.rows;
    let named = |row: &ValidationRow| match row.subject.as_str() {
        "" => row.criterion.name().to_owned(),
        subject => format!("{} ({subject})", row.criterion.name()),
    };
    let of = |wanted: fn(&RowVerdict) -> bool| -> Vec<String> {
        let mut names: Vec<String> = rows.iter().filter(|row| wanted(&row.verdict)).map(named).collect();
        names.dedup();
        names
    };
    let not_met = of(|one| *one == RowVerdict::NotMet);
    let open = of(|one| matches!(one, RowVerdict::NotShown { .. }));
    let n_met = rows.iter().filter(|row| row.verdict == RowVerdict::Met).count();
    let rests = format!(
        "Rests on {} and check standards on {}.",
        counted(review.lots.len(), "accepted calibration"),
        counted(review.n_days, "day")
    );
    let mut words = format!("{n_met} of {} met", counted(rows.len(), "requirement"));
    for (lead, names) in [("; not met: ", &not_met), ("; not shown: ", &open)] {
        if !names.is_empty() {
            words.push_str(lead);
            words.push_str(&names.join(", "));
        }
    }
    let first_open = rows.iter().find_map(|row| match &row.verdict {
        RowVerdict::NotShown { would_show } => {
            Some(format!("{} would be shown by: {would_show}.", capital_start(row.criterion.name())))
        }
        _ => None,
    });
    let next = match (not_met.first(), first_open) {
        (Some(name), _) => {
            format!("Mend what does not meet its requirement ({name}), or let the method claim less.")
        }
        (None, Some(open)) => open,
        (None, None) => {
            "Keep the evidence growing: repeat when strips, operators or waters change.".to_owned()
        }
    };
    let grade = match (review.table.is_met(), n_met) {
        (true, _) => AnswerGrade::Holds,
        (false, 0) if not_met.is_empty() => AnswerGrade::Open,
        _ => AnswerGrade::Look,
    };
    answer(grade, format!("{words}."), rests, next)
}

/// Does an accredited laboratory find the same?
pub fn comparison_answer(compared: &Compared) -> Answer {
    let review = match compared {
        Compared::NoLaboratory => {
            return answer(
                AnswerGrade::Open,
                "Not compared: no laboratory's results are on record.",
                "",
                "Let an accredited laboratory measure some of the same waters, and record its file.",
            );
        }
        Compared::NoMargin { .. } => {
            return answer(
                AnswerGrade::Open,
                "Not compared: the method does not say which bias does not matter.",
                records_words(compared),
                "State bias_percent under [validation] of the method.",
            );
        }
        Compared::Unreadable { why } => {
            let found = why.split("\n  cure: ").next().unwrap_or(why);
            return answer(
                AnswerGrade::Look,
                format!("Not compared: {found}"),
                "",
                "Withdraw the record that is wrong, and record the file anew.",
            );
        }
        Compared::Made { review, .. } => review,
    };
    let since = records_words(compared);
    let found = match &review.comparison {
        Ok(found) => found,
        Err(error) => {
            let next = "See which of the laboratory's results find no partner, and why.";
            return answer(AnswerGrade::Look, format!("Not compared: {error}"), since, next);
        }
    };
    let words = found.words().into_iter().next().unwrap_or_default();
    let alone = match review.alone.len() {
        0 => String::new(),
        1 => " One result of the laboratory finds no partner.".to_owned(),
        n => format!(" {n} results of the laboratory find no partner."),
    };
    let next = match found.advice().into_iter().next() {
        Some(advice) => advice,
        None if !review.alone.is_empty() => {
            "See why results of the laboratory find no partner; what is withheld may be measured again."
                .to_owned()
        }
        None => "Compare again when strips, operators or waters change.".to_owned(),
    };
    let grade = match found.verdict {
        BiasVerdict::WithinMargin if !review.needs_attention() => AnswerGrade::Holds,
        BiasVerdict::TooFew { .. } => AnswerGrade::Open,
        _ => AnswerGrade::Look,
    };
    answer(grade, format!("{}.{alone}", capital_start(&words)), since, next)
}

/// Since when which records hold the laboratory's results.
fn records_words(compared: &Compared) -> String {
    let named =
        |one: &Numbered<LaboratoryAct>| format!("record {} of {} UTC", one.label, moment(&one.record.at_utc));
    let all: Vec<String> = compared.records().iter().map(named).collect();
    format!("Rests on {}.", all.join(", "))
}

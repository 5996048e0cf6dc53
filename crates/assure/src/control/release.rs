//! Which determinations may be released: those between good checks. A bad one withholds back to the last good one, and on to the
//! next.

use super::chart::{Chart, PointState};
use super::wording;

/// How a check came out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CheckOutcome {
    /// It passed.
    Good,
    /// It failed, with what was found.
    Bad {
        /// What was found, with its numbers.
        found: String,
    },
    /// It says nothing either way: refused, or too few points for a chart. It neither vouches nor withholds.
    Silent,
}

/// One event in the order of time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum QualityEvent {
    /// A determination was made.
    Determination {
        /// Its identity.
        id: String,
    },
    /// Something was checked.
    Check {
        /// Which kind: check standard, blank, a chart. Kinds are judged apart from each other.
        kind: String,
        /// How this one is named to people.
        id: String,
        /// How it came out.
        outcome: CheckOutcome,
    },
}

/// What is asked of one kind of check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReleaseRule {
    /// The kind.
    pub kind: String,
    /// Whether a good one must stand before every determination.
    pub before: bool,
    /// Whether a good one must stand after every determination.
    pub after: bool,
}

/// Why a determination is withheld.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reason {
    /// The next check after it failed, so it may have been wrong already.
    FailedAfter {
        /// The failed check.
        check: String,
        /// What was found.
        found: String,
        /// The last good check before, back to which everything is withheld.
        last_good: Option<String>,
    },
    /// The last check before it failed, and none has passed since.
    FailedBefore {
        /// The failed check.
        check: String,
        /// What was found.
        found: String,
    },
    /// No check of this kind stands before it.
    NoneBefore,
    /// No check of this kind stands after it.
    NoneAfter,
}

/// A determination that must be withheld, for one reason of one kind of check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Withheld {
    /// Identity of the determination.
    pub id: String,
    /// The kind of check.
    pub kind: String,
    /// Why.
    pub reason: Reason,
}

impl Withheld {
    /// Why, in a sentence.
    pub fn words(&self) -> String {
        wording::withheld(self)
    }
}

/// The determinations that must be withheld, in the order of the events, each once for every kind of check and reason.
///
/// A determination is released by a kind of check when the nearest check before it and the nearest after it did not fail, and
/// stand there where the rule asks for them. Kinds that no rule names still withhold where they fail.
///
/// # Units
/// Events in order of time; only their order counts.
///
/// # Source
/// Bracketing: common practice of accredited laboratories, no single source; ISO/IEC 17025:2017, 7.7 asks for a rule of this kind.
///
/// # Example
/// ```
/// use stillwell_assure::control::{CheckOutcome, QualityEvent, release};
/// let check = |id: &str, outcome| QualityEvent::Check { kind: "check standard".into(), id: id.into(), outcome };
/// let well = |id: &str| QualityEvent::Determination { id: id.into() };
/// let bad = CheckOutcome::Bad { found: "recovery 88 %".into() };
/// let events = [well("W1"), check("C1", CheckOutcome::Good), well("W2"), check("C2", bad), well("W3")];
/// let withheld: Vec<String> = release(&events, &[]).into_iter().map(|one| one.id).collect();
/// assert_eq!(withheld, ["W2", "W3"]);
/// ```
pub fn release(events: &[QualityEvent], rules: &[ReleaseRule]) -> Vec<Withheld> {
    let mut kinds: Vec<&str> = rules.iter().map(|rule| rule.kind.as_str()).collect();
    for event in events {
        if let QualityEvent::Check { kind, .. } = event
            && !kinds.contains(&kind.as_str())
        {
            kinds.push(kind);
        }
    }
    let mut withheld = Vec::new();
    for (at, event) in events.iter().enumerate() {
        let QualityEvent::Determination { id } = event else { continue };
        for kind in &kinds {
            let rule = rules.iter().find(|rule| rule.kind == **kind);
            let (needs_before, needs_after) = rule.map_or((false, false), |rule| (rule.before, rule.after));
            let before = events[..at].iter().rev().filter_map(|event| spoken(event, kind));
            let after = events[at + 1..].iter().filter_map(|event| spoken(event, kind));
            let reasons = [of_before(before.clone(), needs_before), of_after(before, after, needs_after)];
            withheld.extend(reasons.into_iter().flatten().map(|reason| Withheld {
                id: id.clone(),
                kind: (*kind).to_owned(),
                reason,
            }));
        }
    }
    withheld
}

/// A check of this kind that says something: its name and what was found if it failed.
fn spoken<'a>(event: &'a QualityEvent, kind: &str) -> Option<(&'a str, Option<&'a str>)> {
    match event {
        QualityEvent::Check { kind: own, id, outcome } if own == kind => match outcome {
            CheckOutcome::Good => Some((id, None)),
            CheckOutcome::Bad { found } => Some((id, Some(found))),
            CheckOutcome::Silent => None,
        },
        _ => None,
    }
}

fn of_before<'a>(
    mut before: impl Iterator<Item = (&'a str, Option<&'a str>)>,
    is_needed: bool,
) -> Option<Reason> {
    match before.next() {
        None => is_needed.then_some(Reason::NoneBefore),
        Some((_, None)) => None,
        Some((check, Some(found))) => {
            Some(Reason::FailedBefore { check: check.to_owned(), found: found.to_owned() })
        }
    }
}

fn of_after<'a>(
    mut before: impl Iterator<Item = (&'a str, Option<&'a str>)>,
    mut after: impl Iterator<Item = (&'a str, Option<&'a str>)>,
    is_needed: bool,
) -> Option<Reason> {
    match after.next() {
        None => is_needed.then_some(Reason::NoneAfter),
        Some((_, None)) => None,
        Some((check, Some(found))) => Some(Reason::FailedAfter {
            check: check.to_owned(),
            found: found.to_owned(),
            last_good: before.find(|(_, failed)| failed.is_none()).map(|(good, _)| good.to_owned()),
        }),
    }
}

impl Chart {
    /// How each point of the chart came out, as a check of the chart's name: points of the training period and points that cannot
    /// be judged are silent.
    ///
    /// An alarm that rests on several points makes all of them bad: what it tells of began at the first.
    pub fn outcomes(&self) -> Vec<CheckOutcome> {
        let why = |at: usize| {
            let own = self.alarms.iter().find(|alarm| (alarm.since()..=alarm.until()).contains(&at));
            wording::failed_point(self, own)
        };
        self.states
            .iter()
            .enumerate()
            .map(|(at, state)| match state {
                PointState::OutOfControl => CheckOutcome::Bad { found: why(at) },
                PointState::InControl | PointState::Warning => CheckOutcome::Good,
                PointState::Training | PointState::NotJudged => CheckOutcome::Silent,
            })
            .collect()
    }
}

//! The chain of the whole study: what each link holds, and what of it must be looked at.

use std::collections::BTreeSet;

use stillwell_study::{Overview, Shown};

use crate::layout::{Link, LinkState, Spine};
use crate::wording::{Said, counted};

/// Names of the links in their order.
pub(crate) const SCAN: &str = "Scan";
pub(crate) const SIGNAL: &str = "Signal";
pub(crate) const CALIBRATION: &str = "Calibration";
pub(crate) const CONCENTRATION: &str = "Concentration";
pub(crate) const VERDICT: &str = "Verdict";

/// The spine of a page about the whole study.
pub(crate) fn spine(overview: &Overview, here: Option<&'static str>) -> Spine {
    Spine {
        of: "The study's chain".to_owned(),
        links: vec![
            scans(overview),
            signals(overview),
            calibrations(overview),
            numbers(overview),
            verdicts(overview),
        ],
        here,
    }
}

fn link(name: &'static str, state: LinkState, words: &[String], evidence: &str) -> Link {
    Link { name, state, words: words.join(", "), evidence: evidence.to_owned() }
}

fn scans(overview: &Overview) -> Link {
    let n_scans: usize = overview.series.iter().map(|one| one.act.n_scans).sum();
    let state = if n_scans == 0 { LinkState::Open } else { LinkState::Holds };
    let words = vec![format!("{} in {} series", counted(n_scans, "scan"), overview.series.len())];
    link(SCAN, state, &words, "/scans")
}

/// Scans that issued results and calibrations rest on.
fn signals(overview: &Overview) -> Link {
    let results = overview.results.iter().filter(|shown| shown.one.standing.counts());
    let of_results =
        results.flat_map(|shown| shown.one.act.result.scans.iter().map(|scan| (shown.one.act.series, scan)));
    let calibrations = overview.calibrations.iter().filter(|one| one.standing.counts());
    let of_standards =
        calibrations.flat_map(|one| one.act.result.standards.iter().map(|scan| (one.act.series, scan)));
    let (mut with, mut without) = (BTreeSet::new(), BTreeSet::new());
    for (series, scan) in of_results.chain(of_standards) {
        let found = if scan.signal.is_some() { &mut with } else { &mut without };
        found.insert((series, &scan.scan));
    }
    let state = match (with.len(), without.len()) {
        (0, 0) => LinkState::Open,
        (0, _) => LinkState::Stops,
        (_, 0) => LinkState::Holds,
        _ => LinkState::Attention,
    };
    let mut words = vec![format!("{} with a signal", with.len())];
    if !without.is_empty() {
        words.push(format!("{} without", without.len()));
    }
    link(SIGNAL, state, &words, "/signals")
}

fn calibrations(overview: &Overview) -> Link {
    let counting: Vec<_> = overview.calibrations.iter().filter(|one| one.standing.counts()).collect();
    let n_accepted = counting.iter().filter(|one| one.act.result.accepted).count();
    let n_unapproved = counting.iter().filter(|one| !one.standing.is_approved()).count();
    let n_refused = counting.len() - n_accepted;
    let state = match (counting.len(), n_accepted) {
        (0, _) => LinkState::Open,
        (_, 0) => LinkState::Stops,
        _ if n_unapproved + n_refused > 0 => LinkState::Attention,
        _ => LinkState::Holds,
    };
    let mut words = vec![format!("{n_accepted} accepted")];
    if n_refused > 0 {
        words.push(format!("{n_refused} not accepted"));
    }
    if n_unapproved > 0 {
        words.push(format!("{n_unapproved} not approved"));
    }
    link(CALIBRATION, state, &words, "/calibrations")
}

fn counting(overview: &Overview) -> impl Iterator<Item = &Shown> {
    overview.results.iter().filter(|shown| shown.one.standing.counts())
}

fn numbers(overview: &Overview) -> Link {
    let n = counting(overview).count();
    let n_refused = counting(overview).filter(|shown| shown.one.act.result.numbers.is_none()).count();
    let state = match (n, n_refused) {
        (0, _) => LinkState::Open,
        (n, refused) if n == refused => LinkState::Stops,
        (_, 0) => LinkState::Holds,
        _ => LinkState::Attention,
    };
    let mut words = vec![counted(n - n_refused, "number")];
    if n_refused > 0 {
        words.push(format!("{n_refused} refused"));
    }
    link(CONCENTRATION, state, &words, "/concentrations")
}

/// Results by the gravest thing that is said of each.
fn verdicts(overview: &Overview) -> Link {
    let gravest = |shown: &Shown| {
        let limits = shown.one.act.result.decisions.iter();
        limits.map(|one| Said::of(shown, &one.limit)).min().unwrap_or(Said::Nothing)
    };
    let all: Vec<Said> = counting(overview).map(gravest).collect();
    let n = |said: Said| all.iter().filter(|one| **one == said).count();
    let in_order = [
        Said::Above,
        Said::TooClose,
        Said::Withheld,
        Said::Undecided,
        Said::Refused,
        Said::Below,
        Said::Nothing,
    ];
    let mut words: Vec<String> = in_order
        .into_iter()
        .filter(|said| n(*said) > 0)
        .map(|said| match said {
            Said::Nothing => format!("{} without a limit", n(said)),
            said => format!("{} {}", n(said), said.word()),
        })
        .collect();
    let n_gone = Shown::no_longer_counting(&overview.results).len();
    if n_gone > 0 {
        words.push(format!("{n_gone} no longer counting: unknown"));
    }
    let state = match all.len() + n_gone {
        0 => LinkState::Open,
        n_all if n(Said::Below) == n_all => LinkState::Holds,
        _ => LinkState::Attention,
    };
    link(VERDICT, state, &words, "/results")
}

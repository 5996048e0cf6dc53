//! Whether the drop covered the electrode: the current outside the peak, against what the standards show there.
//!
//! Charging and edge currents belong to the wetted area and not to the analyte. Half an electrode shows half of them, a dry one
//! none; one that is still wetting shows a current more at the beginning. Where the standards show too little of such a
//! current, or too unevenly, nothing can be told, and the check says so.

use std::collections::BTreeMap;

use stillwell_scan::Scan;

use crate::check::Check;
use crate::file::Method;
use crate::finding::{Effect, Finding, refuses, si};
use crate::group::{group_of, median};
use crate::input::Record;
use crate::link::{GroupKey, ScanLink};
use crate::run_sheet::Role;
use crate::sweep::Sweep;

/// Fewest standards' scans that show what is usual (common practice, no source).
const LEAST_STANDARDS: usize = 6;
/// Robust standard deviations of the standards that must lie within the limit, or nothing is judged: where the standards are
/// just even enough, one sound scan in 740 is beyond it (normal distribution; the choice is common practice, no source).
const LEAST_UNITS: f64 = 3.0;
/// Standard deviation over the median of the absolute deviations, of a normal distribution.
const NORMAL_PER_MAD: f64 = 1.4826;

/// Where the current is looked at, and of which column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    First,
    Last,
    /// Half the sum of forward and reverse current of the first points: charging shows in it, not in their difference.
    FirstOfBoth,
    LastOfBoth,
}

impl Place {
    const ALL: [Self; 4] = [Self::First, Self::Last, Self::FirstOfBoth, Self::LastOfBoth];

    fn words(self) -> &'static str {
        match self {
            Self::First => "the first points",
            Self::Last => "the last points",
            Self::FirstOfBoth => "the first points, forward and reverse together,",
            Self::LastOfBoth => "the last points, forward and reverse together,",
        }
    }

    /// The middle current of the end region, A.
    fn current_a(self, method: &Method, scan: &Scan) -> Option<f64> {
        let sweep = Sweep::of(scan, &method.evaluation.peak)?;
        let n = method.trust.end_points as usize;
        let both: Vec<f64>;
        let currents: &[f64] = match self {
            Self::First | Self::Last => sweep.current_a,
            Self::FirstOfBoth | Self::LastOfBoth => {
                let (forward, reverse) = scan.forward_a.as_ref().zip(scan.reverse_a.as_ref())?;
                both = forward.iter().zip(reverse).map(|(f, r)| f64::midpoint(*f, *r)).collect();
                &both
            }
        };
        // Two regions that touch would be one.
        if currents.len() < 3 * n {
            return None;
        }
        let region = match self {
            Self::First | Self::FirstOfBoth => currents.get(..n)?,
            Self::Last | Self::LastOfBoth => currents.get(currents.len() - n..)?,
        };
        median(region.iter().copied().filter(|current| current.is_finite()).collect())
    }
}

/// What the standards of one calibration show at each place.
struct Usual {
    /// Middle current and robust standard deviation of those places that are even enough, A.
    places: Vec<(Place, f64, f64)>,
    /// The largest middle current that is even enough to be judged by itself, A; none where there is none.
    background_a: Option<f64>,
}

/// Refuses scans whose background is not that of a covered electrode, where the method asks for it.
pub(crate) fn check_coverage(method: &Method, records: &[Record<'_>], links: &mut [ScanLink]) {
    let Some(limits) = method.trust.coverage else { return };
    let usual = usual_by_group(method, records, links, limits);
    for (record, link) in records.iter().zip(links) {
        if record.row.role == Role::Blank {
            // A blank may serve several lots; what it subtracts is looked at by the checks of the blank.
            continue;
        }
        let judged = usual.get(&group_of(method, record.row)).and_then(Usual::judgeable);
        let subject = record.row.scan_label();
        if let Some((usual, background_a)) = judged {
            let found = usual.found(method, record.scan, background_a, limits);
            link.findings.extend(
                found.map(|found| Finding::new(Check::DropCoverage, Effect::Refused, subject, found)),
            );
        } else {
            let found =
                "cannot be told: the standards show too little current outside the peak, or too unevenly";
            link.findings.push(Finding::new(Check::DropCoverage, Effect::Noted, subject, found));
        }
    }
}

fn usual_by_group(
    method: &Method,
    records: &[Record<'_>],
    links: &[ScanLink],
    limits: [f64; 2],
) -> BTreeMap<GroupKey, Usual> {
    let mut of_standards: BTreeMap<GroupKey, Vec<&Scan>> = BTreeMap::new();
    for (record, link) in records.iter().zip(links) {
        if record.row.role == Role::Standard && link.counts() && !refuses(&link.findings) {
            of_standards.entry(group_of(method, record.row)).or_default().push(record.scan);
        }
    }
    of_standards.into_iter().map(|(key, scans)| (key, Usual::of(method, &scans, limits))).collect()
}

impl Usual {
    fn of(method: &Method, standards: &[&Scan], [low, _]: [f64; 2]) -> Self {
        let mut places = Vec::new();
        for place in Place::ALL {
            let found: Vec<f64> = standards.iter().filter_map(|scan| place.current_a(method, scan)).collect();
            if found.len() < LEAST_STANDARDS || found.len() < standards.len() {
                continue;
            }
            let Some(middle) = median(found.clone()) else { continue };
            let deviations = found.iter().map(|value| (value - middle).abs()).collect();
            let sd = NORMAL_PER_MAD * median(deviations).unwrap_or(f64::INFINITY);
            places.push((place, middle, sd));
        }
        let own = |(_, middle, sd): &&(Place, f64, f64)| LEAST_UNITS * sd <= (1.0 - low) * middle.abs();
        let background_a = places.iter().filter(own).map(|(_, middle, _)| middle.abs()).fold(0.0, f64::max);
        places.retain(|(_, _, sd)| LEAST_UNITS * sd <= (1.0 - low) * background_a);
        Self { places, background_a: Some(background_a).filter(|background| *background > 0.0) }
    }

    fn judgeable(&self) -> Option<(&Self, f64)> {
        self.background_a.map(|background_a| (self, background_a))
    }

    /// What is off, in words: a place whose current differs from the usual by more than the limits' share of the background.
    fn found(
        &self,
        method: &Method,
        scan: &Scan,
        background_a: f64,
        [low, high]: [f64; 2],
    ) -> Option<String> {
        for (place, middle_a, _) in &self.places {
            let Some(current_a) = place.current_a(method, scan) else {
                return Some(format!("{} hold no current that could be judged", place.words()));
            };
            // Along the direction of the usual current, so that more of it is above 1.
            let along = if *middle_a < 0.0 { -1.0 } else { 1.0 };
            let share = 1.0 + along * (current_a - middle_a) / background_a;
            // Where the usual current is next to nothing, it has no direction: either way is too much.
            let is_small = middle_a.abs() < (1.0 - low) * background_a;
            let is_off = !(share >= low && share <= high) || (is_small && (share - 1.0).abs() > 1.0 - low);
            if is_off {
                return Some(format!(
                    "{} carry {}, those of the standards {}: {:.2} of the usual, limits {low} and {high}",
                    place.words(),
                    si(current_a, "A"),
                    si(*middle_a, "A"),
                    share
                ));
            }
        }
        None
    }
}

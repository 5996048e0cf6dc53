//! Run rules: patterns of points that a process in control shows seldom. Each finding names its rule and since when.

use super::limits::ChartLimits;

/// One rule. A point exactly on a line does not count as beyond it; a point that cannot be judged (censored, excluded) ends a
/// run and is no part of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RunRule {
    /// One point beyond an action limit.
    BeyondAction,
    /// One point beyond a warning limit.
    BeyondWarning,
    /// Two of three points in a row beyond the same warning limit.
    TwoOfThreeBeyondWarning,
    /// Two points in a row beyond the same warning limit.
    TwoInRowBeyondWarning,
    /// Two points in a row, one beyond each warning limit.
    OppositeWarnings,
    /// Four of five points in a row beyond one third of the way to the same action limit.
    FourOfFiveBeyondOneThird,
    /// Four points in a row beyond one third of the way to the same action limit.
    FourInRowBeyondOneThird,
    /// Seven points in a row on one side of the centre.
    SevenOneSide,
    /// Nine points in a row on one side of the centre.
    NineOneSide,
    /// Ten points in a row on one side of the centre.
    TenOneSide,
    /// Six points in a row, each above the one before, or each below.
    SixSteady,
    /// Seven points in a row, each above the one before, or each below.
    SevenSteady,
    /// Fourteen points in a row that go up and down in turn.
    FourteenAlternating,
    /// Fifteen points in a row within one third of the way to the action limits: spread was overestimated, or values were chosen.
    FifteenWithinOneThird,
    /// Eight points in a row outside of one third of the way to the action limits, on both sides: two populations.
    EightOutsideOneThird,
}

impl RunRule {
    /// All of them.
    pub const ALL: [Self; 15] = [
        Self::BeyondAction,
        Self::BeyondWarning,
        Self::TwoOfThreeBeyondWarning,
        Self::TwoInRowBeyondWarning,
        Self::OppositeWarnings,
        Self::FourOfFiveBeyondOneThird,
        Self::FourInRowBeyondOneThird,
        Self::SevenOneSide,
        Self::NineOneSide,
        Self::TenOneSide,
        Self::SixSteady,
        Self::SevenSteady,
        Self::FourteenAlternating,
        Self::FifteenWithinOneThird,
        Self::EightOutsideOneThird,
    ];

    /// Where the rule stands.
    ///
    /// # Source
    /// As said in the text; the shorter set of ISO 7870-2:2013 is from memory.
    pub const fn source(self) -> &'static str {
        match self {
            Self::BeyondAction => "ISO 7870-2:2013; ISO 8258:1991, test 1",
            Self::SevenOneSide | Self::SevenSteady => "ISO 7870-2:2013 (from memory)",
            Self::NineOneSide => "ISO 8258:1991, test 2; Nelson 1984",
            Self::SixSteady => "ISO 8258:1991, test 3; Nelson 1984",
            Self::FourteenAlternating => "ISO 8258:1991, test 4; Nelson 1984",
            Self::TwoOfThreeBeyondWarning => "ISO 8258:1991, test 5; Nelson 1984",
            Self::FourOfFiveBeyondOneThird => "ISO 8258:1991, test 6; Nelson 1984",
            Self::FifteenWithinOneThird => "ISO 8258:1991, test 7; Nelson 1984",
            Self::EightOutsideOneThird => "ISO 8258:1991, test 8; Nelson 1984",
            Self::BeyondWarning
            | Self::TwoInRowBeyondWarning
            | Self::OppositeWarnings
            | Self::FourInRowBeyondOneThird
            | Self::TenOneSide => "Westgard et al. 1981",
        }
    }

    /// Points the rule looks at.
    pub const fn window(self) -> usize {
        match self {
            Self::BeyondAction | Self::BeyondWarning => 1,
            Self::TwoInRowBeyondWarning | Self::OppositeWarnings => 2,
            Self::TwoOfThreeBeyondWarning => 3,
            Self::FourInRowBeyondOneThird => 4,
            Self::FourOfFiveBeyondOneThird => 5,
            Self::SixSteady => 6,
            Self::SevenOneSide | Self::SevenSteady => 7,
            Self::EightOutsideOneThird => 8,
            Self::NineOneSide => 9,
            Self::TenOneSide => 10,
            Self::FourteenAlternating => 14,
            Self::FifteenWithinOneThird => 15,
        }
    }
}

/// Where the points of a finding lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Above the centre, or rising.
    High,
    /// Below the centre, or falling.
    Low,
    /// On both sides, or on none.
    Both,
}

/// A rule that fired, over a stretch of points without a break.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RunFinding {
    /// The rule.
    pub rule: RunRule,
    /// Where its points lie.
    pub side: Side,
    /// First point of the pattern, counted from 0: since when.
    pub since: usize,
    /// The point at which the rule fired first.
    pub fired_at: usize,
    /// The last point at which it still fires.
    pub until: usize,
}

impl RunFinding {
    /// Points of the pattern, from the first to the last.
    pub const fn n_points(&self) -> usize {
        self.until - self.since + 1
    }
}

/// Every finding of `rules` on points in their order; `None` where a point cannot be judged.
///
/// # Units
/// Values in the unit of the limits.
///
/// # Source
/// [`RunRule::source`]. Zones are thirds of the way from the centre to the action limits; the warning limits are those of the chart.
///
/// # Example
/// ```
/// use stillwell_assure::control::{ChartLimits, RunRule, run_findings};
/// let limits = ChartLimits::stated(100.0, 2.0)?;
/// let values = [99.0, 101.2, 107.1, 100.3].map(Some);
/// let found = run_findings(&values, &limits, &[RunRule::BeyondAction]);
/// assert_eq!((found.len(), found[0].since), (1, 2));
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn run_findings(values: &[Option<f64>], limits: &ChartLimits, rules: &[RunRule]) -> Vec<RunFinding> {
    let mut findings: Vec<RunFinding> = Vec::new();
    for rule in rules {
        let first_of_rule = findings.len();
        for at in 0..values.len() {
            let Some((since, side)) = fires(*rule, values, limits, at) else { continue };
            let goes_on = findings[first_of_rule..].last().is_some_and(|last| {
                last.side == side && last.until + 1 == at && (since <= last.until || rule.window() == 1)
            });
            match findings.last_mut().filter(|_| goes_on) {
                Some(last) => last.until = at,
                None => findings.push(RunFinding { rule: *rule, side, since, fired_at: at, until: at }),
            }
        }
    }
    findings.sort_by_key(|finding| (finding.fired_at, finding.rule));
    findings
}

/// Does the rule fire at this point: since which point, and on which side?
fn fires(rule: RunRule, values: &[Option<f64>], limits: &ChartLimits, at: usize) -> Option<(usize, Side)> {
    let first = (at + 1).checked_sub(rule.window())?;
    let window: Vec<f64> = values
        .get(first..=at)?
        .iter()
        .map(|value| value.map(|v| v - limits.centre))
        .collect::<Option<_>>()?;
    let (action, warning) = (limits.action_half_width, limits.warning_half_width);
    let third = action / 3.0;
    let all = |line: f64| same_side(&window, line, window.len());
    let found = match rule {
        RunRule::BeyondAction => all(action),
        RunRule::BeyondWarning | RunRule::TwoInRowBeyondWarning => all(warning),
        RunRule::TwoOfThreeBeyondWarning => same_side(&window, warning, 2),
        RunRule::FourOfFiveBeyondOneThird => same_side(&window, third, 4),
        RunRule::FourInRowBeyondOneThird => all(third),
        RunRule::SevenOneSide | RunRule::NineOneSide | RunRule::TenOneSide => all(0.0),
        RunRule::OppositeWarnings => (window.iter().all(|d| d.abs() > warning)
            && window[0] * window[1] < 0.0)
            .then_some((0, Side::Both)),
        RunRule::SixSteady | RunRule::SevenSteady => steady(&window),
        RunRule::FourteenAlternating => alternating(&window).then_some((0, Side::Both)),
        RunRule::FifteenWithinOneThird => window.iter().all(|d| d.abs() < third).then_some((0, Side::Both)),
        RunRule::EightOutsideOneThird => {
            let is_mixed = window.iter().any(|d| *d > 0.0) && window.iter().any(|d| *d < 0.0);
            (is_mixed && window.iter().all(|d| d.abs() > third)).then_some((0, Side::Both))
        }
    };
    found.map(|(offset, side)| (first + offset, side))
}

/// At least `needed` of the window, the last one among them, beyond a line on one side: the first of them, and the side.
fn same_side(window: &[f64], line: f64, needed: usize) -> Option<(usize, Side)> {
    [(Side::High, 1.0), (Side::Low, -1.0)].into_iter().find_map(|(side, sign)| {
        let is_beyond = |d: &f64| sign * d > line;
        let first = window.iter().position(is_beyond)?;
        let n = window.iter().filter(|d| is_beyond(d)).count();
        (n >= needed && window.last().is_some_and(is_beyond)).then_some((first, side))
    })
}

fn steady(window: &[f64]) -> Option<(usize, Side)> {
    if window.windows(2).all(|pair| pair[1] > pair[0]) {
        Some((0, Side::High))
    } else if window.windows(2).all(|pair| pair[1] < pair[0]) {
        Some((0, Side::Low))
    } else {
        None
    }
}

fn alternating(window: &[f64]) -> bool {
    window.windows(3).all(|three| (three[1] - three[0]) * (three[2] - three[1]) < 0.0)
}

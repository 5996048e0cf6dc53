//! Equivalence of a lot to the approved calibration: two one-sided tests against a stated margin.

use stillwell_stats::distributions::student_t_quantile;

use super::strip::{LotStrip, Ratios};
use super::wording;
use crate::QualityError;
use crate::quality_error::{must_be_finite, must_lie_between};

/// The most strips that are ever advised: beyond it the advice is to calibrate the lot.
const MOST_STRIPS: usize = 200;

/// Chance with which the advised number of strips shows equivalence, if the lot is as it looks now.
const POWER: f64 = 0.8;

/// What is asked of a lot, stated before it is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EquivalenceRule {
    /// Largest difference of sensitivity that does not matter, in % of that of the approved calibration.
    pub margin_percent: f64,
    /// Largest reading of a zero that does not matter, in the unit of the levels; none where zeros are not asked for.
    pub zero_margin: Option<f64>,
    /// Risk of calling a lot equivalent that lies at the margin.
    pub risk: f64,
}

impl EquivalenceRule {
    /// A rule with the usual risk of 5 %.
    pub const fn new(margin_percent: f64, zero_margin: Option<f64>) -> Self {
        Self { margin_percent, zero_margin, risk: 0.05 }
    }

    fn check(&self) -> Result<(), QualityError> {
        must_lie_between("the margin", self.margin_percent, (0.0, 50.0), "above 0 to below 50 %")?;
        must_lie_between("the risk", self.risk, (1e-4, 0.25), "a number from 0.0001 to 0.25, such as 0.05")?;
        self.zero_margin.map_or(Ok(()), |margin| {
            must_lie_between("the margin of the zero", margin, (0.0, f64::INFINITY), "a number above zero")
        })
    }
}

/// Standard uncertainty that all strips of the comparison share: the approved calibration's and that of the levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharedUncertainty {
    /// Relative, of readings above zero: 0.01 is 1 %.
    pub relative: f64,
    /// Of readings of a zero, in the unit of the levels.
    pub at_zero: f64,
    /// How well both are known.
    pub degrees_of_freedom: f64,
}

/// How many strips would settle it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MoreStrips {
    /// So many more, with a chance of 80 % if the lot is as it looks now.
    Needed(usize),
    /// No number shows equivalence: the mean lies at or beyond the margin, or the calibration itself is too uncertain.
    NoNumber,
}

/// What the tests say of one quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PartVerdict {
    /// The whole interval lies within the margin.
    Equivalent,
    /// The whole interval lies beyond the margin.
    NotEquivalent,
    /// The interval holds the margin.
    CannotSay(MoreStrips),
}

/// One quantity held against its margin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Equivalence {
    /// Difference from the approved calibration.
    pub difference: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom.
    pub degrees_of_freedom: f64,
    /// The interval that both one-sided tests look at: 1 − 2 risk.
    pub interval: [f64; 2],
    /// The margin on either side.
    pub margin: f64,
    /// Strips behind it.
    pub n: usize,
    /// What the tests say.
    pub verdict: PartVerdict,
}

/// The verdict on a lot.
#[derive(Debug, Clone, PartialEq)]
pub struct LotVerdict {
    /// The lot.
    pub lot: String,
    /// Its sensitivity, difference in %.
    pub sensitivity: Equivalence,
    /// The reading of its zeros, where they are asked for and there are two or more; in the unit of the levels.
    pub zero: Option<Equivalence>,
    /// Whether zeros are asked for, and fewer than two strips measured one.
    pub lacks_zeros: bool,
    /// The verdict on both together.
    pub verdict: PartVerdict,
    /// Unit of the levels, as it is shown.
    pub unit: String,
}

/// Is a lot equivalent to the approved calibration?
///
/// # Units
/// Levels, readings and the margin of the zero in `unit`.
///
/// # Errors
/// [`QualityError::TooFew`] below two strips above zero, [`QualityError::NotFinite`], [`QualityError::NoSpread`], and
/// [`QualityError::Unusable`] for a rule or a shared uncertainty out of range.
///
/// # Source
/// Two one-sided tests: Schuirmann 1987, J. Pharmacokinet. Biopharm. 15, 657. The uncertainty shared by all strips is added as in
/// JCGM 100:2008, 5.1.2, degrees of freedom after its G.4.1. Number of strips: normal approximation of the power with t quantiles,
/// common practice, no source.
///
/// # Example
/// ```
/// use stillwell_assure::lots::{EquivalenceRule, LotStrip, PartVerdict, SharedUncertainty, lot_equivalence};
/// let strip = |i: usize, found: f64| LotStrip { electrode: format!("e{i}"), level: 50.0, found };
/// let strips: Vec<LotStrip> = [49.6, 50.9, 50.2, 49.1, 50.5, 49.9].iter().enumerate().map(|(i, f)| strip(i, *f)).collect();
/// let shared = SharedUncertainty { relative: 0.008, at_zero: 0.1, degrees_of_freedom: 12.0 };
/// let verdict = lot_equivalence("L8", "mg/L", &strips, shared, EquivalenceRule::new(5.0, None))?;
/// assert_eq!(verdict.verdict, PartVerdict::Equivalent);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn lot_equivalence(
    lot: impl Into<String>,
    unit: impl Into<String>,
    strips: &[LotStrip],
    shared: SharedUncertainty,
    rule: EquivalenceRule,
) -> Result<LotVerdict, QualityError> {
    rule.check()?;
    shared.check()?;
    let ratios = Ratios::of(strips)?;
    let sensitivity = judged(
        Found { difference: 100.0 * (ratios.mean - 1.0), sd: 100.0 * ratios.sd, n: ratios.n },
        // What is wrong with the calibration or the levels scales with the reading.
        100.0 * shared.relative * ratios.mean,
        shared.degrees_of_freedom,
        rule.margin_percent,
        rule.risk,
    );
    let zeros: Vec<f64> = strips.iter().filter(|strip| strip.level == 0.0).map(|strip| strip.found).collect();
    must_be_finite("the readings of zeros", &zeros)?;
    let zero = match rule.zero_margin {
        Some(margin) if zeros.len() >= 2 => {
            let found = Found {
                difference: stillwell_stats::mean(&zeros)?,
                sd: stillwell_stats::standard_deviation(&zeros)?,
                n: zeros.len(),
            };
            Some(judged(found, shared.at_zero, shared.degrees_of_freedom, margin, rule.risk))
        }
        _ => None,
    };
    let lacks_zeros = rule.zero_margin.is_some() && zero.is_none();
    let verdict = together(sensitivity.verdict, zero.map(|zero| zero.verdict), lacks_zeros, zeros.len());
    Ok(LotVerdict { lot: lot.into(), sensitivity, zero, lacks_zeros, verdict, unit: unit.into() })
}

impl SharedUncertainty {
    pub(super) fn check(&self) -> Result<(), QualityError> {
        let usable = "a number from 0 to below 0.5";
        must_lie_between("the shared relative uncertainty", self.relative, (-1e-300, 0.5), usable)?;
        must_lie_between(
            "the shared uncertainty of a zero",
            self.at_zero,
            (-1e-300, f64::INFINITY),
            "0 or more",
        )?;
        let is_usable = self.degrees_of_freedom > 0.0;
        if is_usable {
            Ok(())
        } else {
            Err(QualityError::Unusable {
                what: "the degrees of freedom of the shared uncertainty",
                found: self.degrees_of_freedom,
                accepted: "a number above zero",
            })
        }
    }
}

#[derive(Clone, Copy)]
struct Found {
    difference: f64,
    sd: f64,
    n: usize,
}

/// Combined standard uncertainty of the mean of `n` strips and its degrees of freedom.
fn combined(sd: f64, n: usize, shared: f64, shared_df: f64) -> (f64, f64) {
    let own = sd * sd / n as f64;
    let all = own + shared * shared;
    let doubt = own * own / (n as f64 - 1.0) + shared * shared * shared * shared / shared_df;
    let df = if doubt > 0.0 { all * all / doubt } else { f64::from(u32::MAX) };
    (libm::sqrt(all), f64::min(df, 1e6))
}

fn judged(found: Found, shared: f64, shared_df: f64, margin: f64, risk: f64) -> Equivalence {
    let (u, df) = combined(found.sd, found.n, shared, shared_df);
    let half = student_t_quantile(1.0 - risk, df) * u;
    let interval = [found.difference - half, found.difference + half];
    let verdict = if -margin < interval[0] && interval[1] < margin {
        PartVerdict::Equivalent
    } else if interval[1] < -margin || interval[0] > margin {
        PartVerdict::NotEquivalent
    } else {
        PartVerdict::CannotSay(more_strips(found, shared, shared_df, margin, risk))
    };
    Equivalence {
        difference: found.difference,
        standard_uncertainty: u,
        degrees_of_freedom: df,
        interval,
        margin,
        n: found.n,
        verdict,
    }
}

/// The fewest strips with which both tests would pass with the stated power.
fn more_strips(found: Found, shared: f64, shared_df: f64, margin: f64, risk: f64) -> MoreStrips {
    let suffices = |n: usize| {
        let (u, df) = combined(found.sd, n, shared, shared_df);
        // Both tests must pass, and a lot in the middle may fail either.
        let t = student_t_quantile(1.0 - risk, df) + student_t_quantile(0.5 + 0.5 * POWER, df);
        found.difference.abs() + t * u < margin
    };
    if !suffices(MOST_STRIPS) {
        return MoreStrips::NoNumber;
    }
    let (mut too_few, mut enough) = (found.n, MOST_STRIPS);
    while enough - too_few > 1 {
        let middle = usize::midpoint(too_few, enough);
        if suffices(middle) { enough = middle } else { too_few = middle }
    }
    MoreStrips::Needed(enough - found.n)
}

/// How many strips would show that a lot is equivalent which is: asked before strips are spent.
///
/// # Units
/// `strip_relative_sd` relative (0.04 is 4 %); none where no number up to 200 does, because the shared uncertainty is too large.
///
/// # Errors
/// [`QualityError::Unusable`] for numbers out of range.
///
/// # Source
/// As [`lot_equivalence`].
///
/// # Example
/// ```
/// use stillwell_assure::lots::{EquivalenceRule, SharedUncertainty, strips_for_an_equal_lot};
/// let shared = SharedUncertainty { relative: 0.01, at_zero: 0.1, degrees_of_freedom: 12.0 };
/// let rule = EquivalenceRule::new(5.0, None);
/// assert_eq!(strips_for_an_equal_lot(rule, shared, 0.04)?, Some(10));
/// assert_eq!(strips_for_an_equal_lot(EquivalenceRule::new(2.0, None), shared, 0.04)?, None);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn strips_for_an_equal_lot(
    rule: EquivalenceRule,
    shared: SharedUncertainty,
    strip_relative_sd: f64,
) -> Result<Option<usize>, QualityError> {
    rule.check()?;
    shared.check()?;
    must_lie_between("the strips' scatter", strip_relative_sd, (0.0, 1.0), "above 0 to below 1")?;
    let found = Found { difference: 0.0, sd: 100.0 * strip_relative_sd, n: 1 };
    let needed = more_strips(
        found,
        100.0 * shared.relative,
        shared.degrees_of_freedom,
        rule.margin_percent,
        rule.risk,
    );
    Ok(match needed {
        MoreStrips::Needed(more) => Some(more + 1),
        MoreStrips::NoNumber => None,
    })
}

fn together(
    sensitivity: PartVerdict,
    zero: Option<PartVerdict>,
    lacks_zeros: bool,
    n_zeros: usize,
) -> PartVerdict {
    let parts = [Some(sensitivity), zero];
    let parts = parts.into_iter().flatten();
    let mut verdict = PartVerdict::Equivalent;
    for part in parts {
        verdict = match (verdict, part) {
            (PartVerdict::NotEquivalent, _) | (_, PartVerdict::NotEquivalent) => PartVerdict::NotEquivalent,
            (PartVerdict::Equivalent, other) | (other, PartVerdict::Equivalent) => other,
            (PartVerdict::CannotSay(a), PartVerdict::CannotSay(b)) => PartVerdict::CannotSay(more(a, b)),
        };
    }
    if verdict == PartVerdict::Equivalent && lacks_zeros {
        return PartVerdict::CannotSay(MoreStrips::Needed(2 - n_zeros.min(1)));
    }
    verdict
}

const fn more(a: MoreStrips, b: MoreStrips) -> MoreStrips {
    match (a, b) {
        (MoreStrips::Needed(a), MoreStrips::Needed(b)) => MoreStrips::Needed(if a > b { a } else { b }),
        _ => MoreStrips::NoNumber,
    }
}

impl LotVerdict {
    /// The verdict in sentences, with its numbers and what to do.
    pub fn words(&self) -> String {
        wording::lot(self)
    }
}

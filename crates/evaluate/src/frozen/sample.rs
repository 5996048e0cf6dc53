//! One sample: from the signals of its electrodes to concentration, interval and verdicts.

use super::mean::exact_mean;
use super::scan::{FrozenReason, ScanOutcome, ScanResult};
use super::{FrozenLot, FrozenMethod};
use crate::curve::{prediction_half_width_a, signal_at};
use crate::inverse::{Inverse, InverseFault, inverse};
use crate::verdict::{VerdictCode, verdict};
use libm::sqrt;

/// Most electrodes of a sample.
pub const MOST_ELECTRODES: usize = 6;
/// Most scans of an electrode.
pub const MOST_SCANS: usize = 4;

/// How a method treats temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TemperatureFreeze {
    /// Lowest and highest temperature that it covers (°C).
    pub span_c: [f64; 2],
    /// Difference to the calibration that is left alone (K).
    pub tolerance_k: f64,
    /// Relative change of the signal per K and its standard uncertainty, if known.
    pub coefficient_per_k: Option<(f64, f64)>,
}

/// One step from the method's unit to a limit's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Conversion {
    /// Times this.
    Times(f64),
    /// Over this.
    Over(f64),
}

/// A limit that verdicts are drawn against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrozenLimit {
    /// In its own unit.
    pub limit: f64,
    /// From the method's unit to it, in this order.
    pub steps: [Option<Conversion>; 3],
    /// Whether the measured substance can show: below, above, too close to call.
    pub can_show: [bool; 3],
}

/// Under what conditions a sample was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Temperature (°C), if known.
    pub temperature_c: Option<f64>,
    /// Dilution factor, 1 for an undiluted sample.
    pub dilution_factor: f64,
    /// Its standard uncertainty.
    pub dilution_u: f64,
    /// Days since 1970-01-01; none: the clock is not set.
    pub today: Option<u32>,
    /// An electrode control of this lot and day showed a living electrode.
    pub control_alive: bool,
}

/// What came of a sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SampleOutcome {
    /// A number: value, low, high.
    Quantified,
    /// Detected; less than this.
    BelowQuantification(f64),
    /// Not detected; less than this.
    NotDetected(f64),
    /// At least this.
    AboveRange(f64),
    /// Nothing is known.
    Refused(SampleRefusal),
}

/// Why a sample is refused.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SampleRefusal {
    /// No scan gave a signal.
    NoScan,
    /// A refused scan would bias the rest.
    Condemned,
    /// Temperature not stated, outside the span, or too far from the calibration's.
    Temperature,
    /// The calibration bounds no level.
    Unresolved(InverseFault),
    /// No peak in some scans, yet above the range.
    NoPeakAbove,
    /// Further below zero than chance allows.
    Negative,
    /// Nothing detected, and no living control.
    NoControl,
    /// No peak, yet above the decision limit.
    NoPeakDetected,
    /// No detection limit for so few electrodes.
    NoClaim,
    /// Numbers left the range of a f64.
    NumberRange,
}

/// A finished sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SampleResult {
    /// What came of it.
    pub outcome: SampleOutcome,
    /// Mean of the electrodes at the calibration's temperature.
    pub mean_signal: f64,
    /// The factor that brought the signals there.
    pub factor: f64,
    /// Level in the measured solution with its interval: value, low, high; 0 where there is none.
    pub level: [f64; 3],
    /// Standard uncertainty of the level, to first order.
    pub standard_u: f64,
    /// The same in the sample, with all parts: value, low, high.
    pub interval: [f64; 3],
    /// Variance ratio of the electrodes, and its limit; none for one electrode.
    pub disagreement: Option<[f64; 2]>,
    /// Electrodes and scans that count.
    pub n_electrodes: u32,
    /// Scans behind them.
    pub n_scans: u32,
    /// Bits of what withholds the verdict: one electrode, disagreement, lot expired, no clock.
    pub withheld: u32,
    /// Bits of warnings: few electrodes, scans left out, dilution without uncertainty, temperature corrected.
    pub warnings: u32,
}

const WITHHELD_ONE_ELECTRODE: u32 = 1;
const WITHHELD_DISAGREEMENT: u32 = 2;
const WITHHELD_LOT_EXPIRED: u32 = 4;
const WITHHELD_NO_CLOCK: u32 = 8;
const WARNS_FEW_ELECTRODES: u32 = 1;
const WARNS_SCANS_LEFT_OUT: u32 = 2;
const WARNS_DILUTION: u32 = 4;
const WARNS_TEMPERATURE: u32 = 8;

/// A sample in the making.
#[derive(Debug, Clone, Copy)]
pub struct SampleRun<'m> {
    method: &'m FrozenMethod<'m>,
    lot: &'m FrozenLot<'m>,
    conditions: Conditions,
    signals: [[f64; MOST_SCANS]; MOST_ELECTRODES],
    n_scans: [usize; MOST_ELECTRODES],
    n_without_peak: u32,
    n_refused: u32,
    condemned: bool,
}

/// The means of the electrodes.
struct Means {
    mean: [f64; MOST_ELECTRODES],
    n_scans: [usize; MOST_ELECTRODES],
    n: usize,
    overall: f64,
}

/// Relative standard uncertainties that the calibration's interval does not hold.
#[derive(Clone, Copy)]
struct Relative {
    levels: f64,
    temperature: f64,
    dilution: f64,
}

impl<'m> SampleRun<'m> {
    /// Begins a sample; none where dilution factor or uncertainty are no possible numbers.
    ///
    /// # Units
    /// As [`Conditions`] says.
    ///
    /// # Source
    /// Each step names its own.
    pub fn begin(
        method: &'m FrozenMethod<'m>,
        lot: &'m FrozenLot<'m>,
        conditions: Conditions,
    ) -> Option<Self> {
        let Conditions { dilution_factor, dilution_u, .. } = conditions;
        let possible = dilution_factor.is_finite() && dilution_u.is_finite();
        (possible && dilution_factor >= 1.0 && dilution_u >= 0.0).then_some(Self {
            method,
            lot,
            conditions,
            signals: [[0.0; MOST_SCANS]; MOST_ELECTRODES],
            n_scans: [0; MOST_ELECTRODES],
            n_without_peak: 0,
            n_refused: 0,
            condemned: false,
        })
    }

    /// Takes a finished scan of one electrode; false where there is no place for it.
    ///
    /// # Source
    /// Common practice, no source.
    pub fn add(&mut self, electrode: usize, result: &ScanResult) -> bool {
        let Some(n_scans) = self.n_scans.get_mut(electrode) else { return false };
        if *n_scans >= MOST_SCANS {
            return false;
        }
        if let Some(signal) = result.signal {
            self.signals[electrode][*n_scans] = signal.signal_a;
            *n_scans += 1;
            self.n_without_peak += u32::from(result.outcome == ScanOutcome::SignalAtPlace);
        } else {
            self.n_refused += 1;
            self.condemned |= result.reasons.contains(FrozenReason::CondemnsSample);
        }
        true
    }

    /// Concentration, interval and what can be said.
    ///
    /// # Units
    /// Levels and interval in the method's reporting unit.
    ///
    /// # Errors
    /// None: a refusal is an outcome.
    ///
    /// # Source
    /// Fieller's interval ([`inverse`]); half widths in quadrature: JCGM 100:2008, 5.1.2; nested means: two-stage design.
    pub fn finish(self) -> SampleResult {
        let mut result = SampleResult {
            outcome: SampleOutcome::Refused(SampleRefusal::NoScan),
            mean_signal: 0.0,
            factor: 1.0,
            level: [0.0; 3],
            standard_u: 0.0,
            interval: [0.0; 3],
            disagreement: None,
            n_electrodes: 0,
            n_scans: self.n_scans.iter().fold(0, |sum, n| sum + count(*n)),
            withheld: 0,
            warnings: 0,
        };
        if self.condemned {
            result.outcome = SampleOutcome::Refused(SampleRefusal::Condemned);
            return result;
        }
        if result.n_scans == 0 {
            return result;
        }
        let Some((factor, temperature)) = self.temperature_factor() else {
            result.outcome = SampleOutcome::Refused(SampleRefusal::Temperature);
            return result;
        };
        let means = self.means(factor);
        (result.factor, result.mean_signal) = (factor, means.overall);
        let relative = Relative {
            levels: self.method.level_relative_u,
            temperature,
            dilution: self.conditions.dilution_u / self.conditions.dilution_factor,
        };
        self.remark(&means, &mut result);
        result.outcome = match self.read_off(&means, relative, &mut result) {
            Ok(outcome) => outcome,
            Err(refusal) => SampleOutcome::Refused(refusal),
        };
        result
    }

    /// signal(T) = signal(T₀) (1 + a (T − T₀)): the factor to T₀ and its relative uncertainty.
    fn temperature_factor(&self) -> Option<(f64, f64)> {
        let Some(rule) = self.method.temperature else { return Some((1.0, 0.0)) };
        let [low, high] = rule.span_c;
        let sample_c = self.conditions.temperature_c.filter(|at_c| at_c.is_finite())?;
        if sample_c < low || sample_c > high {
            return None;
        }
        let difference_k = sample_c - self.lot.temperature_c?;
        let is_near = difference_k.abs() <= rule.tolerance_k;
        let Some((per_k, u_per_k)) = rule.coefficient_per_k else { return is_near.then_some((1.0, 0.0)) };
        if is_near {
            return Some((1.0, (per_k * difference_k).abs() / sqrt(3.0)));
        }
        let relative = 1.0 + per_k * difference_k;
        (relative > 0.0).then(|| (1.0 / relative, (u_per_k * difference_k / relative).abs()))
    }

    fn means(&self, factor: f64) -> Means {
        let mut means =
            Means { mean: [0.0; MOST_ELECTRODES], n_scans: [0; MOST_ELECTRODES], n: 0, overall: 0.0 };
        for (signals, &n) in self.signals.iter().zip(&self.n_scans).filter(|(_, n)| **n > 0) {
            let mut at_factor = signals.map(|signal| signal * factor);
            let signals = &mut at_factor[..n];
            signals.sort_unstable_by(f64::total_cmp);
            (means.mean[means.n], means.n_scans[means.n]) = (exact_mean(signals), n);
            means.n += 1;
        }
        means.overall = exact_mean(&means.mean[..means.n]);
        means
    }

    fn remark(&self, means: &Means, result: &mut SampleResult) {
        let conditions = &self.conditions;
        result.n_electrodes = count(means.n);
        if result.n_electrodes < self.method.electrodes {
            result.warnings |= WARNS_FEW_ELECTRODES;
            // Nothing shows that one electrode of several was half covered.
            result.withheld |= if means.n == 1 { WITHHELD_ONE_ELECTRODE } else { 0 };
        }
        result.warnings |= if self.n_refused > 0 { WARNS_SCANS_LEFT_OUT } else { 0 };
        let without_u = conditions.dilution_factor > 1.0 && conditions.dilution_u == 0.0;
        result.warnings |= if without_u { WARNS_DILUTION } else { 0 };
        result.warnings |= if (result.factor - 1.0).abs() > 0.0 { WARNS_TEMPERATURE } else { 0 };
        result.withheld |= match conditions.today {
            None => WITHHELD_NO_CLOCK,
            Some(today) if today < self.lot.first_day || today > self.lot.last_day => WITHHELD_LOT_EXPIRED,
            Some(_) => 0,
        };
    }

    /// Extra variance of the mean signal: for fewer scans than the standards had, and where electrodes disagree.
    fn extra_variance_a2(&self, means: &Means, result: &mut SampleResult) -> f64 {
        let (lot, curve, m) = (self.lot, &self.lot.curve, means.n as f64);
        let level = self.level_of(means.overall);
        let relative = curve.relative_variance_at(level);
        let of_electrodes = curve.residual_sd * curve.residual_sd * relative / m;
        let missing = means.n_scans[..means.n]
            .iter()
            .fold(0.0, |sum, &n| sum + zero_or_more(1.0 / n as f64 - 1.0 / lot.scans_per_electrode));
        let of_fewer_scans = lot.scan_variance_a2 * relative * missing / (m * m);
        if means.n < 2 {
            return of_fewer_scans + 0.0;
        }
        let [v0, v1, v2] = curve.relative_variance;
        let expected = if level > curve.level_max { v0 + level * (v1 + level * v2) } else { relative };
        let squares = means.mean[..means.n]
            .iter()
            .fold(0.0, |sum, mean| sum + (mean - means.overall) * (mean - means.overall));
        let found = squares / (m - 1.0);
        let ratio = found / (lot.electrode_variance_a2 * expected + of_fewer_scans * m);
        let limit = lot.claims.get(means.n - 1).map_or(0.0, |claim| claim.disagreement_limit);
        result.disagreement = Some([ratio, limit]);
        let mut of_disagreement = 0.0;
        if ratio > limit {
            of_disagreement = zero_or_more(found / m - of_electrodes - of_fewer_scans);
            result.withheld |= WITHHELD_DISAGREEMENT;
        }
        of_fewer_scans + of_disagreement
    }

    /// The level of a signal on the curve; the end of the range where there is none.
    fn level_of(&self, signal_a: f64) -> f64 {
        let curve = &self.lot.curve;
        let [c0, c1, c2] = curve.coefficients;
        let level = if c2 == 0.0 {
            (signal_a - c0) / c1
        } else {
            let above_lowest = signal_a - signal_at(curve, curve.level_min);
            let slope = c1 + 2.0 * c2 * curve.level_min;
            let root = sqrt(slope * slope + 4.0 * c2 * above_lowest);
            curve.level_min + 2.0 * above_lowest / (slope + if slope < 0.0 { -root } else { root })
        };
        if level.is_finite() { level } else { curve.level_max }
    }

    fn read_off(
        &self,
        means: &Means,
        relative: Relative,
        result: &mut SampleResult,
    ) -> Result<SampleOutcome, SampleRefusal> {
        let extra_a2 = self.extra_variance_a2(means, result);
        if !(means.overall.is_finite() && extra_a2.is_finite()) {
            return Err(SampleRefusal::NumberRange);
        }
        let curve = &self.lot.curve;
        match inverse(curve, means.overall, count(means.n), extra_a2) {
            Inverse::Unresolved(fault) => Err(SampleRefusal::Unresolved(fault)),
            Inverse::Above { low } => {
                result.level = [0.0, low, 0.0];
                self.above_range(low, relative)
            }
            Inverse::Within { value, low, high } | Inverse::Below { value, low, high } => {
                result.level = [value, low, high];
                let at = if value > curve.level_min { value } else { curve.level_min };
                let [_, c1, c2] = curve.coefficients;
                let half_a = prediction_half_width_a(curve, value, count(means.n), extra_a2);
                result.standard_u = half_a / curve.t_quantile / (c1 + 2.0 * c2 * at).abs();
                result.interval = self.widened([value, low, high], relative);
                self.within_or_below(value, result)
            }
        }
    }

    fn above_range(&self, low: f64, relative: Relative) -> Result<SampleOutcome, SampleRefusal> {
        if self.n_without_peak > 0 {
            return Err(SampleRefusal::NoPeakAbove);
        }
        let Relative { levels, temperature, dilution } = relative;
        let sum = levels * levels + temperature * temperature + dilution * dilution;
        let left = zero_or_more(1.0 - self.lot.curve.t_quantile * sqrt(sum));
        let bound = low * left * self.conditions.dilution_factor;
        if bound.is_finite() { Ok(SampleOutcome::AboveRange(bound)) } else { Err(SampleRefusal::NumberRange) }
    }

    /// Half widths are added in quadrature; then the dilution.
    fn widened(&self, [value, low, high]: [f64; 3], relative: Relative) -> [f64; 3] {
        let (t, dilution) = (self.lot.curve.t_quantile, self.conditions.dilution_factor);
        let parts =
            [relative.levels, relative.temperature, relative.dilution].map(|part| t * part * value.abs());
        let in_quadrature =
            |first: f64| sqrt(parts.iter().fold(first * first, |sum, part| sum + part * part));
        let (below, above) = (in_quadrature(value - low), in_quadrature(high - value));
        [value * dilution, (value - below) * dilution, (value + above) * dilution]
    }

    fn within_or_below(&self, value: f64, result: &SampleResult) -> Result<SampleOutcome, SampleRefusal> {
        let n = result.n_electrodes as usize;
        let claim = n.checked_sub(1).and_then(|n| self.lot.claims.get(n)).ok_or(SampleRefusal::NoClaim)?;
        let [issued, _, high] = result.interval;
        let less_than = |limit: f64| {
            let limit = limit * self.conditions.dilution_factor;
            let bound = if limit > high { limit } else { high };
            if bound.is_finite() { Ok(bound) } else { Err(SampleRefusal::NumberRange) }
        };
        let level_min = self.lot.curve.level_min;
        let quantified_from =
            if claim.quantification_limit > level_min { claim.quantification_limit } else { level_min };
        if value < -claim.detection_limit {
            Err(SampleRefusal::Negative)
        } else if value < claim.decision_limit {
            if !self.conditions.control_alive {
                return Err(SampleRefusal::NoControl);
            }
            less_than(claim.detection_limit).map(SampleOutcome::NotDetected)
        } else if self.n_without_peak > 0 {
            Err(SampleRefusal::NoPeakDetected)
        } else if value < quantified_from {
            less_than(quantified_from).map(SampleOutcome::BelowQuantification)
        } else if issued.is_finite() {
            Ok(SampleOutcome::Quantified)
        } else {
            Err(SampleRefusal::NumberRange)
        }
    }
}

impl SampleResult {
    /// The decision on one limit, before anything is withheld.
    ///
    /// # Units
    /// The limit's own.
    ///
    /// # Source
    /// As [`verdict`].
    pub fn decided(&self, limit: &FrozenLimit) -> VerdictCode {
        let bound = |x: f64, shows: fn(f64, f64) -> bool, code: VerdictCode| match converted(limit, x) {
            Some(x) if shows(x, limit.limit) => code,
            _ => VerdictCode::NotDecidable,
        };
        let code = match self.outcome {
            SampleOutcome::Quantified => self.decided_by_interval(limit),
            SampleOutcome::AboveRange(at_least) => bound(at_least, |x, limit| x > limit, VerdictCode::Above),
            SampleOutcome::BelowQuantification(less) | SampleOutcome::NotDetected(less) => {
                bound(less, |x, limit| x <= limit, VerdictCode::Below)
            }
            SampleOutcome::Refused(_) => VerdictCode::NotDecidable,
        };
        let [below, above, too_close] = limit.can_show;
        let shown = match code {
            VerdictCode::Below => below,
            VerdictCode::Above => above,
            VerdictCode::TooCloseToCall => too_close,
            VerdictCode::NotDecidable => true,
        };
        if shown { code } else { VerdictCode::NotDecidable }
    }

    fn decided_by_interval(&self, limit: &FrozenLimit) -> VerdictCode {
        let [value, low, high] = self.interval;
        let is_interval = low.is_finite() && high.is_finite() && low <= value && value <= high;
        let ends = (converted(limit, low), converted(limit, value), converted(limit, high));
        match ends {
            (Some(low), Some(_), Some(high)) if is_interval => verdict(low, high, limit.limit),
            _ => VerdictCode::NotDecidable,
        }
    }
}

/// In the limit's own unit; none where the number leaves the range of a f64.
fn converted(limit: &FrozenLimit, value: f64) -> Option<f64> {
    let found = limit.steps.iter().flatten().fold(value, |value, step| match *step {
        Conversion::Times(factor) => value * factor,
        Conversion::Over(divisor) => value / divisor,
    });
    Some(found).filter(|found| found.is_finite())
}

fn zero_or_more(x: f64) -> f64 {
    if x > 0.0 { x } else { 0.0 }
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

//! One sample: from the signals of its electrodes to concentration, interval and verdicts.

use super::scan::{FrozenReason, ScanOutcome, ScanResult};
use super::{FrozenLot, FrozenMethod};
use crate::claim::{ClaimLimits, Standing};
use crate::inverse::{Inverse, InverseFault, inverse};
use crate::mean::{electrode_mean, exact_mean};
use crate::spread::{ElectrodeMean, MeanSpread};
use crate::temperature::{TemperatureCorrection, TemperatureRefusal};
use crate::verdict::{VerdictCode, verdict};
use crate::widening::RelativeUncertainty;

/// Most electrodes of a sample.
pub const MOST_ELECTRODES: usize = 6;
/// Most scans of an electrode.
pub const MOST_SCANS: usize = 4;

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

/// The means of the electrodes, and of those.
struct Means {
    electrodes: [ElectrodeMean; MOST_ELECTRODES],
    n: usize,
    overall: f64,
}

impl Means {
    fn electrodes(&self) -> &[ElectrodeMean] {
        &self.electrodes[..self.n]
    }
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
        let Ok(TemperatureCorrection { factor, relative_u }) = self.at_calibration_temperature() else {
            result.outcome = SampleOutcome::Refused(SampleRefusal::Temperature);
            return result;
        };
        let means = self.means(factor);
        (result.factor, result.mean_signal) = (factor, means.overall);
        let relative = RelativeUncertainty {
            levels: self.method.level_relative_u,
            temperature: relative_u,
            dilution: self.conditions.dilution_u / self.conditions.dilution_factor,
        };
        self.remark(&means, &mut result);
        result.outcome = match self.read_off(&means, relative, &mut result) {
            Ok(outcome) => outcome,
            Err(refusal) => SampleOutcome::Refused(refusal),
        };
        result
    }

    fn at_calibration_temperature(&self) -> Result<TemperatureCorrection, TemperatureRefusal> {
        match self.method.temperature {
            Some(rule) => rule.correction(self.conditions.temperature_c, self.lot.temperature_c),
            None => Ok(TemperatureCorrection::NONE),
        }
    }

    fn means(&self, factor: f64) -> Means {
        let mut electrodes = [ElectrodeMean::default(); MOST_ELECTRODES];
        let mut overall = [0.0; MOST_ELECTRODES];
        let mut n = 0;
        for (signals, &n_scans) in self.signals.iter().zip(&self.n_scans).filter(|(_, n)| **n > 0) {
            let mut at_factor = signals.map(|signal| signal * factor);
            overall[n] = electrode_mean(&mut at_factor[..n_scans]);
            electrodes[n] = ElectrodeMean { mean_signal_a: overall[n], n_scans };
            n += 1;
        }
        Means { electrodes, n, overall: exact_mean(&overall[..n]) }
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

    fn spread(&self, means: &Means, result: &mut SampleResult) -> MeanSpread {
        let lot = self.lot;
        let limit = lot.claims.get(means.n - 1).map_or(0.0, |claim| claim.disagreement_limit);
        let spread = MeanSpread::of(&lot.curve, &lot.spread, means.electrodes(), means.overall, limit);
        result.disagreement = spread.ratio.map(|ratio| [ratio, limit]);
        result.withheld |= if spread.disagrees { WITHHELD_DISAGREEMENT } else { 0 };
        spread
    }

    fn read_off(
        &self,
        means: &Means,
        relative: RelativeUncertainty,
        result: &mut SampleResult,
    ) -> Result<SampleOutcome, SampleRefusal> {
        let spread = self.spread(means, result);
        let extra_a2 = spread.extra_variance_a2();
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
                result.standard_u = spread.in_levels(curve, value, count(means.n)).combined;
                let dilution = self.conditions.dilution_factor;
                result.interval = relative.widened(curve.t_quantile, result.level, dilution).interval;
                self.within_or_below(value, result)
            }
        }
    }

    fn above_range(&self, low: f64, relative: RelativeUncertainty) -> Result<SampleOutcome, SampleRefusal> {
        if self.n_without_peak > 0 {
            return Err(SampleRefusal::NoPeakAbove);
        }
        let bound = relative.lowered(self.lot.curve.t_quantile, low, self.conditions.dilution_factor);
        if bound.is_finite() { Ok(SampleOutcome::AboveRange(bound)) } else { Err(SampleRefusal::NumberRange) }
    }

    fn within_or_below(&self, value: f64, result: &SampleResult) -> Result<SampleOutcome, SampleRefusal> {
        let n = result.n_electrodes as usize;
        let claim = n.checked_sub(1).and_then(|n| self.lot.claims.get(n)).ok_or(SampleRefusal::NoClaim)?;
        let [issued, _, high] = result.interval;
        let less_than = |limit: f64| {
            let bound = ClaimLimits::less_than(limit, self.conditions.dilution_factor, high);
            if bound.is_finite() { Ok(bound) } else { Err(SampleRefusal::NumberRange) }
        };
        match claim.limits.standing(value, self.lot.curve.level_min, self.n_without_peak > 0) {
            Standing::Negative => Err(SampleRefusal::Negative),
            Standing::NotDetected if !self.conditions.control_alive => Err(SampleRefusal::NoControl),
            Standing::NotDetected => less_than(claim.limits.detection_limit).map(SampleOutcome::NotDetected),
            Standing::DetectedWithoutPeak => Err(SampleRefusal::NoPeakDetected),
            Standing::BelowQuantification(from) => less_than(from).map(SampleOutcome::BelowQuantification),
            Standing::Quantified if issued.is_finite() => Ok(SampleOutcome::Quantified),
            Standing::Quantified => Err(SampleRefusal::NumberRange),
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

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

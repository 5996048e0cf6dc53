//! 40 CFR Part 136 Appendix B, revision 2: the method detection limit from spiked samples and method blanks.

use crate::error::LimitError;
use crate::limits::{DetectionLimits, LimitNote, LimitSpread, Procedure};
use crate::replicates::replicate_spread;
use std::collections::BTreeSet;
use stillwell_stats::distributions::student_t_quantile;

/// A spiked sample or method blank, taken through the whole method.
#[derive(Debug, Clone, PartialEq)]
pub struct DatedResult {
    /// The result in level units; `None` where the method gave no numerical result.
    pub level: Option<f64>,
    /// The calendar date, in any one notation: dates are only told apart.
    pub date: String,
}

/// The method detection limit and its two parts.
#[derive(Debug, Clone, PartialEq)]
pub struct MethodDetectionLimit {
    /// The limit itself: decision limit with α = 0.01; a miss at that level is as likely as not.
    pub limits: DetectionLimits,
    /// `MDL_S = t(0.99; n−1) S_S` from the spiked samples.
    pub from_spikes: f64,
    /// `MDL_B` from the blanks; `None` when no blank gave a numerical result.
    pub from_blanks: Option<f64>,
}

const NAME: &str = "40 CFR 136 Appendix B";
/// Appendix B, (2)(b): at least seven of either kind, in three batches on three separate calendar dates.
const REPLICATES_NEEDED: usize = 7;
const DATES_NEEDED: usize = 3;
const ALPHA: f64 = 0.01;

/// The larger of `MDL_S` and `MDL_B`.
///
/// `MDL_S = t(0.99; n−1) S_S`. `MDL_B` is, when all blanks gave numbers, their mean (a negative one counts as zero) plus
/// `t(0.99; n−1) S_B`; when only some did, the highest of them; when none did, it does not apply. The alternative for more
/// than 100 blanks (99th percentile) is not offered.
///
/// # Units
/// Levels, all in one unit.
///
/// # Errors
/// [`LimitError::TooFewSpikes`], [`LimitError::TooFewBlanks`] below seven, [`LimitError::TooFewDates`] below three,
/// [`LimitError::SpikeNotPositive`], [`LimitError::NoSpread`], [`LimitError::NotFinite`].
///
/// # Source
/// 40 CFR Part 136 Appendix B, revision 2 (82 FR 40836, 28 August 2017), (2); t table read and recomputed, rules from memory.
///
/// # Example
/// ```
/// use stillwell_calibrate::{DatedResult, method_detection_limit};
/// let dated = |levels: [f64; 7]| -> Vec<DatedResult> {
///     levels.iter().enumerate().map(|(i, &level)| DatedResult { level: Some(level), date: format!("day {}", i % 3) }).collect()
/// };
/// let spikes = dated([0.98, 1.05, 1.11, 0.92, 1.02, 0.88, 1.07]);
/// let blanks = dated([0.02, -0.01, 0.05, 0.03, 0.0, 0.06, 0.01]);
/// let mdl = method_detection_limit(&spikes, &blanks, 1.0)?;
/// assert!((mdl.limits.decision.unwrap() - 0.2597).abs() < 1e-4);
/// # Ok::<(), stillwell_calibrate::LimitError>(())
/// ```
pub fn method_detection_limit(
    spikes: &[DatedResult],
    blanks: &[DatedResult],
    spike_level: f64,
) -> Result<MethodDetectionLimit, LimitError> {
    if !(spike_level.is_finite() && spike_level > 0.0) {
        return Err(LimitError::NotFinite { what: "spike level", index: 1, found: spike_level });
    }
    let (found, needed) = (spikes.len(), REPLICATES_NEEDED);
    if found < needed {
        return Err(LimitError::TooFewSpikes { procedure: NAME, found, needed });
    }
    let found = blanks.len();
    if found < needed {
        return Err(LimitError::TooFewBlanks { procedure: NAME, found, needed });
    }
    require_dates(spikes, "spiked samples")?;
    require_dates(blanks, "blanks")?;
    let from_spikes = mdl_of_spikes(spikes)?;
    let (of_blanks, mut notes) = mdl_of_blanks(blanks)?;
    let part = match &of_blanks {
        Some(blank) if blank.limit > from_spikes.limit => blank,
        _ => &from_spikes,
    };
    if !(2.0..=10.0).contains(&(spike_level / part.limit)) {
        notes.push(LimitNote::SpikeLevelOutside2To10);
    }
    Ok(MethodDetectionLimit {
        limits: DetectionLimits {
            procedure: Procedure::MethodDetectionLimit,
            alpha: Some(ALPHA),
            beta: None,
            n_electrodes: 1,
            spread: part.spread,
            standard_deviation: part.standard_deviation,
            degrees_of_freedom: part.degrees_of_freedom,
            decision: Some(part.limit),
            decision_signal_a: None,
            detection: None,
            quantification: None,
            notes,
        },
        from_spikes: from_spikes.limit,
        from_blanks: of_blanks.map(|blank| blank.limit),
    })
}

struct Part {
    limit: f64,
    spread: LimitSpread,
    standard_deviation: f64,
    degrees_of_freedom: f64,
}

fn require_dates(results: &[DatedResult], what: &'static str) -> Result<(), LimitError> {
    let found =
        results.iter().map(|r| r.date.trim()).filter(|d| !d.is_empty()).collect::<BTreeSet<_>>().len();
    if found < DATES_NEEDED {
        return Err(LimitError::TooFewDates { procedure: NAME, what, found, needed: DATES_NEEDED });
    }
    Ok(())
}

fn mdl_of_spikes(spikes: &[DatedResult]) -> Result<Part, LimitError> {
    let mut levels = Vec::with_capacity(spikes.len());
    for (index, spike) in spikes.iter().enumerate() {
        let found = spike.level.unwrap_or(0.0);
        if found <= 0.0 {
            return Err(LimitError::SpikeNotPositive { index: index + 1, found });
        }
        levels.push(found);
    }
    let standard_deviation = replicate_spread(&levels, "spiked sample")?.standard_deviation;
    let degrees_of_freedom = levels.len() as f64 - 1.0;
    let limit = student_t_quantile(1.0 - ALPHA, degrees_of_freedom) * standard_deviation;
    Ok(Part { limit, spread: LimitSpread::Spikes, standard_deviation, degrees_of_freedom })
}

fn mdl_of_blanks(blanks: &[DatedResult]) -> Result<(Option<Part>, Vec<LimitNote>), LimitError> {
    let levels: Vec<f64> = blanks.iter().filter_map(|b| b.level).collect();
    if levels.is_empty() {
        return Ok((None, vec![LimitNote::NoNumericalBlank]));
    }
    if let Some((index, &found)) = levels.iter().enumerate().find(|(_, l)| !l.is_finite()) {
        return Err(LimitError::NotFinite { what: "blank", index: index + 1, found });
    }
    if levels.len() < blanks.len() {
        let limit = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let part =
            Part { limit, spread: LimitSpread::Blanks, standard_deviation: 0.0, degrees_of_freedom: 0.0 };
        return Ok((Some(part), vec![LimitNote::SomeBlanksWithoutResult]));
    }
    let blanks = replicate_spread(&levels, "blank")?;
    let degrees_of_freedom = levels.len() as f64 - 1.0;
    let standard_deviation = blanks.standard_deviation;
    let limit =
        blanks.mean.max(0.0) + student_t_quantile(1.0 - ALPHA, degrees_of_freedom) * standard_deviation;
    let notes = if blanks.mean < 0.0 { vec![LimitNote::NegativeMeanBlank] } else { Vec::new() };
    Ok((Some(Part { limit, spread: LimitSpread::Blanks, standard_deviation, degrees_of_freedom }), notes))
}

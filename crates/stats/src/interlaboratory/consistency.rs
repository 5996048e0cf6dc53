//! Which laboratories look odd: Cochran on spreads, Grubbs on means, Mandel's h and k for the eye.

use crate::distributions::{f_quantile, student_t_quantile};
use crate::error::{StatsError, require_in_range};
use crate::homogeneity::cochran_critical;
use crate::outliers::{
    OutlierTest, PairSignificance, PairSuspects, Suspect, grubbs_critical, grubbs_pair_critical,
    grubbs_pair_test, grubbs_test,
};
use crate::spread::{mean, standard_deviation};

/// How far out a statistic lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Flag {
    /// Within the 5 % critical value.
    Unremarkable,
    /// Between the critical values of 5 % and 1 %: kept, unless a cause is found.
    Straggler,
    /// Beyond the 1 % critical value: look for a cause; leaving it out is a person's decision.
    Outlier,
}

/// A test's statistic, whom it points at, and how far out it lies.
#[derive(Debug, Clone, PartialEq)]
pub struct FlaggedStatistic {
    /// Laboratories under suspicion, counted from 0.
    pub laboratories: Vec<usize>,
    /// The statistic.
    pub statistic: f64,
    /// Critical value at 5 %.
    pub critical_5_percent: f64,
    /// Critical value at 1 %.
    pub critical_1_percent: f64,
    /// What follows.
    pub flag: Flag,
}

/// Mandel's statistics of all laboratories, with what they may reach.
#[derive(Debug, Clone, PartialEq)]
pub struct MandelStatistics {
    /// h: deviation of each laboratory's mean, in standard deviations of the means.
    pub h: Vec<f64>,
    /// k: spread of each laboratory over the pooled one; 0 for a laboratory without replicates.
    pub k: Vec<f64>,
    /// What |h| may reach, at 5 % and 1 %.
    pub h_critical: [f64; 2],
    /// What k may reach, at 5 % and 1 %.
    pub k_critical: [f64; 2],
}

/// All tests of one level.
#[derive(Debug, Clone, PartialEq)]
pub struct Consistency {
    /// Is one laboratory's spread too large?
    pub cochran: FlaggedStatistic,
    /// Is one laboratory's mean too far out?
    pub grubbs: FlaggedStatistic,
    /// Are the two highest means too far out together? `None` outside 4 to 40 laboratories.
    pub grubbs_two_highest: Option<FlaggedStatistic>,
    /// Are the two lowest means too far out together? `None` outside 4 to 40 laboratories.
    pub grubbs_two_lowest: Option<FlaggedStatistic>,
    /// For the eye.
    pub mandel: MandelStatistics,
    /// Replicates of most cells: the critical values of spreads are for this number.
    pub usual_replicates: usize,
}

/// Cochran's, Grubbs' and Mandel's statistics of `laboratories[laboratory] = results`.
///
/// # Units
/// Results in any unit. Cells may differ somewhat in size: spreads are judged as if all had the size of most.
///
/// # Errors
/// [`StatsError::TooFewValues`] below three laboratories or when most cells have fewer than two results,
/// [`StatsError::NotFinite`], [`StatsError::NoVariation`] when means or spreads do not vary at all.
///
/// # Source
/// ISO 5725-2:1994, 7.3; Mandel's critical values by the formulas of ASTM E691.
///
/// # Example
/// ```
/// use stillwell_stats::interlaboratory::{Flag, consistency};
/// let results = [[4.9, 5.1, 5.0], [5.2, 5.3, 5.2], [4.8, 4.7, 4.9], [5.0, 5.6, 5.1], [5.9, 6.0, 5.8]];
/// let found = consistency(&results)?;
/// assert_eq!((found.cochran.laboratories[0], found.grubbs.flag), (3, Flag::Unremarkable));
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn consistency<G: AsRef<[f64]>>(laboratories: &[G]) -> Result<Consistency, StatsError> {
    if laboratories.len() < 3 {
        let found = laboratories.len();
        return Err(StatsError::TooFewValues { what: "the laboratories", found, needed: 3 });
    }
    let mut means = Vec::with_capacity(laboratories.len());
    let mut spreads = Vec::with_capacity(laboratories.len());
    for cell in laboratories {
        let cell = cell.as_ref();
        means.push(mean(cell)?);
        spreads.push(if cell.len() > 1 { standard_deviation(cell)? } else { 0.0 });
    }
    require_in_range("a laboratory's spread", &spreads)?;
    let usual_replicates = most_frequent(laboratories.iter().map(|cell| cell.as_ref().len()));
    Ok(Consistency {
        cochran: cochran(&spreads, usual_replicates)?,
        grubbs: grubbs(&means)?,
        grubbs_two_highest: grubbs_pair(&means, PairSuspects::Highest)?,
        grubbs_two_lowest: grubbs_pair(&means, PairSuspects::Lowest)?,
        mandel: mandel(&means, &spreads, usual_replicates)?,
        usual_replicates,
    })
}

/// The smaller one when two are as frequent.
fn most_frequent(sizes: impl Iterator<Item = usize>) -> usize {
    let mut sorted: Vec<usize> = sizes.collect();
    sorted.sort_unstable();
    let runs = sorted.chunk_by(|a, b| a == b).map(|run| (run.len(), run[0]));
    runs.fold((0, 0), |best, run| if run.0 > best.0 { run } else { best }).1
}

/// `alpha` for the 5 % and the 1 % critical value.
const LEVELS: [f64; 2] = [0.05, 0.01];

fn flag(statistic: f64, critical: [f64; 2]) -> Flag {
    match () {
        () if statistic > critical[1] => Flag::Outlier,
        () if statistic > critical[0] => Flag::Straggler,
        () => Flag::Unremarkable,
    }
}

fn cochran(spreads: &[f64], replicates: usize) -> Result<FlaggedStatistic, StatsError> {
    let (at, largest) = spreads
        .iter()
        .copied()
        .enumerate()
        .fold((0, 0.0), |best, now| if now.1 > best.1 { now } else { best });
    if largest <= 0.0 {
        return Err(StatsError::NoVariation { what: "every laboratory", statistic: "Cochran's C" });
    }
    let relative: f64 = spreads.iter().map(|s| (s / largest) * (s / largest)).sum();
    let [five, one] = LEVELS.map(|alpha| cochran_critical(spreads.len(), replicates, alpha));
    let (critical, statistic) = ([five?, one?], 1.0 / relative);
    Ok(flagged(vec![at], statistic, critical, flag(statistic, critical)))
}

fn flagged(laboratories: Vec<usize>, statistic: f64, critical: [f64; 2], flag: Flag) -> FlaggedStatistic {
    let [critical_5_percent, critical_1_percent] = critical;
    FlaggedStatistic { laboratories, statistic, critical_5_percent, critical_1_percent, flag }
}

fn grubbs(means: &[f64]) -> Result<FlaggedStatistic, StatsError> {
    let OutlierTest { suspects, statistic, critical: five, .. } =
        grubbs_test(means, Suspect::Farthest, LEVELS[0])?;
    let critical = [five, grubbs_critical(means.len(), Suspect::Farthest, LEVELS[1])?];
    Ok(flagged(suspects, statistic, critical, flag(statistic, critical)))
}

fn grubbs_pair(means: &[f64], pair: PairSuspects) -> Result<Option<FlaggedStatistic>, StatsError> {
    if grubbs_pair_critical(means.len(), PairSignificance::FivePercent).is_err() {
        return Ok(None);
    }
    let test = grubbs_pair_test(means, pair, PairSignificance::FivePercent)?;
    let critical = [test.critical, grubbs_pair_critical(means.len(), PairSignificance::OnePercent)?];
    // Small is far out here.
    let flag = flag(-test.statistic, critical.map(|c| -c));
    Ok(Some(flagged(test.suspects, test.statistic, critical, flag)))
}

fn mandel(means: &[f64], spreads: &[f64], replicates: usize) -> Result<MandelStatistics, StatsError> {
    let (centre, sd) = (mean(means)?, standard_deviation(means)?);
    let p = means.len() as f64;
    let nu = replicates as f64 - 1.0;
    let largest = spreads.iter().copied().fold(0.0, f64::max);
    let relative: f64 = spreads.iter().map(|s| (s / largest) * (s / largest)).sum();
    let pooled = largest * libm::sqrt(relative / p);
    let h_critical = LEVELS.map(|alpha| {
        let t = student_t_quantile(1.0 - 0.5 * alpha, p - 2.0);
        (p - 1.0) * t / libm::sqrt(p * (t * t + p - 2.0))
    });
    let k_critical = LEVELS.map(|alpha| {
        // The lower point of F with the degrees of freedom of the others above.
        let f = f_quantile(alpha, (p - 1.0) * nu, nu);
        libm::sqrt(p / (1.0 + (p - 1.0) * f))
    });
    Ok(MandelStatistics {
        h: means.iter().map(|m| (m - centre) / sd).collect(),
        k: spreads.iter().map(|s| s / pooled).collect(),
        h_critical,
        k_critical,
    })
}

//! Propagation of distributions by Monte Carlo: seeded, with a number of trials fixed beforehand or found while going.

use std::ops::Range;

use crate::coverage::{CoverageIntervals, coverage_intervals};
use crate::draw::Sampler;
use crate::{BudgetError, MeasurementModel};

/// Which interval is reported and watched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IntervalKind {
    /// Equal probability on both sides.
    Symmetric,
    /// The shortest.
    Shortest,
}

/// How many trials.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trials {
    /// So many.
    Fixed(u32),
    /// Block after block until the results have settled.
    Adaptive {
        /// Digits of the standard uncertainty that must stand: 1 or 2.
        digits: u8,
        /// The interval whose ends must settle too.
        interval: IntervalKind,
        /// No more trials than this.
        at_most: u32,
    },
}

/// What is asked of Monte Carlo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonteCarloPlan {
    /// Seed: the same seed, the same bits.
    pub seed: u64,
    /// Coverage probability of the intervals.
    pub coverage: f64,
    /// How many trials.
    pub trials: Trials,
}

/// What Monte Carlo found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonteCarlo {
    /// Trials used.
    pub n_trials: u64,
    /// Mean of the trials.
    pub mean: f64,
    /// Their standard deviation.
    pub standard_uncertainty: f64,
    /// Coverage probability of the intervals.
    pub coverage: f64,
    /// The intervals.
    pub intervals: CoverageIntervals,
    /// For an adaptive run: how far it had settled.
    pub settled: Option<Settled>,
}

/// How far an adaptive run had settled when it ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    /// Numerical tolerance: half of the last digit of the standard uncertainty that must stand.
    pub tolerance: f64,
    /// Twice the standard deviation of mean, standard uncertainty, lower and upper end over the blocks: the largest.
    pub largest_doubt: f64,
}

impl Settled {
    /// Whether every result stands to the digits asked for.
    pub fn is_reached(&self) -> bool {
        self.largest_doubt <= self.tolerance
    }
}

/// Does blocks of trials: gets their numbers and the function that does one, and answers with the results in the order of
/// the numbers. A caller with several processors hands in one that shares the blocks out; the bits are the same.
pub type RunBlocks<'r> = dyn Fn(Range<u64>, &(dyn Fn(u64) -> Vec<f64> + Sync)) -> Vec<Vec<f64>> + 'r;

/// One block after the other.
fn one_after_another(numbers: Range<u64>, block: &(dyn Fn(u64) -> Vec<f64> + Sync)) -> Vec<Vec<f64>> {
    numbers.map(block).collect()
}

/// Fewest trials of a run with a fixed number: fewer say nothing about the ends of an interval.
const FEWEST_TRIALS: u32 = 1_000;
/// Trials of a block, unless the coverage asks for more.
const BLOCK_TRIALS: f64 = 10_000.0;
/// Blocks handed out at a time in an adaptive run; what goes beyond the end is thrown away.
const BLOCKS_AT_A_TIME: u64 = 16;

impl MeasurementModel<'_> {
    /// Propagates the distributions of the inputs through the model.
    ///
    /// Normal inputs with finite degrees of freedom are drawn from Student's t; those that share a spread share its doubt
    /// in every trial. Correlated inputs must be normal.
    ///
    /// # Units
    /// That of the model's function.
    ///
    /// # Errors
    /// [`BudgetError::CoverageUnusable`], [`BudgetError::TrialsUnusable`], [`BudgetError::CorrelatedNotNormal`],
    /// [`BudgetError::CorrelationsImpossible`], [`BudgetError::TrialsWithoutNumber`].
    ///
    /// # Source
    /// JCGM 101:2008, clause 7: fixed number 7.2, intervals 7.7, adaptive 7.9.4.
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::{Component, Distribution, InputQuantity, MeasurementModel, MonteCarloPlan, Trials};
    /// let unit = |name| InputQuantity::new(name, Component::Other, Distribution::Normal { mean: 0.0, standard_uncertainty: 1.0 }, "example");
    /// let sum = |x: &[f64]| x[0] + x[1] + x[2] + x[3];
    /// let model = MeasurementModel::new(vec![unit("a")?, unit("b")?, unit("c")?, unit("d")?], &sum)?;
    /// let found = model.monte_carlo(&MonteCarloPlan { seed: 1, coverage: 0.95, trials: Trials::Fixed(100_000) })?;
    /// assert!((found.standard_uncertainty - 2.0).abs() < 0.02);
    /// # Ok::<(), stillwell_assure::BudgetError>(())
    /// ```
    pub fn monte_carlo(&self, plan: &MonteCarloPlan) -> Result<MonteCarlo, BudgetError> {
        self.monte_carlo_by(plan, &one_after_another)
    }

    /// The same with the blocks done by `run`, on several processors for instance: the bits do not change.
    ///
    /// # Errors
    /// As [`Self::monte_carlo`].
    pub fn monte_carlo_by(
        &self,
        plan: &MonteCarloPlan,
        run: &RunBlocks<'_>,
    ) -> Result<MonteCarlo, BudgetError> {
        if !(plan.coverage > 0.5 && plan.coverage < 1.0) {
            return Err(BudgetError::CoverageUnusable { coverage: plan.coverage });
        }
        let centre = self.value()?;
        let sampler = Sampler::new(self)?;
        let study = Study { plan, centre, sampler: &sampler, run };
        match plan.trials {
            Trials::Fixed(n_trials) => study.fixed(n_trials),
            Trials::Adaptive { digits, interval, at_most } => study.adaptive(digits, interval, at_most),
        }
    }
}

/// Trials in a block: at least a hundred of them outside the interval.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and positive")]
fn block_trials(coverage: f64) -> u32 {
    libm::ceil(100.0 / (1.0 - coverage)).clamp(BLOCK_TRIALS, 1e7) as u32
}

struct Study<'s> {
    plan: &'s MonteCarloPlan,
    /// Sums are formed about this value.
    centre: f64,
    sampler: &'s Sampler<'s, 's>,
    run: &'s RunBlocks<'s>,
}

impl Study<'_> {
    fn fixed(&self, n_trials: u32) -> Result<MonteCarlo, BudgetError> {
        if n_trials < FEWEST_TRIALS {
            return Err(BudgetError::TrialsUnusable { found: n_trials, needed: FEWEST_TRIALS });
        }
        let size = block_trials(self.plan.coverage);
        let n_blocks = n_trials.div_ceil(size);
        let block = |index: u64| {
            let is_last = index + 1 == u64::from(n_blocks);
            let n = if is_last { n_trials - (n_blocks - 1) * size } else { size };
            self.sampler.block(self.plan.seed, index, n as usize)
        };
        let blocks = (self.run)(0..u64::from(n_blocks), &block);
        self.summary(blocks, None)
    }

    fn adaptive(&self, digits: u8, interval: IntervalKind, at_most: u32) -> Result<MonteCarlo, BudgetError> {
        let size = block_trials(self.plan.coverage);
        if at_most / size < 2 {
            return Err(BudgetError::TrialsUnusable { found: at_most, needed: 2 * size });
        }
        if !(1..=2).contains(&digits) {
            return Err(BudgetError::DigitsUnusable { found: digits });
        }
        let most_blocks = u64::from(at_most / size);
        let block = |index: u64| self.sampler.block(self.plan.seed, index, size as usize);
        let mut kept: Vec<Vec<f64>> = Vec::new();
        let mut spread = SpreadOfBlocks::default();
        let mut settled = None;
        while (kept.len() as u64) < most_blocks {
            let from = kept.len() as u64;
            let numbers = from..(from + BLOCKS_AT_A_TIME).min(most_blocks);
            for draws in (self.run)(numbers, &block) {
                let found = self.summary(vec![draws.clone()], None)?;
                kept.push(draws);
                spread.add(&found, interval);
                settled = spread.settled(digits);
                if settled.is_some_and(|settled| settled.is_reached()) {
                    return self.summary(kept, settled);
                }
            }
        }
        self.summary(kept, settled)
    }

    /// Mean, standard deviation and intervals over blocks; sums run in the order of the blocks.
    fn summary(&self, blocks: Vec<Vec<f64>>, settled: Option<Settled>) -> Result<MonteCarlo, BudgetError> {
        let (mut sum, mut squares, mut n) = (0.0, 0.0, 0_u64);
        for block in &blocks {
            let (block_sum, block_squares) = sums_about(self.centre, block);
            sum += block_sum;
            squares += block_squares;
            n += block.len() as u64;
        }
        let mut draws =
            if blocks.len() == 1 { blocks.into_iter().next().unwrap_or_default() } else { blocks.concat() };
        // One number that is none makes both sums none.
        if !(sum.is_finite() && squares.is_finite()) {
            let without = draws.iter().filter(|draw| !draw.is_finite()).count() as u64;
            return Err(BudgetError::TrialsWithoutNumber { without, trials: n });
        }
        let coverage = self.plan.coverage;
        let intervals = coverage_intervals(&mut draws, coverage)
            .ok_or(BudgetError::TrialsUnusable { found: 0, needed: FEWEST_TRIALS })?;
        let variance = ((squares - sum * sum / n as f64) / (n as f64 - 1.0)).max(0.0);
        Ok(MonteCarlo {
            n_trials: n,
            mean: self.centre + sum / n as f64,
            standard_uncertainty: libm::sqrt(variance),
            coverage,
            intervals,
            settled,
        })
    }
}

/// Sum and sum of squares of the distances from `centre`, in eight interleaved sums that are added in order.
fn sums_about(centre: f64, draws: &[f64]) -> (f64, f64) {
    let (mut sums, mut squares) = ([0.0; 8], [0.0; 8]);
    for chunk in draws.chunks(8) {
        for ((sum, square), draw) in sums.iter_mut().zip(&mut squares).zip(chunk) {
            let distance = draw - centre;
            *sum += distance;
            *square += distance * distance;
        }
    }
    (sums.iter().sum(), squares.iter().sum())
}

/// Running moments of the four results over the blocks.
#[derive(Default)]
struct SpreadOfBlocks {
    n: f64,
    means: [f64; 4],
    squares: [f64; 4],
}

impl SpreadOfBlocks {
    fn add(&mut self, found: &MonteCarlo, interval: IntervalKind) {
        let [low, high] = found.interval(interval);
        self.n += 1.0;
        let results = [found.mean, found.standard_uncertainty, low, high];
        for ((mean, square), result) in self.means.iter_mut().zip(&mut self.squares).zip(results) {
            let before = result - *mean;
            *mean += before / self.n;
            *square += before * (result - *mean);
        }
    }

    /// Source: JCGM 101:2008, 7.9.4 steps g to k.
    fn settled(&self, digits: u8) -> Option<Settled> {
        if self.n < 2.0 {
            return None;
        }
        let doubts = self.squares.map(|square| 2.0 * libm::sqrt(square / (self.n * (self.n - 1.0))));
        // The mean of the blocks' standard deviations stands for that of all trials: they differ beyond the digits asked for.
        let tolerance = numerical_tolerance(self.means[1], digits);
        Some(Settled { tolerance, largest_doubt: doubts.into_iter().fold(0.0, f64::max) })
    }
}

impl MonteCarlo {
    /// One of the intervals.
    pub const fn interval(&self, kind: IntervalKind) -> [f64; 2] {
        match kind {
            IntervalKind::Symmetric => self.intervals.symmetric,
            IntervalKind::Shortest => self.intervals.shortest,
        }
    }
}

/// Half of the last place when a standard uncertainty is written with so many significant digits.
///
/// # Units
/// That of the standard uncertainty; zero for zero.
///
/// # Source
/// JCGM 101:2008, 7.9.2.
///
/// # Example
/// ```
/// assert!((stillwell_assure::numerical_tolerance(0.35, 2) - 0.005).abs() < 1e-15);
/// assert!((stillwell_assure::numerical_tolerance(32.0, 1) - 5.0).abs() < 1e-12);
/// ```
pub fn numerical_tolerance(standard_uncertainty: f64, digits: u8) -> f64 {
    if !(standard_uncertainty.is_finite() && standard_uncertainty > 0.0) {
        return 0.0;
    }
    let power = |standard_uncertainty: f64| {
        libm::floor(libm::log10(standard_uncertainty)) - (f64::from(digits) - 1.0)
    };
    let unit = libm::pow(10.0, power(standard_uncertainty));
    // 9.96 with two digits is 10: written as 10 × 10⁰.
    let rounded = libm::round(standard_uncertainty / unit) * unit;
    0.5 * libm::pow(10.0, power(rounded * (1.0 + 1e-12)))
}

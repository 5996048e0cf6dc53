//! Drawing the inputs of a model, a block of trials at a time.

use stillwell_stats::distributions::student_t_quantile;
use stillwell_stats::random_block::{RandomBlock, SymmetricTable};

use crate::{BudgetError, DegreesOfFreedom, Distribution, MeasurementModel};

/// Trials whose inputs are held at once: thirty inputs of them fit into the fast caches.
const TRIALS_AT_ONCE: usize = 208;

/// A model made ready for drawing.
pub(crate) struct Sampler<'m, 'f> {
    model: &'m MeasurementModel<'f>,
    shapes: Vec<Shape>,
    tables: Vec<(u64, SymmetricTable)>,
    /// Inputs correlated with others, and the lower triangle that makes them so.
    correlated: Vec<usize>,
    triangle: Vec<Vec<f64>>,
    pools: Vec<Pool>,
}

/// How one input's column is made.
enum Shape {
    /// `mean + scale z`.
    Normal {
        mean: f64,
        scale: f64,
    },
    /// `mean + scale t`, from table number `table`.
    StudentT {
        mean: f64,
        scale: f64,
        table: usize,
    },
    Rectangular {
        low: f64,
        width: f64,
    },
    Triangular {
        low: f64,
        half: f64,
    },
    ArcSine {
        middle: f64,
        half: f64,
    },
    InexactLimits {
        low: f64,
        high: f64,
        inexactness: f64,
    },
    LogNormal {
        log_mean: f64,
        log_sd: f64,
    },
}

/// Inputs that share one spread, which is itself known with few degrees of freedom only.
struct Pool {
    degrees_of_freedom: f64,
    members: Vec<usize>,
}

impl<'m, 'f> Sampler<'m, 'f> {
    pub(crate) fn new(model: &'m MeasurementModel<'f>) -> Result<Self, BudgetError> {
        let mut sampler = Self {
            model,
            shapes: Vec::new(),
            tables: Vec::new(),
            correlated: Vec::new(),
            triangle: Vec::new(),
            pools: Vec::new(),
        };
        sampler.correlate()?;
        for at in 0..model.inputs.len() {
            let shape = sampler.shape(at);
            sampler.shapes.push(shape);
        }
        Ok(sampler)
    }

    fn shape(&mut self, at: usize) -> Shape {
        let input = &self.model.inputs[at];
        match input.distribution {
            Distribution::Normal { mean, standard_uncertainty: scale } => match &input.degrees_of_freedom {
                DegreesOfFreedom::Own(df) if df.is_finite() => {
                    Shape::StudentT { mean, scale, table: self.table(*df) }
                }
                DegreesOfFreedom::Pooled { spread, degrees_of_freedom } if degrees_of_freedom.is_finite() => {
                    self.pool(at, spread, *degrees_of_freedom);
                    Shape::Normal { mean, scale }
                }
                _ => Shape::Normal { mean, scale },
            },
            Distribution::Rectangular { low, high } => Shape::Rectangular { low, width: high - low },
            Distribution::Triangular { low, high } => Shape::Triangular { low, half: 0.5 * (high - low) },
            Distribution::ArcSine { low, high } => {
                Shape::ArcSine { middle: f64::midpoint(low, high), half: 0.5 * (high - low) }
            }
            Distribution::InexactLimits { low, high, inexactness } => {
                Shape::InexactLimits { low, high, inexactness }
            }
            Distribution::LogNormal { mean, standard_uncertainty } => {
                let ratio = standard_uncertainty / mean;
                let log_variance = libm::log1p(ratio * ratio);
                Shape::LogNormal {
                    log_mean: libm::log(mean) - 0.5 * log_variance,
                    log_sd: libm::sqrt(log_variance),
                }
            }
        }
    }

    fn table(&mut self, df: f64) -> usize {
        let known = self.tables.iter().position(|(bits, _)| *bits == df.to_bits());
        known.unwrap_or_else(|| {
            self.tables.push((df.to_bits(), SymmetricTable::new(|tail| student_t_quantile(tail, df))));
            self.tables.len() - 1
        })
    }

    fn pool(&mut self, at: usize, spread: &str, degrees_of_freedom: f64) {
        let inputs = &self.model.inputs;
        let is_same = |member: usize| matches!(&inputs[member].degrees_of_freedom, DegreesOfFreedom::Pooled { spread: name, .. } if name == spread);
        match self.pools.iter_mut().find(|pool| pool.members.first().is_some_and(|first| is_same(*first))) {
            Some(pool) => pool.members.push(at),
            None => self.pools.push(Pool { degrees_of_freedom, members: vec![at] }),
        }
    }

    /// Cholesky's factor of the correlation matrix of those inputs that are correlated at all.
    fn correlate(&mut self) -> Result<(), BudgetError> {
        let pairs = &self.model.correlations;
        let mut places: Vec<usize> = pairs.iter().flat_map(|pair| [pair.first, pair.second]).collect();
        places.sort_unstable();
        places.dedup();
        for at in &places {
            let input = &self.model.inputs[*at];
            let is_normal = matches!(input.distribution, Distribution::Normal { .. });
            if !is_normal || matches!(input.degrees_of_freedom, DegreesOfFreedom::Own(df) if df.is_finite()) {
                return Err(BudgetError::CorrelatedNotNormal { name: input.name.clone() });
            }
        }
        let coefficient = |i: usize, j: usize| {
            let (low, high) = (places[i].min(places[j]), places[i].max(places[j]));
            let pair = pairs.iter().find(|pair| (pair.first, pair.second) == (low, high));
            if i == j { 1.0 } else { pair.map_or(0.0, |pair| pair.coefficient) }
        };
        self.triangle =
            lower_triangle(places.len(), coefficient).ok_or(BudgetError::CorrelationsImpossible)?;
        self.correlated = places;
        Ok(())
    }

    /// The model's values for `n_trials` trials of block `index`: the same whatever else is drawn, and by whom.
    pub(crate) fn block(&self, seed: u64, index: u64, n_trials: usize) -> Vec<f64> {
        let mut random = RandomBlock::new(seed, index);
        let mut answers = vec![0.0; n_trials];
        let mut columns = vec![vec![0.0; TRIALS_AT_ONCE]; self.shapes.len()];
        let mut spare = vec![0.0; TRIALS_AT_ONCE];
        for chunk in answers.chunks_mut(TRIALS_AT_ONCE) {
            for column in &mut columns {
                column.truncate(chunk.len());
            }
            spare.truncate(chunk.len());
            self.draw(&mut random, &mut columns, &mut spare);
            self.model.function.values(&columns, chunk);
        }
        answers
    }

    fn draw(&self, random: &mut RandomBlock, columns: &mut [Vec<f64>], spare: &mut [f64]) {
        for (shape, column) in self.shapes.iter().zip(columns.iter_mut()) {
            match shape {
                Shape::Normal { .. } | Shape::LogNormal { .. } => random.fill_normal(column),
                Shape::StudentT { table, .. } => random.fill_symmetric(&self.tables[*table].1, column),
                _ => random.fill_uniform(column),
            }
        }
        self.mix(columns);
        for pool in &self.pools {
            fill_spread_factor(random, pool.degrees_of_freedom, spare);
            for member in &pool.members {
                for (value, factor) in columns[*member].iter_mut().zip(spare.iter()) {
                    *value *= factor;
                }
            }
        }
        for (shape, column) in self.shapes.iter().zip(columns.iter_mut()) {
            shape.place(random, column, spare);
        }
    }

    /// Makes independent standard normal columns correlated, the last first, so that each still finds its forerunners.
    fn mix(&self, columns: &mut [Vec<f64>]) {
        for (i, row) in self.triangle.iter().enumerate().rev() {
            let own = self.correlated[i];
            for trial in 0..columns[own].len() {
                let mut sum = 0.0;
                for (j, weight) in row.iter().enumerate().take(i + 1) {
                    sum += weight * columns[self.correlated[j]][trial];
                }
                columns[own][trial] = sum;
            }
        }
    }
}

impl Shape {
    /// From standard values to the quantity's own scale.
    fn place(&self, random: &mut RandomBlock, column: &mut [f64], spare: &mut [f64]) {
        match *self {
            Self::Normal { mean, scale } | Self::StudentT { mean, scale, .. } => {
                for value in column {
                    *value = mean + scale * *value;
                }
            }
            Self::Rectangular { low, width } => {
                for value in column {
                    *value = low + width * *value;
                }
            }
            Self::Triangular { low, half } => {
                random.fill_uniform(spare);
                for (value, other) in column.iter_mut().zip(spare) {
                    *value = low + half * (*value + *other);
                }
            }
            Self::ArcSine { middle, half } => {
                for value in column {
                    *value = middle + half * libm::sin(2.0 * std::f64::consts::PI * *value);
                }
            }
            Self::InexactLimits { low, high, inexactness } => {
                random.fill_uniform(spare);
                for (value, other) in column.iter_mut().zip(spare) {
                    let from = low - inexactness + 2.0 * inexactness * *other;
                    *value = from + (low + high - 2.0 * from) * *value;
                }
            }
            Self::LogNormal { log_mean, log_sd } => {
                for value in column {
                    *value = libm::exp(log_mean + log_sd * *value);
                }
            }
        }
    }
}

/// Cholesky's factor of a correlation matrix; `None` where the matrix is not positive semi-definite. Rows that follow from
/// others (coefficients ±1) leave a zero on the diagonal.
fn lower_triangle(n: usize, coefficient: impl Fn(usize, usize) -> f64) -> Option<Vec<Vec<f64>>> {
    let mut triangle = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..i {
            let dot: f64 = (0..j).map(|k| triangle[i][k] * triangle[j][k]).sum();
            let rest = coefficient(i, j) - dot;
            if triangle[j][j] > 1e-6 {
                triangle[i][j] = rest / triangle[j][j];
            } else if rest.abs() > 1e-6 {
                return None;
            }
        }
        let left = 1.0 - triangle[i].iter().map(|value| value * value).sum::<f64>();
        if left < -1e-9 {
            return None;
        }
        triangle[i][i] = libm::sqrt(left.max(0.0));
    }
    Some(triangle)
}

/// `√(ν/χ²_ν)`: by how much a spread seen with ν degrees of freedom may be off; normal values times this are Student's t.
///
/// Source: Marsaglia & Tsang 2000, ACM Trans. Math. Softw. 26, 363 (gamma variables), with their step for shapes below 1.
fn fill_spread_factor(random: &mut RandomBlock, degrees_of_freedom: f64, column: &mut [f64]) {
    let shape = 0.5 * degrees_of_freedom;
    let raised = if shape < 1.0 { shape + 1.0 } else { shape };
    let d = raised - 1.0 / 3.0;
    let c = 1.0 / libm::sqrt(9.0 * d);
    let (mut normals, mut uniforms) = ([0.0; TRIALS_AT_ONCE], [0.0; TRIALS_AT_ONCE]);
    let mut filled = 0;
    while filled < column.len() {
        random.fill_normal(&mut normals);
        random.fill_uniform(&mut uniforms);
        for (x, u) in normals.iter().zip(&uniforms) {
            let root = 1.0 + c * x;
            let v = root * root * root;
            let x2 = x * x;
            let accepted = v > 0.0
                && (*u < 1.0 - 0.0331 * x2 * x2 || libm::log(*u) < 0.5 * x2 + d * (1.0 - v + libm::log(v)));
            if accepted && filled < column.len() {
                column[filled] = d * v;
                filled += 1;
            }
        }
    }
    if shape < 1.0 {
        for value in column.iter_mut() {
            let mut u = [0.0];
            random.fill_uniform(&mut u);
            *value *= libm::pow(u[0], 1.0 / shape);
        }
    }
    for value in column {
        *value = (shape / *value).sqrt();
    }
}

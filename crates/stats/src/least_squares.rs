//! Linear least squares to the last digit: design in, coefficients with covariance, residuals and leverage out.

use crate::double_double::{DoubleDouble, power_of_two_to_unit};
use crate::error::StatsError;
use crate::qr;
use crate::straight_line::{self, Line, Points};

/// What the total sum of squares of [`Fit::r_squared`] is counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TotalAbout {
    /// The (weighted) mean of `y`: the design holds a constant column.
    Mean,
    /// Zero: the design has no intercept, as for a line through the origin.
    Zero,
}

/// One least-squares fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// One a design column, in its order.
    pub coefficients: Vec<f64>,
    /// Standard errors of the coefficients: `residual_sd * sqrt(diagonal of unscaled_covariance)`.
    pub standard_errors: Vec<f64>,
    /// `(XᵀWX)⁻¹`; times `residual_sd²` it is the covariance of the coefficients.
    pub unscaled_covariance: Vec<Vec<f64>>,
    /// `X b`, one a row.
    pub fitted: Vec<f64>,
    /// `y − X b`, one a row, not weighted.
    pub residuals: Vec<f64>,
    /// Share of each row in its own fitted value; they sum to the number of coefficients.
    pub leverage: Vec<f64>,
    /// `Σ w r²`.
    pub residual_sum_of_squares: f64,
    /// `Σ w (y − ȳ)²` or `Σ w y²`, see [`Fit::total_about`].
    pub total_sum_of_squares: f64,
    /// Where the total sum of squares is counted from.
    pub total_about: TotalAbout,
    /// `sqrt(Σ w r² / degrees_of_freedom)`: the standard deviation of a row of weight 1.
    pub residual_sd: f64,
    /// Rows minus coefficients.
    pub degrees_of_freedom: usize,
    /// `1 − residual / total`; 0 when the total is 0, for then there is nothing to explain.
    pub r_squared: f64,
}

/// Weighted linear least squares: `b` that minimises `Σ w (y − X b)²`.
///
/// Give a column of ones for an intercept, none for a fit through the origin. Arithmetic is double-double in a fixed
/// order, so the result is that of the given numbers, rounded once, and the same bits on every machine.
/// For powers of `x` take [`polynomial_least_squares`], which does not round them either.
///
/// # Units
/// `design_rows`: one `Vec` a row, all equally long, any unit. `y` and `weights`: one a row. A weight is positive and
/// relative (`1/variance`); without weights each row counts 1.
///
/// # Errors
/// [`StatsError::NoColumns`], [`StatsError::RaggedRow`], [`StatsError::LengthMismatch`], [`StatsError::NotFinite`],
/// [`StatsError::WeightNotPositive`], [`StatsError::TooFewRows`] (needs a degree of freedom),
/// [`StatsError::RankDeficient`], [`StatsError::OutOfRange`].
///
/// # Source
/// Golub & Van Loan, Matrix Computations, 5.3; checked against the NIST StRD linear sets.
///
/// # Example
/// ```
/// use stillwell_stats::least_squares;
/// let design: Vec<Vec<f64>> = [0.0, 1.0, 2.0, 3.0].iter().map(|&x| vec![1.0, x]).collect();
/// let fit = least_squares(&design, &[1.1, 2.9, 5.1, 6.9], None)?;
/// assert!((fit.coefficients[1] - 1.96).abs() < 1e-15);
/// assert_eq!(fit.degrees_of_freedom, 2);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn least_squares(
    design_rows: &[Vec<f64>],
    y: &[f64],
    weights: Option<&[f64]>,
) -> Result<Fit, StatsError> {
    let n_columns = design_rows.first().map_or(0, Vec::len);
    for (row, entries) in design_rows.iter().enumerate() {
        if entries.len() != n_columns {
            return Err(StatsError::RaggedRow { row, found: entries.len(), expected: n_columns });
        }
        require_finite("the design", row, entries)?;
    }
    let columns: Vec<Column> =
        (0..n_columns).map(|j| Column::scaled(design_rows.iter().map(|row| row[j]).collect())).collect();
    fit(&columns, design_rows.len(), y, weights)
}

/// Weighted polynomial least squares: `y = Σ b_k x^{e_k}` for the given exponents.
///
/// `[0, 1]` is the straight line, `[1]` the line through the origin, `[0, 1, 2]` the quadratic. The powers are formed
/// in double-double, so that their rounding costs no digits (it costs half of them on hard sets).
///
/// # Units
/// `x`, `y`, `weights`: one a row; coefficients in the order of `exponents`, in units of `y / x^e`.
///
/// # Errors
/// As [`least_squares`]; [`StatsError::OutOfRange`] also when a power of the largest `x` overflows.
///
/// # Source
/// As [`least_squares`].
///
/// # Example
/// ```
/// use stillwell_stats::polynomial_least_squares;
/// let fit = polynomial_least_squares(&[1.0, 2.0, 3.0], &[2.1, 3.9, 6.0], &[1], None)?;
/// assert!((fit.coefficients[0] - 27.9 / 14.0).abs() < 1e-15);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn polynomial_least_squares(
    x: &[f64],
    y: &[f64],
    exponents: &[u32],
    weights: Option<&[f64]>,
) -> Result<Fit, StatsError> {
    for (row, value) in x.iter().enumerate() {
        require_finite("x", row, &[*value])?;
    }
    let line = match exponents {
        [0, 1] => Some(Line::WithIntercept),
        [1] if !is_constant(x) => Some(Line::ThroughOrigin),
        _ => None,
    };
    if let Some(line) = line {
        require_usable(exponents.len(), x.len(), y, weights)?;
        return straight_line::fit(line, &Points::new(x, y, weights));
    }
    let base = Column::scaled(x.to_vec());
    let columns = exponents.iter().map(|&e| base.power(e)).collect::<Result<Vec<_>, _>>()?;
    fit(&columns, x.len(), y, weights)
}

/// Beyond this no polynomial is meant, and the powers would leave the range of a float.
const LARGEST_EXPONENT: u32 = 40;

/// A column of the design divided by a power of two, so that its largest entry lies near 1.
struct Column {
    entries: Vec<DoubleDouble>,
    /// What the entries were multiplied by.
    power_of_two: f64,
    is_constant: bool,
}

impl Column {
    fn scaled(raw: Vec<f64>) -> Self {
        let power_of_two = power_of_two_to_unit(largest(&raw));
        let is_constant = is_constant(&raw);
        let entries = raw.into_iter().map(|v| DoubleDouble::from(v * power_of_two)).collect();
        Self { entries, power_of_two, is_constant }
    }

    fn power(&self, exponent: u32) -> Result<Self, StatsError> {
        if exponent > LARGEST_EXPONENT {
            return Err(StatsError::OutOfRange { what: "a power of x" });
        }
        let mut entries = vec![DoubleDouble::ONE; self.entries.len()];
        let mut power_of_two = 1.0;
        for _ in 0..exponent {
            for (power, &base) in entries.iter_mut().zip(&self.entries) {
                *power = *power * base;
            }
            power_of_two *= self.power_of_two;
            if !(1e-290..=1e290).contains(&power_of_two) {
                return Err(StatsError::OutOfRange { what: "a power of x" });
            }
        }
        // Powers of numbers in [1, 2) grow again, so bring them back.
        let again = power_of_two_to_unit(entries.iter().fold(0.0, |m, v| f64::max(m, v.to_f64().abs())));
        let entries = entries.into_iter().map(|v| v.scale(again)).collect();
        Ok(Self {
            entries,
            power_of_two: power_of_two * again,
            is_constant: exponent == 0 || self.is_constant,
        })
    }
}

/// Then it serves as an intercept, and the total sum of squares is counted from the mean.
fn is_constant(column: &[f64]) -> bool {
    column.windows(2).all(|pair| pair[0].to_bits() == pair[1].to_bits())
}

pub(crate) fn largest(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |m, v| f64::max(m, v.abs()))
}

pub(crate) fn require_finite(what: &'static str, row: usize, values: &[f64]) -> Result<(), StatsError> {
    match values.iter().find(|v| !v.is_finite()) {
        Some(&value) => Err(StatsError::NotFinite { what, row, value }),
        None => Ok(()),
    }
}

pub(crate) fn require_usable(
    n_columns: usize,
    n_rows: usize,
    y: &[f64],
    weights: Option<&[f64]>,
) -> Result<(), StatsError> {
    if n_columns == 0 && n_rows > 0 {
        return Err(StatsError::NoColumns);
    }
    if y.len() != n_rows {
        return Err(StatsError::LengthMismatch { what: "y", found: y.len(), expected: n_rows });
    }
    for (row, value) in y.iter().enumerate() {
        require_finite("y", row, &[*value])?;
    }
    if let Some(weights) = weights {
        require_weights(weights, n_rows)?;
    }
    if n_rows < n_columns + 1 || n_rows == 0 {
        return Err(StatsError::TooFewRows { found: n_rows, needed: n_columns + 1 });
    }
    Ok(())
}

fn require_weights(weights: &[f64], n_rows: usize) -> Result<(), StatsError> {
    if weights.len() != n_rows {
        return Err(StatsError::LengthMismatch { what: "weights", found: weights.len(), expected: n_rows });
    }
    for (row, &weight) in weights.iter().enumerate() {
        require_finite("the weight", row, &[weight])?;
        if weight <= 0.0 {
            return Err(StatsError::WeightNotPositive { row, weight });
        }
    }
    Ok(())
}

/// Square roots of the weights divided by a power of two, and that power.
fn root_weights(weights: Option<&[f64]>, n_rows: usize) -> (Vec<DoubleDouble>, f64) {
    let Some(weights) = weights else {
        return (vec![DoubleDouble::ONE; n_rows], 1.0);
    };
    let root_power = root_power_of_two(weights);
    let roots = weights.iter().map(|&w| DoubleDouble::from(w * root_power * root_power).sqrt()).collect();
    (roots, root_power)
}

/// The power of two whose square brings the largest weight near 1, so that the root of that is a power of two as well.
pub(crate) fn root_power_of_two(weights: &[f64]) -> f64 {
    let (_, exponent) = libm::frexp(largest(weights));
    libm::scalbn(1.0, -exponent.div_euclid(2))
}

fn times(a: &[DoubleDouble], b: &[DoubleDouble]) -> Vec<DoubleDouble> {
    a.iter().zip(b).map(|(&a, &b)| a * b).collect()
}

fn fit(columns: &[Column], n_rows: usize, y: &[f64], weights: Option<&[f64]>) -> Result<Fit, StatsError> {
    require_usable(columns.len(), n_rows, y, weights)?;
    let (roots, root_power) = root_weights(weights, n_rows);
    let y = Column::scaled(y.to_vec());
    Problem { columns, y, roots, root_power }.solve()
}

/// The problem in numbers near 1; only [`Problem::solve`] knows the powers of two that lead back.
struct Problem<'a> {
    columns: &'a [Column],
    y: Column,
    /// Square roots of the weights.
    roots: Vec<DoubleDouble>,
    root_power: f64,
}

impl Problem<'_> {
    fn solve(&self) -> Result<Fit, StatsError> {
        let weighted = self.columns.iter().map(|c| times(&c.entries, &self.roots)).collect();
        let solved = qr::solve(weighted, times(&self.y.entries, &self.roots))?;
        let fitted = self.fitted(&solved);
        let residuals: Vec<DoubleDouble> = self.y.entries.iter().zip(&fitted).map(|(&y, &f)| y - f).collect();
        let residual_squares: DoubleDouble = times(&residuals, &self.roots).iter().map(|v| v.square()).sum();
        let (total_about, total_squares) = self.total();
        let degrees_of_freedom = residuals.len() - self.columns.len();
        let sd = (residual_squares / DoubleDouble::from(degrees_of_freedom as f64)).sqrt();
        let covariance = scaled_covariance(&solved);

        let power = |j: usize| self.columns[j].power_of_two;
        let plain_y = |v: &DoubleDouble| v.to_f64() / self.y.power_of_two;
        let plain_square =
            |v: DoubleDouble| plain_y(&v) / self.y.power_of_two / self.root_power / self.root_power;
        let plain_covariance = |j: usize, k: usize| {
            covariance[j][k].to_f64() * power(j) * power(k) * self.root_power * self.root_power
        };
        let n = self.columns.len();
        Fit {
            coefficients: (0..n).map(|j| plain_y(&solved.coefficients[j]) * power(j)).collect(),
            standard_errors: (0..n).map(|j| plain_y(&(covariance[j][j].sqrt() * sd)) * power(j)).collect(),
            unscaled_covariance: (0..n).map(|j| (0..n).map(|k| plain_covariance(j, k)).collect()).collect(),
            fitted: fitted.iter().map(plain_y).collect(),
            residuals: residuals.iter().map(plain_y).collect(),
            leverage: (0..residuals.len()).map(|row| self.leverage(&solved, row)).collect(),
            residual_sum_of_squares: plain_square(residual_squares),
            total_sum_of_squares: plain_square(total_squares),
            total_about,
            residual_sd: plain_y(&sd) / self.root_power,
            degrees_of_freedom,
            r_squared: r_squared(residual_squares, total_squares),
        }
        .require_finite()
    }

    fn fitted(&self, solved: &qr::Solved) -> Vec<DoubleDouble> {
        let value = |row: usize| -> DoubleDouble {
            self.columns.iter().zip(&solved.coefficients).map(|(c, &b)| c.entries[row] * b).sum()
        };
        (0..self.roots.len()).map(value).collect()
    }

    fn total(&self) -> (TotalAbout, DoubleDouble) {
        let (y, roots) = (&self.y.entries, &self.roots);
        let (about, centre) = if self.columns.iter().any(|c| c.is_constant) {
            let weight: DoubleDouble = roots.iter().map(|r| r.square()).sum();
            let sum: DoubleDouble = y.iter().zip(roots).map(|(&y, r)| y * r.square()).sum();
            (TotalAbout::Mean, sum / weight)
        } else {
            (TotalAbout::Zero, DoubleDouble::ZERO)
        };
        (about, y.iter().zip(roots).map(|(&y, &r)| ((y - centre) * r).square()).sum())
    }

    /// Squared length of the row of Q.
    fn leverage(&self, solved: &qr::Solved, row: usize) -> f64 {
        let q = |k: usize| -> DoubleDouble {
            (0..=k).map(|j| self.columns[j].entries[row] * solved.inverse_triangle[j][k]).sum()
        };
        let squares = (0..self.columns.len()).map(|k| (q(k) * self.roots[row]).square());
        squares.sum::<DoubleDouble>().to_f64()
    }
}

fn scaled_covariance(solved: &qr::Solved) -> Vec<Vec<DoubleDouble>> {
    let rows = &solved.inverse_triangle;
    rows.iter().map(|a| rows.iter().map(|b| times(a, b).into_iter().sum()).collect()).collect()
}

pub(crate) fn r_squared(residual: DoubleDouble, total: DoubleDouble) -> f64 {
    if total.to_f64() > 0.0 { (DoubleDouble::ONE - residual / total).to_f64() } else { 0.0 }
}

impl Fit {
    pub(crate) fn require_finite(self) -> Result<Self, StatsError> {
        let scalars = [self.residual_sum_of_squares, self.total_sum_of_squares, self.residual_sd];
        let vectors = [&self.coefficients, &self.standard_errors, &self.fitted, &self.residuals];
        let all = vectors.into_iter().chain(&self.unscaled_covariance).flatten().chain(&scalars);
        if all.into_iter().all(|v| v.is_finite()) {
            Ok(self)
        } else {
            Err(StatsError::OutOfRange { what: "a result of the fit" })
        }
    }
}

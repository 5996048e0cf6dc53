//! The straight line, with or without an intercept, in closed form about the centre of the data.
//!
//! The same numbers as the general solver at a fraction of its time: distances from the centre are formed in
//! double-double, so that subtracting it costs no digits, and sums of their products carry their rounding along.

use crate::double_double::{CarriedSum, DoubleDouble, power_of_two_to_unit};
use crate::error::StatsError;
use crate::least_squares::{Fit, TotalAbout, largest, r_squared, root_power_of_two};
use crate::qr::DEPENDENT;

/// Which of the two lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Line {
    WithIntercept,
    ThroughOrigin,
}

/// The data and the powers of two that bring them near 1. Lengths, finiteness and weights have been checked.
pub(crate) struct Points<'a> {
    x: &'a [f64],
    y: &'a [f64],
    weights: Option<&'a [f64]>,
    x_power: f64,
    y_power: f64,
    root_power: f64,
}

/// What the line goes through and its weight.
struct Centre {
    x: DoubleDouble,
    y: DoubleDouble,
    weight: DoubleDouble,
}

/// Weighted sums of products of the distances from the centre.
struct Products {
    xx: DoubleDouble,
    xy: DoubleDouble,
    yy: DoubleDouble,
}

/// Per row.
struct Rows {
    fitted: Vec<f64>,
    residuals: Vec<f64>,
    leverage: Vec<f64>,
    squares: DoubleDouble,
}

/// Least squares of a line on checked data.
///
/// Source: Draper & Smith, Applied Regression Analysis, 1.2 (line about the mean), weighted as in 9.2.
pub(crate) fn fit(line: Line, points: &Points<'_>) -> Result<Fit, StatsError> {
    let centre = points.centre(line);
    let products = points.products(&centre);
    let column = usize::from(line == Line::WithIntercept);
    let whole = products.xx + centre.x.square() * centre.weight;
    let share = if whole.to_f64() > 0.0 { (products.xx / whole).sqrt().to_f64() } else { 0.0 };
    if share.is_nan() || share <= DEPENDENT {
        return Err(StatsError::RankDeficient { column, independent_part: share });
    }
    let slope = products.xy / products.xx;
    let rows = points.rows(line, &centre, &products, slope);
    let degrees_of_freedom = points.x.len() - (column + 1);
    let sd = (rows.squares / DoubleDouble::from(degrees_of_freedom as f64)).sqrt();

    let (x_power, y_power, root_power) = (points.x_power, points.y_power, points.root_power);
    let of_slope = DoubleDouble::ONE / products.xx;
    let plain_square = |v: DoubleDouble| v.to_f64() / y_power / y_power / root_power / root_power;
    let plain_variance = |v: DoubleDouble, power: f64| v.to_f64() * power * root_power * root_power;
    let slope_variance = plain_variance(of_slope, x_power * x_power);
    let slope_error = (of_slope.sqrt() * sd).to_f64() / y_power * x_power;
    let plain_slope = slope.to_f64() / y_power * x_power;
    let (coefficients, standard_errors, unscaled_covariance) = match line {
        Line::ThroughOrigin => (vec![plain_slope], vec![slope_error], vec![vec![slope_variance]]),
        Line::WithIntercept => {
            let intercept = centre.y - slope * centre.x;
            let both = -(centre.x * of_slope);
            let of_intercept = DoubleDouble::ONE / centre.weight - both * centre.x;
            let covariance = plain_variance(both, x_power);
            (
                vec![intercept.to_f64() / y_power, plain_slope],
                vec![(of_intercept.sqrt() * sd).to_f64() / y_power, slope_error],
                vec![vec![plain_variance(of_intercept, 1.0), covariance], vec![covariance, slope_variance]],
            )
        }
    };
    Fit {
        coefficients,
        standard_errors,
        unscaled_covariance,
        fitted: rows.fitted,
        residuals: rows.residuals,
        leverage: rows.leverage,
        residual_sum_of_squares: plain_square(rows.squares),
        total_sum_of_squares: plain_square(products.yy),
        total_about: if line == Line::WithIntercept { TotalAbout::Mean } else { TotalAbout::Zero },
        residual_sd: sd.to_f64() / y_power / root_power,
        degrees_of_freedom,
        r_squared: r_squared(rows.squares, products.yy),
    }
    .require_finite()
}

impl<'a> Points<'a> {
    pub(crate) fn new(x: &'a [f64], y: &'a [f64], weights: Option<&'a [f64]>) -> Self {
        Self {
            x,
            y,
            weights,
            x_power: power_of_two_to_unit(largest(x)),
            y_power: power_of_two_to_unit(largest(y)),
            root_power: weights.map_or(1.0, root_power_of_two),
        }
    }

    fn scaled(&self) -> impl Iterator<Item = (usize, f64, f64)> {
        self.x.iter().zip(self.y).enumerate().map(|(row, (x, y))| (row, x * self.x_power, y * self.y_power))
    }

    /// `value` times the weight of its row.
    fn weighted(&self, row: usize, value: DoubleDouble) -> DoubleDouble {
        match self.weights {
            Some(weights) => value.times(weights[row] * self.root_power * self.root_power),
            None => value,
        }
    }

    fn centre(&self, line: Line) -> Centre {
        if line == Line::ThroughOrigin {
            return Centre { x: DoubleDouble::ZERO, y: DoubleDouble::ZERO, weight: DoubleDouble::ONE };
        }
        let (mut sum_x, mut sum_y, mut weight) = (CarriedSum::ZERO, CarriedSum::ZERO, CarriedSum::ZERO);
        for (row, x, y) in self.scaled() {
            sum_x.add(self.weighted(row, DoubleDouble::from(x)));
            sum_y.add(self.weighted(row, DoubleDouble::from(y)));
            weight.add(self.weighted(row, DoubleDouble::ONE));
        }
        let weight = weight.total();
        let share = DoubleDouble::ONE / weight;
        Centre { x: sum_x.total() * share, y: sum_y.total() * share, weight }
    }

    fn products(&self, centre: &Centre) -> Products {
        let (mut xx, mut xy, mut yy) = (CarriedSum::ZERO, CarriedSum::ZERO, CarriedSum::ZERO);
        for (row, x, y) in self.scaled() {
            let from_x = (-centre.x).plus(x);
            let from_y = (-centre.y).plus(y);
            let weighted_x = self.weighted(row, from_x);
            xx.add(weighted_x * from_x);
            xy.add(weighted_x * from_y);
            yy.add(self.weighted(row, from_y) * from_y);
        }
        Products { xx: xx.total(), xy: xy.total(), yy: yy.total() }
    }

    fn rows(&self, line: Line, centre: &Centre, products: &Products, slope: DoubleDouble) -> Rows {
        let n = self.x.len();
        let [mut fitted, mut residuals, mut leverage] = [(); 3].map(|()| vec![0.0; n]);
        let mut squares = CarriedSum::ZERO;
        let per_square = 1.0 / products.xx.to_f64();
        let of_mean = if line == Line::WithIntercept { 1.0 / centre.weight.to_f64() } else { 0.0 };
        let back = 1.0 / self.y_power;
        let places = fitted.iter_mut().zip(&mut residuals).zip(&mut leverage);
        for (((fitted, plain_residual), leverage), (row, x, y)) in places.zip(self.scaled()) {
            let from_x = (-centre.x).plus(x);
            let value = centre.y + slope * from_x;
            let residual = (-value).plus(y);
            squares.add(self.weighted(row, residual) * residual);
            *fitted = value.to_f64() * back;
            *plain_residual = residual.to_f64() * back;
            let distance = from_x.to_f64();
            let share = DoubleDouble::from(of_mean + distance * distance * per_square);
            *leverage = self.weighted(row, share).to_f64();
        }
        Rows { fitted, residuals, leverage, squares: squares.total() }
    }
}

//! Maximum likelihood for normal or log-normal values, some of them below or above limits.

use crate::censored::{Observation, Shape};
use crate::distributions::{normal_cdf, normal_density, normal_quantile};
use crate::error::{StatsError, require_in_range};
use crate::spread::{mean, standard_deviation};

const MOST_STEPS: usize = 200;

/// The normal distribution that makes the observations most likely.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LikelihoodFit {
    /// On the scale of [`Shape`]: of the values, or of their natural logarithms.
    pub mean: f64,
    /// Standard deviation on that scale (maximum likelihood: divided by n, not n − 1, when all are found).
    pub sd: f64,
    /// Standard error of the mean, from the curvature of the likelihood.
    pub mean_error: f64,
    /// Standard error of the standard deviation.
    pub sd_error: f64,
    /// Covariance of mean and standard deviation.
    pub covariance: f64,
    shape: Shape,
}

impl LikelihoodFit {
    /// Mean on the scale of the observations: `exp(mean + sd²/2)` for log-normal values.
    ///
    /// # Units
    /// Those of the observations.
    ///
    /// # Source
    /// Mean of the log-normal distribution; it leans on the shape: prefer Kaplan–Meier where shape is in doubt.
    pub fn mean_of_observations(&self) -> f64 {
        match self.shape {
            Shape::Normal => self.mean,
            Shape::LogNormal => libm::exp(self.mean + 0.5 * self.sd * self.sd),
        }
    }

    /// The value below which `share` of the fitted distribution lies, on the scale of the observations.
    ///
    /// # Units
    /// `share` in (0, 1), otherwise NaN.
    ///
    /// # Source
    /// Definition.
    pub fn percentile(&self, share: f64) -> f64 {
        self.shape.back(self.mean + normal_quantile(share) * self.sd)
    }
}

/// Fits mean and standard deviation to found values and to values below or above limits, any number of limits.
///
/// # Units
/// Observations in one unit.
///
/// # Errors
/// [`StatsError::TooFewValues`] below two found values, [`StatsError::NoVariation`] when the found values are equal (the
/// limits alone fix no spread), [`StatsError::NotFinite`], [`StatsError::NotPositive`], [`StatsError::NotSettled`].
///
/// # Source
/// Cohen 1959, Technometrics 1, 217 (the likelihood); Olsen 1978, Econometrica 46, 1211: it has one maximum in
/// `(mean/sd, 1/sd)`, reached by Newton's method.
///
/// # Example
/// ```
/// use stillwell_stats::censored::{Observation::{Above, Below, Found}, Shape, likelihood_fit};
/// let values = [Below(2.0), Found(3.3), Found(5.3), Found(7.7), Found(8.4), Above(10.0)];
/// let fit = likelihood_fit(&values, Shape::Normal)?;
/// assert!(fit.mean > 5.0 && fit.mean < 7.5 && fit.sd > 3.0);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn likelihood_fit(observations: &[Observation], shape: Shape) -> Result<LikelihoodFit, StatsError> {
    let scaled = Observation::on_scale(observations, shape)?;
    let found = Observation::found(&scaled);
    let (centre, scale) = (mean(&found)?, standard_deviation(&found)?);
    if scale <= 0.0 {
        return Err(StatsError::NoVariation {
            what: "the values found",
            statistic: "the likelihood's spread",
        });
    }
    let near_one = |v: f64| (v - centre) / scale;
    let mut search = Search { observations: &scaled, near_one: &near_one, ratio: 0.0, precision: 1.0 };
    let curvature = search.climb()?;
    let (ratio, precision) = (search.ratio, search.precision);
    // Inverse of the curvature, carried from (mean/sd, 1/sd) to (mean, sd).
    let determinant = curvature.rr * curvature.pp - curvature.rp * curvature.rp;
    let (vrr, vpp, vrp) =
        (curvature.pp / determinant, curvature.rr / determinant, -curvature.rp / determinant);
    let (by_r, by_p, sd_by_p) =
        (1.0 / precision, -ratio / precision / precision, -1.0 / precision / precision);
    let mean_variance = by_r * by_r * vrr + 2.0 * by_r * by_p * vrp + by_p * by_p * vpp;
    let fit = LikelihoodFit {
        mean: centre + scale * ratio / precision,
        sd: scale / precision,
        mean_error: scale * libm::sqrt(mean_variance),
        sd_error: scale * libm::sqrt(sd_by_p * sd_by_p * vpp),
        covariance: scale * scale * sd_by_p * (by_r * vrp + by_p * vpp),
        shape,
    };
    require_in_range("the likelihood", &[fit.mean, fit.sd, fit.mean_error, fit.sd_error, fit.covariance])?;
    Ok(fit)
}

/// Minus the second derivatives of the logarithm of the likelihood by ratio (r) and precision (p).
struct Curvature {
    rr: f64,
    rp: f64,
    pp: f64,
}

/// The point reached: `ratio = mean/sd`, `precision = 1/sd`, in numbers near one.
struct Search<'a> {
    observations: &'a [Observation],
    near_one: &'a dyn Fn(f64) -> f64,
    ratio: f64,
    precision: f64,
}

impl Search<'_> {
    /// Newton's steps, halved until the likelihood does not fall.
    fn climb(&mut self) -> Result<Curvature, StatsError> {
        let mut height = self.height(self.ratio, self.precision);
        for _ in 0..MOST_STEPS {
            let (by_r, by_p, curvature) = self.slopes();
            let determinant = curvature.rr * curvature.pp - curvature.rp * curvature.rp;
            let step_r = (curvature.pp * by_r - curvature.rp * by_p) / determinant;
            let step_p = (curvature.rr * by_p - curvature.rp * by_r) / determinant;
            let mut part = 1.0;
            let reached = loop {
                let (r, p) = (self.ratio + part * step_r, self.precision + part * step_p);
                let there = if p > 0.0 { self.height(r, p) } else { f64::NEG_INFINITY };
                if there >= height - 1e-12 * height.abs() {
                    (self.ratio, self.precision) = (r, p);
                    break there;
                }
                part *= 0.5;
                if part < 1e-10 {
                    return Err(StatsError::NotSettled { what: "the likelihood", n_steps: MOST_STEPS });
                }
            };
            height = reached;
            if part >= 1.0
                && step_r.abs() <= 1e-13 * (1.0 + self.ratio.abs())
                && step_p.abs() <= 1e-13 * self.precision
            {
                return Ok(self.slopes().2);
            }
        }
        Err(StatsError::NotSettled { what: "the likelihood", n_steps: MOST_STEPS })
    }

    fn height(&self, ratio: f64, precision: f64) -> f64 {
        let of = |observation: &Observation| {
            let z = precision * (self.near_one)(observation.number()) - ratio;
            match observation {
                Observation::Found(_) => libm::log(precision) - 0.5 * z * z,
                Observation::Below(_) => log_cdf(z),
                Observation::Above(_) => log_cdf(-z),
            }
        };
        self.observations.iter().map(of).sum()
    }

    fn slopes(&self) -> (f64, f64, Curvature) {
        let (mut by_r, mut by_p) = (0.0, 0.0);
        let mut curvature = Curvature { rr: 0.0, rp: 0.0, pp: 0.0 };
        for observation in self.observations {
            let y = (self.near_one)(observation.number());
            let z = self.precision * y - self.ratio;
            // First and minus second derivative of the observation's own term by z.
            let (first, second) = match observation {
                Observation::Found(_) => {
                    by_p += 1.0 / self.precision;
                    curvature.pp += 1.0 / self.precision / self.precision;
                    (-z, 1.0)
                }
                Observation::Below(_) => hazard(z),
                Observation::Above(_) => {
                    let (first, second) = hazard(-z);
                    (-first, second)
                }
            };
            by_r -= first;
            by_p += first * y;
            curvature.rr += second;
            curvature.rp -= second * y;
            curvature.pp += second * y * y;
        }
        (by_r, by_p, curvature)
    }
}

/// Below it the probability is about to leave the range of a float.
const FAR: f64 = -36.0;

fn log_cdf(z: f64) -> f64 {
    if z > FAR {
        return libm::log(normal_cdf(z));
    }
    // Mills' ratio for the far tail.
    let square = 1.0 / (z * z);
    -0.5 * z * z - libm::log(-z) - 0.918_938_533_204_672_8 + libm::log1p(-square * (1.0 - 3.0 * square))
}

/// `λ = φ/Φ` and `λ (λ + z)`.
fn hazard(z: f64) -> (f64, f64) {
    let rate = if z > FAR {
        normal_density(z) / normal_cdf(z)
    } else {
        let square = 1.0 / (z * z);
        -z / (1.0 - square * (1.0 - 3.0 * square))
    };
    (rate, rate * (rate + z))
}

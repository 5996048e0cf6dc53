//! The dilution scheme: every stock, intermediate, pipette and flask at hand is tried.

use super::budget::{Term, draw_terms, flask_terms, relative_covariance};
use super::glassware::Bench;
use super::stock::{self, Salt, StockSource};
use super::{Draw, PreparationDemands, Tool};

/// One solution: what it is drawn from, and where it is made up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Made {
    pub(super) from_intermediate: bool,
    pub(super) draw: Draw,
    pub(super) flask: usize,
    pub(super) concentration: f64,
    relative_variance: f64,
}

/// A stock as it would be made.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct StockMade {
    pub(super) concentration: f64,
    /// Weighed mass and flask; none for a bought solution.
    pub(super) weighed: Option<(f64, usize)>,
    pub(super) terms: Vec<Term>,
}

/// Everything for all levels.
#[derive(Debug, Clone)]
pub(super) struct Scheme {
    pub(super) stock: StockMade,
    pub(super) intermediate: Option<Made>,
    /// One a level, in their order.
    pub(super) levels: Vec<Made>,
}

/// Fewer aliquots, then less volume, then a rounder stock, then less uncertainty.
type Cost = (u32, f64, u32, f64);

/// At most this share of a solution is drawn from it again: rinsing takes the rest. Common practice, no source.
const USABLE_SHARE: f64 = 0.9;

pub(super) struct Search<'a> {
    pub(super) source: &'a StockSource,
    pub(super) bench: &'a Bench,
    pub(super) demands: &'a PreparationDemands,
    /// Levels above zero.
    pub(super) levels: &'a [f64],
    pub(super) largest_relative_variance: f64,
}

impl Search<'_> {
    /// The cheapest scheme from a round stock, else from one that meets the highest level exactly, else with an intermediate.
    pub(super) fn best(&self) -> Option<Scheme> {
        let round = self.stocks(false);
        self.cheapest(&round, &[None]).or_else(|| self.cheapest(&self.stocks(true), &[None])).or_else(|| {
            let intermediates: Vec<Option<(Draw, usize)>> = self.intermediates().map(Some).collect();
            self.cheapest(&round, &intermediates)
        })
    }

    fn cheapest(&self, stocks: &[StockMade], intermediates: &[Option<(Draw, usize)>]) -> Option<Scheme> {
        let mut best: Option<(Cost, Scheme)> = None;
        for stock in stocks {
            for intermediate in intermediates {
                let Some(scheme) = self.scheme(stock, *intermediate) else { continue };
                let cost = self.cost(&scheme);
                if best.as_ref().is_none_or(|(least, _)| is_cheaper(cost, *least)) {
                    best = Some((cost, scheme));
                }
            }
        }
        best.map(|(_, scheme)| scheme)
    }

    /// The smallest relative variance at which each level can be made from any of the stocks.
    pub(super) fn least_relative_variance(&self, level: f64) -> Option<f64> {
        let mut least: Option<f64> = None;
        let mut note = |made: Option<Made>| {
            if let Some(made) = made {
                least = Some(least.map_or(made.relative_variance, |v| v.min(made.relative_variance)));
            }
        };
        for stock in self.stocks(true) {
            note(
                self.of_flasks(&stock, None, level)
                    .min_by(|a, b| a.relative_variance.total_cmp(&b.relative_variance)),
            );
        }
        for stock in self.stocks(false) {
            for (draw, flask) in self.intermediates() {
                let made = self.intermediate(&stock, draw, flask);
                note(
                    self.of_flasks(&stock, Some(&made), level)
                        .min_by(|a, b| a.relative_variance.total_cmp(&b.relative_variance)),
                );
            }
        }
        least
    }

    fn scheme(&self, stock: &StockMade, intermediate: Option<(Draw, usize)>) -> Option<Scheme> {
        let intermediate = intermediate.map(|(draw, flask)| self.intermediate(stock, draw, flask));
        let mut levels = Vec::with_capacity(self.levels.len());
        for level in self.levels {
            let direct = self.chosen(stock, None, *level);
            let through = intermediate.as_ref().and_then(|made| self.chosen(stock, Some(made), *level));
            levels.push(match (direct, through) {
                (Some(a), Some(b)) => {
                    if is_cheaper(self.cost_of(&b), self.cost_of(&a)) {
                        b
                    } else {
                        a
                    }
                }
                (a, b) => a.or(b)?,
            });
        }
        let scheme = Scheme { stock: stock.clone(), intermediate, levels };
        self.suffices(&scheme).then_some(scheme)
    }

    fn intermediate(&self, stock: &StockMade, draw: Draw, flask: usize) -> Made {
        let concentration = stock.concentration * draw.total_ml() / self.flask_ml(flask);
        Made { from_intermediate: false, draw, flask, concentration, relative_variance: 0.0 }
    }

    /// The cheapest way to one level that is accurate enough.
    fn chosen(&self, stock: &StockMade, through: Option<&Made>, level: f64) -> Option<Made> {
        let mut best: Option<Made> = None;
        for made in self.of_flasks(stock, through, level) {
            if made.relative_variance <= self.largest_relative_variance
                && best.as_ref().is_none_or(|least| is_cheaper(self.cost_of(&made), self.cost_of(least)))
            {
                best = Some(made);
            }
        }
        best
    }

    /// Every way to one level from the stock, or from an intermediate made of it.
    fn of_flasks<'s>(
        &'s self,
        stock: &'s StockMade,
        through: Option<&'s Made>,
        level: f64,
    ) -> impl Iterator<Item = Made> + 's {
        let from = through.map_or(stock.concentration, |made| made.concentration);
        let flasks = self.bench.flasks.iter().enumerate();
        flasks.filter(|(_, flask)| flask.volume_ml >= self.demands.volume_ml).flat_map(
            move |(place, flask)| {
                self.draws(from, level, flask.volume_ml).map(move |draw| {
                    let concentration = from * draw.total_ml() / flask.volume_ml;
                    let terms = self.terms(stock, through, &draw, place);
                    Made {
                        from_intermediate: through.is_some(),
                        draw,
                        flask: place,
                        concentration,
                        relative_variance: relative_covariance(&terms, &terms),
                    }
                })
            },
        )
    }

    fn terms(&self, stock: &StockMade, through: Option<&Made>, draw: &Draw, flask: usize) -> Vec<Term> {
        let mut terms = stock.terms.clone();
        if let Some(made) = through {
            terms.extend(draw_terms(self.bench, &made.draw, 1));
            terms.extend(flask_terms(self.bench, made.flask, 1));
        }
        terms.extend(draw_terms(self.bench, draw, 2));
        terms.extend(flask_terms(self.bench, flask, 2));
        terms
    }

    /// What can be drawn from a solution so that the flask holds the level within the tolerance.
    fn draws(&self, from: f64, level: f64, flask_ml: f64) -> impl Iterator<Item = Draw> + '_ {
        let wanted_ml = level / from * flask_ml;
        let allowed_ml = self.demands.level_tolerance * wanted_ml;
        let most = self.demands.most_aliquots;
        let of_glass = self.bench.pipettes.iter().enumerate().flat_map(move |(place, pipette)| {
            (1..=most).map(move |aliquots| Draw {
                tool: Tool::Pipette(place),
                volume_ml: pipette.volume_ml,
                aliquots,
            })
        });
        let of_piston =
            self.bench.piston_pipettes.iter().enumerate().flat_map(move |(place, pipette)| {
                (1..=most).filter_map(move |aliquots| {
                    let steps = (wanted_ml / f64::from(aliquots) / pipette.step_ml).round();
                    let volume_ml = (steps * pipette.step_ml * 1e6).round() / 1e6;
                    let slack = 1e-9 * pipette.to_ml;
                    (volume_ml >= pipette.from_ml - slack && volume_ml <= pipette.to_ml + slack)
                        .then_some(Draw { tool: Tool::PistonPipette(place), volume_ml, aliquots })
                })
            });
        of_glass.chain(of_piston).filter(move |draw| {
            // Equal to a billionth is equal: ratios of volumes are rounded.
            let total = draw.total_ml();
            wanted_ml.is_finite()
                && (total - wanted_ml).abs() <= allowed_ml + 1e-9 * wanted_ml
                && total < flask_ml
        })
    }

    /// Glass pipettes once, into flasks that are at least twice as large.
    fn intermediates(&self) -> impl Iterator<Item = (Draw, usize)> + '_ {
        self.bench.pipettes.iter().enumerate().flat_map(move |(place, pipette)| {
            let draw = Draw { tool: Tool::Pipette(place), volume_ml: pipette.volume_ml, aliquots: 1 };
            let flasks = self.bench.flasks.iter().enumerate();
            flasks
                .filter(move |(_, flask)| flask.volume_ml >= 2.0 * pipette.volume_ml)
                .map(move |(flask, _)| (draw, flask))
        })
    }

    /// Stocks worth trying: round ones, or those that meet the highest level exactly. A scheme of glass pipettes without an
    /// intermediate has one of the latter, since its highest level is drawn from the stock.
    fn stocks(&self, exact: bool) -> Vec<StockMade> {
        let demands = self.demands;
        match self.source {
            StockSource::Solution { concentration_mg_per_l, .. } => vec![StockMade {
                concentration: *concentration_mg_per_l,
                weighed: None,
                terms: stock::terms(self.source, self.bench, f64::NAN, 0, demands.temperature_half_width_k),
            }],
            StockSource::Salt(salt) => {
                let mut concentrations =
                    if exact { self.exact_concentrations(salt) } else { round_concentrations(salt) };
                concentrations.sort_by(f64::total_cmp);
                concentrations.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * a.abs());
                let places = 0..self.bench.flasks.len();
                concentrations
                    .iter()
                    .flat_map(|c| places.clone().filter_map(|flask| self.weighed(salt, *c, flask)))
                    .collect()
            }
        }
    }

    fn exact_concentrations(&self, salt: &Salt) -> Vec<f64> {
        let [low, high] = salt.stock_range_mg_per_l;
        let highest = self.levels.iter().copied().fold(0.0, f64::max);
        let mut found = Vec::new();
        for flask in self.bench.flasks.iter().filter(|f| f.volume_ml >= self.demands.volume_ml) {
            for pipette in &self.bench.pipettes {
                let drawn = (1..=self.demands.most_aliquots).map(|n| f64::from(n) * pipette.volume_ml);
                found.extend(drawn.map(|ml| highest * flask.volume_ml / ml));
            }
        }
        found.retain(|c| (low..=high).contains(c));
        found
    }

    /// The mass rounded to what the balance shows; none below what is weighed on it.
    fn weighed(&self, salt: &Salt, concentration: f64, flask: usize) -> Option<StockMade> {
        let balance = &self.bench.balance;
        let share = salt.purity * salt.analyte_share;
        let exact_mg = concentration * self.flask_ml(flask) / 1000.0 / share;
        let mass_mg = if balance.readability_mg > 0.0 {
            (exact_mg / balance.readability_mg).round() * balance.readability_mg
        } else {
            exact_mg
        };
        (mass_mg >= balance.smallest_mass_mg && mass_mg > 0.0).then(|| StockMade {
            concentration: 1000.0 * mass_mg * share / self.flask_ml(flask),
            weighed: Some((mass_mg, flask)),
            terms: stock::terms(
                self.source,
                self.bench,
                mass_mg,
                flask,
                self.demands.temperature_half_width_k,
            ),
        })
    }

    /// Whether stock and intermediate hold what is drawn from them.
    fn suffices(&self, scheme: &Scheme) -> bool {
        let drawn = |from_intermediate: bool| -> f64 {
            let of_levels = scheme.levels.iter().filter(|made| made.from_intermediate == from_intermediate);
            of_levels.map(|made| made.draw.total_ml()).sum()
        };
        let of_intermediate =
            scheme.intermediate.as_ref().map_or(f64::INFINITY, |made| self.flask_ml(made.flask));
        let from_stock = drawn(false) + scheme.intermediate.as_ref().map_or(0.0, |made| made.draw.total_ml());
        let of_stock = scheme.stock.weighed.map_or(f64::INFINITY, |(_, flask)| self.flask_ml(flask));
        let is_used =
            scheme.intermediate.is_none() || scheme.levels.iter().any(|made| made.from_intermediate);
        is_used && drawn(true) <= USABLE_SHARE * of_intermediate && from_stock <= USABLE_SHARE * of_stock
    }

    fn flask_ml(&self, place: usize) -> f64 {
        self.bench.flasks.get(place).map_or(f64::NAN, |flask| flask.volume_ml)
    }

    fn cost_of(&self, made: &Made) -> Cost {
        (made.draw.aliquots, self.flask_ml(made.flask), 0, made.relative_variance)
    }

    fn cost(&self, scheme: &Scheme) -> Cost {
        let all = || scheme.levels.iter().chain(&scheme.intermediate);
        let of_stock = scheme.stock.weighed.map_or(0.0, |(_, flask)| self.flask_ml(flask));
        (
            all().map(|made| made.draw.aliquots).sum(),
            of_stock + all().map(|made| self.flask_ml(made.flask)).sum::<f64>(),
            n_digits(scheme.stock.concentration),
            scheme.levels.iter().map(|made| made.relative_variance).fold(0.0, f64::max),
        )
    }
}

fn is_cheaper(a: Cost, b: Cost) -> bool {
    a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)).then(a.3.total_cmp(&b.3)).is_lt()
}

/// Significant digits, as far as rounding of a mass leaves them: 4 stands for four or more.
fn n_digits(concentration: f64) -> u32 {
    let scale = libm::pow(10.0, libm::floor(libm::log10(concentration)));
    let mantissa = concentration / scale;
    (1..4)
        .find(|digits| {
            let unit = libm::pow(10.0, f64::from(digits - 1));
            ((mantissa * unit).round() / unit - mantissa).abs() < 2e-4 * mantissa
        })
        .unwrap_or(4)
}

/// Numbers that are easy to say, within the range that may be prepared.
fn round_concentrations(salt: &Salt) -> Vec<f64> {
    const MANTISSAS: [f64; 9] = [1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5];
    let [low, high] = salt.stock_range_mg_per_l;
    let first = libm::floor(libm::log10(low));
    let n_decades = (libm::ceil(libm::log10(high)) - first).clamp(1.0, 8.0);
    let mut found = Vec::new();
    let mut scale = libm::pow(10.0, first);
    let mut decade = 0.0;
    while decade <= n_decades {
        found.extend(MANTISSAS.map(|mantissa| mantissa * scale).iter().filter(|c| (low..=high).contains(*c)));
        scale *= 10.0;
        decade += 1.0;
    }
    found
}

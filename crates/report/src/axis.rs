//! An axis: what it shows, in which unit, over which span, with which ticks.

use crate::scale::{Domain, Scale, Spacing, Tick, fixed_decimals, superscript, ten_to, ticks};
use crate::words::{harmless, shortened, width};

/// The unit of an axis.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AxisUnit {
    /// An SI unit, shown with the prefix that gives short numbers: A as µA.
    Prefixed(String),
    /// Any other unit, shown as it is.
    Plain(String),
    /// Counts and ratios.
    None,
}

impl AxisUnit {
    /// The unit without a prefix.
    pub(crate) fn bare(&self) -> String {
        match self {
            Self::Prefixed(name) | Self::Plain(name) => harmless(name),
            Self::None => String::new(),
        }
    }
}

/// What an axis shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AxisText {
    /// The quantity, in words.
    pub quantity: String,
    /// Its unit.
    pub unit: AxisUnit,
}

impl AxisText {
    pub(crate) fn new(quantity: &str, unit: AxisUnit) -> Self {
        Self { quantity: quantity.to_owned(), unit }
    }
}

/// An axis before it is laid onto the drawing: everything in the unit that is shown.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Axis {
    quantity: String,
    /// The unit in the title, empty where there is none or it stands at each tick.
    unit: String,
    pub(crate) ticks: Vec<Tick>,
    domain: Domain,
    factor: f64,
    /// The unit that stands at each tick, where it is not in the title.
    tick_unit: Option<AxisUnit>,
}

impl Axis {
    pub(crate) fn new(text: &AxisText, domain: Domain, most_ticks: u32) -> Self {
        let (factor, unit) = shown_unit(&text.unit, domain);
        let shown = domain.scaled(factor);
        // On a logarithmic axis one prefix does not do for all.
        let has_own = domain.spacing == Spacing::Logarithmic && matches!(text.unit, AxisUnit::Prefixed(_));
        let tick_unit = has_own.then(|| text.unit.clone());
        let unit = if has_own { String::new() } else { unit };
        let quantity = harmless(&text.quantity);
        let mut axis =
            Self { quantity, unit, ticks: ticks(&shown, most_ticks), domain: shown, factor, tick_unit };
        if has_own {
            let values: Vec<f64> = axis.ticks.iter().map(|tick| tick.value).collect();
            axis = axis.with_ticks_at(&values);
        }
        axis
    }

    /// Quantity and unit, no wider than this: a long quantity is cut, so that the unit stays.
    pub(crate) fn title(&self, most: f64) -> String {
        if self.unit.is_empty() {
            return shortened(&self.quantity, most);
        }
        let unit = format!(" ({})", shortened(&self.unit, 0.5 * most));
        shortened(&self.quantity, most - width(&unit)) + &unit
    }

    /// With its ticks at these numbers in the unit of the data, as far as they can be drawn and told apart.
    pub(crate) fn with_ticks_at(mut self, values: &[f64]) -> Self {
        let (low, high) = (self.domain.low, self.domain.high);
        let shown =
            values.iter().map(|value| value * self.factor).filter(|value| *value >= low && *value <= high);
        let mut ticks: Vec<Tick> = shown.map(|value| Tick { value, label: self.short(value) }).collect();
        ticks.dedup_by(|a, b| a.label == b.label);
        if ticks.len() > 1 {
            self.ticks = ticks;
        }
        self
    }

    /// With words instead of numbers at places in the unit of the data.
    pub(crate) fn with_labels(mut self, labels: &[(f64, String)], widest: f64) -> Self {
        let (low, high) = (self.domain.low, self.domain.high);
        let placed = labels.iter().map(|(at, label)| (at * self.factor, label));
        let inside = placed.filter(|(at, _)| *at >= low && *at <= high);
        let ticks: Vec<Tick> =
            inside.map(|(value, label)| Tick { value, label: shortened(&harmless(label), widest) }).collect();
        if !ticks.is_empty() {
            self.ticks = ticks;
        }
        self
    }

    /// Three digits, without the zeros that say nothing.
    fn short(&self, value: f64) -> String {
        let words = quantity(value, self.tick_unit.as_ref().unwrap_or(&AxisUnit::None));
        let (digits, unit) = words.split_once(' ').unwrap_or((&words, ""));
        let digits =
            if digits.contains('.') { digits.trim_end_matches('0').trim_end_matches('.') } else { digits };
        format!("{digits} {unit}").trim_end().replace('-', "−")
    }

    /// Places of numbers in the unit of the data.
    pub(crate) fn laid(&self, from: f64, to: f64) -> Laid {
        Laid { scale: Scale { domain: self.domain, from, to }, factor: self.factor }
    }

    pub(crate) fn is_backed(&self) -> bool {
        self.domain.is_backed
    }
}

/// An axis on the drawing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Laid {
    scale: Scale,
    factor: f64,
}

impl Laid {
    /// The place of a number in the unit of the data.
    pub(crate) fn place(&self, value: f64) -> Option<f64> {
        self.scale.place(value * self.factor)
    }

    /// What the axis covers, in the unit of the data.
    pub(crate) fn covers(&self) -> (f64, f64) {
        (self.scale.domain.low / self.factor, self.scale.domain.high / self.factor)
    }

    pub(crate) fn place_of_tick(&self, tick: &Tick) -> Option<f64> {
        self.scale.place(tick.value)
    }
}

const PREFIXES: [(i64, &str); 10] = [
    (-15, "f"),
    (-12, "p"),
    (-9, "n"),
    (-6, "µ"),
    (-3, "m"),
    (0, ""),
    (3, "k"),
    (6, "M"),
    (9, "G"),
    (12, "T"),
];

/// The factor from the unit of the data to the unit shown, and that unit.
pub(crate) fn shown_unit(unit: &AxisUnit, domain: Domain) -> (f64, String) {
    let largest = domain.largest();
    let is_linear = domain.spacing == Spacing::Linear;
    let name = match unit {
        AxisUnit::Prefixed(name) if is_linear => {
            let reached = |(exponent, _): &&(i64, &str)| largest >= ten_to(*exponent);
            let (exponent, prefix) =
                PREFIXES.iter().rev().find(reached).or(PREFIXES.first()).unwrap_or(&(0, ""));
            return (ten_to(-exponent), format!("{prefix}{}", harmless(name)));
        }
        AxisUnit::Prefixed(name) | AxisUnit::Plain(name) => harmless(name),
        AxisUnit::None => String::new(),
    };
    if !is_linear || (1e-3..1e6).contains(&largest) {
        return (1.0, name);
    }
    let exponent = PREFIXED_POWER * decade(largest);
    (ten_to(-exponent), format!("10{} {name}", superscript(exponent)).trim_end().to_owned())
}

/// Powers in a unit go in steps of a thousand.
const PREFIXED_POWER: i64 = 3;

#[expect(clippy::cast_possible_truncation, reason = "a logarithm of a finite number")]
fn decade(largest: f64) -> i64 {
    libm::floor(libm::log10(largest) / 3.0) as i64
}

/// A number in a short label, with the prefix of its unit.
pub(crate) fn quantity(value: f64, unit: &AxisUnit) -> String {
    if !value.is_finite() {
        return "no number".to_owned();
    }
    match unit {
        AxisUnit::Prefixed(name) => stillwell_method::si(value, name).replace('-', "−"),
        AxisUnit::Plain(name) => format!("{} {}", stillwell_method::three_digits(value), harmless(name)),
        AxisUnit::None => stillwell_method::three_digits(value),
    }
}

/// A potential in a label.
pub(crate) fn potential(value_v: f64) -> String {
    if value_v.abs() < 1e6 {
        format!("{} V", fixed_decimals(value_v, 3))
    } else {
        quantity(value_v, &AxisUnit::Plain("V".to_owned()))
    }
}

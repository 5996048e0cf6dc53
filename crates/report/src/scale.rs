//! Scales: from a quantity to a place on the drawing, and the ticks of its axis.

/// Numbers beyond this are not drawn: their span would leave the range of f64.
const LARGEST: f64 = 1e150;

/// A span below this fraction of the numbers themselves is widened: its labels would not tell the ticks apart.
const NARROWEST: f64 = 1e-6;

/// How a quantity is spread over an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spacing {
    /// Equal differences are equally far apart.
    Linear,
    /// Equal ratios are equally far apart; numbers that are not positive are not drawn.
    Logarithmic,
}

/// What an axis covers: finite, `low < high`, and positive where it is logarithmic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Domain {
    pub(crate) spacing: Spacing,
    pub(crate) low: f64,
    pub(crate) high: f64,
    /// Whether there was a number to cover.
    pub(crate) is_backed: bool,
}

impl Domain {
    /// Covers all numbers that can be drawn; 0 to 1 (1 to 10) where there are none.
    pub(crate) fn of(values: impl Iterator<Item = f64>, spacing: Spacing) -> Self {
        let drawable = values.filter(|value| is_drawable(*value, spacing));
        let span = drawable.fold(None, |span: Option<(f64, f64)>, value| {
            span.map_or(Some((value, value)), |(low, high)| Some((low.min(value), high.max(value))))
        });
        let is_backed = span.is_some();
        let (low, high) = match (span, spacing) {
            (Some((low, high)), Spacing::Linear) => widened(low, high),
            (Some((low, high)), Spacing::Logarithmic) if high > low * (1.0 + NARROWEST) => (low, high),
            (Some((low, high)), Spacing::Logarithmic) => (low / 2.0, high * 2.0),
            (None, Spacing::Linear) => (0.0, 1.0),
            (None, Spacing::Logarithmic) => (1.0, 10.0),
        };
        Self { spacing, low, high, is_backed }
    }

    /// With some room at either end, as fractions of the span.
    pub(crate) fn padded(self, below: f64, above: f64) -> Self {
        match self.spacing {
            Spacing::Linear => {
                let span = self.high - self.low;
                Self { low: self.low - below * span, high: self.high + above * span, ..self }
            }
            Spacing::Logarithmic => {
                // Logarithms first: the ratio itself may leave the range of f64.
                let ratio = libm::log(self.high) - libm::log(self.low);
                let (down, up) = (libm::exp(below * ratio), libm::exp(above * ratio));
                Self { low: self.low / down, high: self.high * up, ..self }
            }
        }
    }

    /// The same span in other units.
    pub(crate) fn scaled(self, factor: f64) -> Self {
        Self { low: self.low * factor, high: self.high * factor, ..self }
    }

    pub(crate) fn largest(self) -> f64 {
        self.low.abs().max(self.high.abs())
    }
}

fn is_drawable(value: f64, spacing: Spacing) -> bool {
    // Smaller than the square root of the smallest normal number is as good as nothing on a logarithmic axis.
    value.abs() <= LARGEST && (spacing == Spacing::Linear || value >= 1.0 / LARGEST)
}

fn widened(low: f64, high: f64) -> (f64, f64) {
    let size = low.abs().max(high.abs());
    if size < 1.0 / LARGEST {
        return (0.0, 1.0);
    }
    if high - low > NARROWEST * size { (low, high) } else { (low - 0.05 * size, high + 0.05 * size) }
}

/// A domain laid onto the drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scale {
    pub(crate) domain: Domain,
    /// Where the low end lies.
    pub(crate) from: f64,
    /// Where the high end lies.
    pub(crate) to: f64,
}

impl Scale {
    /// The place of a number; none where it cannot be drawn. Beyond the ends it stays at the end.
    pub(crate) fn place(&self, value: f64) -> Option<f64> {
        let Domain { spacing, low, high, .. } = self.domain;
        if !is_drawable(value, spacing) {
            return None;
        }
        let fraction = match spacing {
            Spacing::Linear => (value - low) / (high - low),
            Spacing::Logarithmic => (libm::log(value) - libm::log(low)) / (libm::log(high) - libm::log(low)),
        };
        Some(self.from + fraction.clamp(0.0, 1.0) * (self.to - self.from))
    }
}

/// A labelled place on an axis.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tick {
    pub(crate) value: f64,
    pub(crate) label: String,
}

/// At most about `most` ticks at round numbers inside the domain, each with its own label.
pub(crate) fn ticks(domain: &Domain, most: u32) -> Vec<Tick> {
    match domain.spacing {
        Spacing::Linear => linear_ticks(domain, most),
        Spacing::Logarithmic => logarithmic_ticks(domain, most),
    }
}

/// One, two or five times a power of ten apart.
fn linear_ticks(domain: &Domain, most: u32) -> Vec<Tick> {
    let least_step = (domain.high - domain.low) / f64::from(most.max(1));
    let mut exponent = whole(libm::floor(libm::log10(least_step)));
    let fits = |m: &&f64| **m * ten_to(exponent) >= least_step * (1.0 - 1e-9);
    let mut multiple = [1.0, 2.0, 5.0].iter().find(fits).copied().unwrap_or(10.0);
    if multiple >= 10.0 {
        (multiple, exponent) = (1.0, exponent + 1);
    }
    let decimals = usize::try_from(-exponent).unwrap_or(0);
    let of = |count: i64| {
        let count = multiple * count as f64;
        // Dividing by a power of ten that is exact gives the number nearest to the printed label.
        if exponent < 0 { count / ten_to(-exponent) } else { count * ten_to(exponent) }
    };
    let first = whole(libm::ceil(domain.low / (multiple * ten_to(exponent)))) - 1;
    (first..=first.saturating_add(2 * i64::from(most) + 2))
        .map(of)
        .filter(|value| *value >= domain.low && *value <= domain.high)
        .map(|value| Tick { value, label: fixed_decimals(value, decimals) })
        .collect()
}

/// Powers of ten, and their doubles and halves where few of them lie in the domain.
fn logarithmic_ticks(domain: &Domain, most: u32) -> Vec<Tick> {
    let first = whole(libm::floor(libm::log10(domain.low)));
    let last = whole(libm::ceil(libm::log10(domain.high)));
    let n_decades = last.saturating_sub(first).max(1);
    let multiples: &[f64] = if n_decades <= 3 { &[1.0, 2.0, 5.0] } else { &[1.0] };
    let every = n_decades / i64::from(most.max(1)) + 1;
    (first..=last)
        .filter(|exponent| exponent.rem_euclid(every) == 0)
        .flat_map(|exponent| multiples.iter().map(move |multiple| (*multiple, exponent)))
        .map(|(multiple, exponent)| Tick {
            value: if exponent < 0 { multiple / ten_to(-exponent) } else { multiple * ten_to(exponent) },
            label: power_label(multiple, exponent),
        })
        .filter(|tick| tick.value >= domain.low && tick.value <= domain.high)
        .collect()
}

fn power_label(multiple: f64, exponent: i64) -> String {
    match exponent {
        0..=4 => fixed_decimals(multiple * ten_to(exponent), 0),
        -3..=-1 => fixed_decimals(multiple / ten_to(-exponent), usize::try_from(-exponent).unwrap_or(0)),
        _ if multiple > 1.0 => format!("{multiple:.0}·10{}", superscript(exponent)),
        _ => format!("10{}", superscript(exponent)),
    }
}

/// A number with a true minus sign and no negative zero.
pub(crate) fn fixed_decimals(value: f64, decimals: usize) -> String {
    let digits = format!("{:.decimals$}", value.abs());
    let is_zero = digits.chars().all(|c| c == '0' || c == '.');
    if value < 0.0 && !is_zero { format!("−{digits}") } else { digits }
}

/// An exponent in raised figures.
pub(crate) fn superscript(exponent: i64) -> String {
    let raise = |c: char| match c {
        '-' => '⁻',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        '4' => '⁴',
        '5' => '⁵',
        '6' => '⁶',
        '7' => '⁷',
        '8' => '⁸',
        '9' => '⁹',
        _ => '⁰',
    };
    exponent.to_string().chars().map(raise).collect()
}

/// Ten to a whole power, by multiplication: exact up to 10²².
pub(crate) fn ten_to(exponent: i64) -> f64 {
    let size = (0..exponent.unsigned_abs().min(400)).fold(1.0, |power, _| power * 10.0);
    if exponent < 0 { 1.0 / size } else { size }
}

#[expect(clippy::cast_possible_truncation, reason = "bounded by the width of a domain, and saturating")]
fn whole(value: f64) -> i64 {
    value.clamp(-1e15, 1e15) as i64
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use proptest::prelude::*;

    use super::*;

    fn assert_sound(domain: &Domain, most: u32) -> Result<(), TestCaseError> {
        let ticks = ticks(domain, most);
        let labels: BTreeSet<&str> = ticks.iter().map(|tick| tick.label.as_str()).collect();
        prop_assert_eq!(labels.len(), ticks.len(), "{:?}", ticks);
        for tick in &ticks {
            prop_assert!(tick.value >= domain.low && tick.value <= domain.high, "{:?} in {:?}", tick, domain);
        }
        Ok(())
    }

    proptest! {
        #[test]
        fn linear_ticks_lie_inside_and_are_told_apart(a in -1e9..1e9_f64, span in 1e-9..1e9_f64, most in 1_u32..12) {
            let domain = Domain::of([a, a + span].into_iter(), Spacing::Linear);
            assert_sound(&domain, most)?;
            let n_ticks = u32::try_from(ticks(&domain, most).len()).unwrap_or(u32::MAX);
            prop_assert!(n_ticks <= most + 1);
            // A step of 1, 2 or 5 is at most two and a half times the least one.
            prop_assert!(n_ticks + 1 >= most * 2 / 5, "{n_ticks} of {most}");
        }

        #[test]
        fn logarithmic_ticks_lie_inside_and_are_told_apart(a in -12.0..12.0_f64, span in 0.01..20.0_f64, most in 1_u32..12) {
            let ends = [libm::exp10(a), libm::exp10(a + span)];
            assert_sound(&Domain::of(ends.into_iter(), Spacing::Logarithmic), most)?;
        }

        #[test]
        fn places_stay_on_the_axis_and_in_order(a in any::<f64>(), b in any::<f64>(), c in any::<f64>()) {
            for spacing in [Spacing::Linear, Spacing::Logarithmic] {
                let domain = Domain::of([a, b].into_iter(), spacing);
                prop_assert!(domain.low < domain.high && domain.low.is_finite() && domain.high.is_finite());
                let scale = Scale { domain, from: 10.0, to: 110.0 };
                let mut last = 10.0;
                let mut numbers = [a, b, c];
                numbers.sort_by(f64::total_cmp);
                for place in numbers.iter().filter_map(|number| scale.place(*number)) {
                    prop_assert!((last..=110.0).contains(&place));
                    last = place;
                }
            }
        }
    }

    #[test]
    fn labels_have_the_decimals_of_their_step() {
        let labels = |low, high| -> Vec<String> {
            let domain = Domain::of([low, high].into_iter(), Spacing::Linear);
            ticks(&domain, 4).into_iter().map(|tick| tick.label).collect()
        };
        assert_eq!(labels(-0.9, -0.3), ["−0.8", "−0.6", "−0.4"]);
        assert_eq!(labels(-1.0, 1.0), ["−1.0", "−0.5", "0.0", "0.5", "1.0"]);
        assert_eq!(labels(0.0, 1000.0), ["0", "500", "1000"]);
    }
}

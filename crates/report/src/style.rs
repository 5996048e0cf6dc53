//! Colours, lines and the one style sheet: light, dark and print.
//!
//! A series is told apart by its dashes or its width and by its label as well as by its colour.

use std::fmt::Write as _;

/// How a mark is drawn; its class in the style sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    /// The first series, and whatever the figure is about.
    First,
    Second,
    Third,
    Fourth,
    Fifth,
    Sixth,
    /// What is there only to be compared with.
    Quiet,
}

impl Look {
    pub(crate) fn class(self) -> &'static str {
        match self {
            Self::First => "s1",
            Self::Second => "s2",
            Self::Third => "s3",
            Self::Fourth => "s4",
            Self::Fifth => "s5",
            Self::Sixth => "s6",
            Self::Quiet => "quiet",
        }
    }

    /// The look of the n-th series, from 0; they come round again after six.
    pub(crate) fn of_series(index: usize) -> Self {
        match index % 6 {
            0 => Self::First,
            1 => Self::Second,
            2 => Self::Third,
            3 => Self::Fourth,
            4 => Self::Fifth,
            _ => Self::Sixth,
        }
    }
}

/// A role and its colour on each ground.
struct Colour {
    role: &'static str,
    light: &'static str,
    dark: &'static str,
    print: &'static str,
}

const fn colour(role: &'static str, light: &'static str, dark: &'static str, print: &'static str) -> Colour {
    Colour { role, light, dark, print }
}

const GROUND: Colour = colour("ground", "#fbfaf7", "#14191b", "#ffffff");
const INK: Colour = colour("ink", "#1d2a2c", "#e8ece9", "#000000");
const SOFT: Colour = colour("soft", "#4f5d5f", "#a9b5b5", "#333333");
const GRID: Colour = colour("grid", "#e4e1d9", "#2b3336", "#dddddd");
const AXIS: Colour = colour("axis", "#6f7c7d", "#8a9798", "#555555");
const PEAK_WINDOW: Colour = colour("w1", "#e3eef1", "#1c3038", "#ececec");
const BASELINE_WINDOW: Colour = colour("w2", "#f4e7d6", "#37291a", "#dcdcdc");
const BAND: Colour = colour("band", "#d3e4ea", "#1d3a46", "#e2e2e2");
const SERIES: [Colour; 8] = [
    colour("s1", "#17607f", "#6cc3e0", "#000000"),
    colour("s2", "#a04a18", "#f0a15f", "#595959"),
    colour("s3", "#6d4a8f", "#c3a3ea", "#000000"),
    colour("s4", "#4c6b1f", "#a9cf6b", "#595959"),
    colour("s5", "#735a00", "#e0c65c", "#000000"),
    colour("s6", "#a13a63", "#f09ab8", "#595959"),
    colour("quiet", "#4f5d5f", "#a9b5b5", "#595959"),
    colour("mark", "#a3211f", "#ff9c8f", "#000000"),
];

/// Dashes, so that no series is told by its colour alone.
const DASHES: [(&str, &str); 5] =
    [("s2", "8 4"), ("s3", "2 4"), ("s4", "12 4 2 4"), ("s5", "16 5"), ("s6", "5 3 1 3")];

/// What does not depend on the ground.
const SHAPES: &str = ".sw text{font-family:system-ui,sans-serif;font-size:16px}\
    .sw .title{font-size:19px;font-weight:600}.sw .strong{font-weight:600}\
    .sw .end{text-anchor:end}.sw .middle{text-anchor:middle}\
    .sw .halo{paint-order:stroke;stroke-width:4px;stroke-linejoin:round}\
    .sw .line{fill:none;stroke-width:2px;stroke-linejoin:round}.sw .line.quiet{stroke-width:1px}\
    .sw .dot{stroke-width:1.75px}.sw .edge{fill:none;stroke-width:1px;stroke-dasharray:2 3}\
    .sw .grid,.sw .tick,.sw .leader{fill:none;stroke-width:1px}.sw .frame{fill:none;stroke-width:1.25px}\
    .sw .zero{fill:none;stroke-width:1.25px}.sw .height{fill:none;stroke-width:2px}\
    .sw .box{fill:none;stroke-width:1.5px}";

/// The style sheet of every figure.
pub(crate) fn sheet() -> String {
    let mut sheet = SHAPES.to_owned();
    for (class, dashes) in DASHES {
        // Writing into a string cannot fail.
        write!(sheet, ".sw .line.{class}{{stroke-dasharray:{dashes}}}").ok();
    }
    sheet.push_str(&rules(|colour| colour.light));
    let (dark, print) = (rules(|colour| colour.dark), rules(|colour| colour.print));
    write!(sheet, "@media (prefers-color-scheme:dark){{{dark}}}@media print{{{print}}}").ok();
    sheet
}

fn rules(of: impl Fn(&Colour) -> &'static str) -> String {
    let mut rules = String::new();
    let fills = [(".ground", &GROUND), ("text", &INK), (".soft", &SOFT), (".w1", &PEAK_WINDOW)];
    let more_fills = [(".w2", &BASELINE_WINDOW), (".band", &BAND)];
    for (selector, colour) in fills.iter().chain(&more_fills) {
        write!(rules, ".sw {selector}{{fill:{}}}", of(colour)).ok();
    }
    let strokes =
        [(".halo", &GROUND), (".grid", &GRID), (".frame,.sw .tick,.sw .zero", &AXIS), (".leader", &AXIS)];
    for (selector, colour) in strokes {
        write!(rules, ".sw {selector}{{stroke:{}}}", of(colour)).ok();
    }
    for colour in &SERIES {
        let (class, hue, ground) = (colour.role, of(colour), of(&GROUND));
        write!(
            rules,
            ".sw .line.{class},.sw .edge.{class},.sw .height.{class},.sw .box.{class}{{stroke:{hue}}}"
        )
        .ok();
        write!(
            rules,
            ".sw .dot.{class}{{stroke:{hue};fill:{ground}}}.sw text.{class},.sw .full.{class}{{fill:{hue}}}"
        )
        .ok();
    }
    rules
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance. Source: WCAG 2.2, definition of relative luminance (from memory).
    fn luminance(hex: &str) -> f64 {
        let channel = |at: usize| {
            let byte = u8::from_str_radix(&hex[at..at + 2], 16).unwrap();
            let c = f64::from(byte) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { libm::pow((c + 0.055) / 1.055, 2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn text_and_lines_stand_out_on_every_ground() {
        let grounds = [&GROUND, &PEAK_WINDOW, &BASELINE_WINDOW, &BAND];
        let picks: [fn(&Colour) -> &'static str; 3] = [|c| c.light, |c| c.dark, |c| c.print];
        for of in picks {
            for ground in grounds {
                for text in [&INK, &SOFT].into_iter().chain(&SERIES) {
                    let ratio = contrast(of(text), of(ground));
                    assert!(ratio >= 4.5, "{} on {}: {ratio:.2}", text.role, ground.role);
                }
            }
            let ratio = contrast(of(&AXIS), of(&GROUND));
            assert!(ratio >= 3.0, "axis: {ratio:.2}");
        }
    }

    #[test]
    fn luminance_of_the_extremes_is_known() {
        assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    }
}

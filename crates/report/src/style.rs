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
    /// What asks for attention.
    Alarm,
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
            Self::Alarm => "mark",
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
const PEAK_WINDOW: Colour = colour("w1", "#e3eef1", "#1c3038", "#efefef");
const BASELINE_WINDOW: Colour = colour("w2", "#f4e7d6", "#37291a", "#d9d9d9");
const BAND: Colour = colour("band", "#d3e4ea", "#1d3a46", "#c6c6c6");
const SERIES: [Colour; 8] = [
    colour("s1", "#17607f", "#6cc3e0", "#000000"),
    colour("s2", "#a04a18", "#f0a15f", "#4d4d4d"),
    colour("s3", "#6d4a8f", "#c3a3ea", "#000000"),
    colour("s4", "#4c6b1f", "#a9cf6b", "#4d4d4d"),
    colour("s5", "#735a00", "#e0c65c", "#000000"),
    colour("s6", "#a13a63", "#f09ab8", "#4d4d4d"),
    colour("quiet", "#4f5d5f", "#a9b5b5", "#4d4d4d"),
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
    .sw .box{fill:none;stroke-width:1.5px;stroke-linejoin:round}";

/// What a figure needs on a page only: its width, and what can be pointed at or taken hold of.
const ON_A_PAGE: &str = ".sw{display:block;width:100%;max-width:34rem;height:auto;break-inside:avoid}\
    .sw .hairs path{fill:none;stroke:transparent;stroke-width:3px;pointer-events:stroke}\
    .sw .hairs path:hover,.sw .hairs path.shown{stroke:var(--sw-mark);stroke-width:2px}\
    .sw .grip{fill:none;stroke:transparent;stroke-width:1px}";

/// The style sheet inside a figure's own file.
pub(crate) fn sheet() -> String {
    let (light, dark, print) =
        (rules(|colour| colour.light), rules(|colour| colour.dark), rules(|colour| colour.print));
    format!("{}{light}@media (prefers-color-scheme:dark){{{dark}}}@media print{{{print}}}", shapes())
}

/// The style sheet that a page links, once for all its figures.
///
/// The colours follow the reader's system unless the figure or anything around it has `data-theme="light"` or
/// `data-theme="dark"`; print is always dark on white. Each colour is a custom property, `--sw-` and its role.
///
/// # Example
/// ```
/// let sheet = stillwell_report::figure_stylesheet();
/// assert!(sheet.contains("[data-theme=dark] .sw") && !sheet.contains("<"));
/// ```
pub fn figure_stylesheet() -> String {
    let properties = |of: fn(&Colour) -> &'static str| {
        let property = |colour: &Colour| format!("--sw-{}:{};", colour.role, of(colour));
        all_colours().map(property).collect::<Vec<_>>().concat()
    };
    let (light, dark, print) = (
        properties(|colour| colour.light),
        properties(|colour| colour.dark),
        properties(|colour| colour.print),
    );
    let roles = rules(|colour| format!("var(--sw-{})", colour.role));
    format!(
        ".sw{{{light}}}@media (prefers-color-scheme:dark){{.sw{{{dark}}}}}\
         [data-theme=light] .sw,.sw[data-theme=light]{{{light}}}\
         [data-theme=dark] .sw,.sw[data-theme=dark]{{{dark}}}\
         @media print{{.sw,[data-theme] .sw,.sw[data-theme]{{{print}}}}}{}{roles}{ON_A_PAGE}",
        shapes()
    )
    .replace('}', "}\n")
}

fn all_colours() -> impl Iterator<Item = &'static Colour> {
    [&GROUND, &INK, &SOFT, &GRID, &AXIS, &PEAK_WINDOW, &BASELINE_WINDOW, &BAND].into_iter().chain(&SERIES)
}

/// What does not depend on the ground.
fn shapes() -> String {
    let dashes = DASHES.map(|(class, dashes)| format!(".sw .line.{class}{{stroke-dasharray:{dashes}}}"));
    SHAPES.to_owned() + &dashes.concat()
}

fn rules<C: std::fmt::Display>(of: impl Fn(&Colour) -> C) -> String {
    let mut rules = String::new();
    let fills = [(".ground", &GROUND), ("text", &INK), (".soft", &SOFT), (".w1", &PEAK_WINDOW)];
    let more_fills = [(".w2", &BASELINE_WINDOW), (".band,.sw .margin", &BAND)];
    for (selector, colour) in fills.iter().chain(&more_fills) {
        // Writing into a string cannot fail.
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
    fn both_sheets_know_the_same_classes() {
        let classes = |sheet: &str| -> Vec<String> {
            let parts = sheet.split('.').skip(1);
            let mut names: Vec<String> = parts
                .map(|part| part.chars().take_while(char::is_ascii_alphanumeric).collect::<String>())
                .filter(|name| name.chars().any(|c| c.is_ascii_alphabetic()))
                .filter(|name| !["hairs", "shown", "grip"].contains(&name.as_str()))
                .collect();
            names.sort();
            names.dedup();
            names
        };
        assert_eq!(classes(&sheet()), classes(&figure_stylesheet()));
    }

    #[test]
    fn luminance_of_the_extremes_is_known() {
        assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    }
}

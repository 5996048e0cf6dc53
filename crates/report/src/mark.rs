//! What a plot shows, in the units of the data.

use crate::axis::AxisText;
use crate::scale::Spacing;
use crate::style::Look;
use crate::svg::Shape;

/// One thing drawn on a plot.
#[derive(Debug, Clone)]
pub(crate) enum Mark {
    /// A line, labelled at its end; `trace` names it for the page's script.
    Line { look: Look, points: Vec<(f64, f64)>, label: String, trace: String },
    /// A level across the whole width, labelled at its end.
    Level { look: Look, at: f64, label: String },
    /// Many lines, unseen until they are pointed at: name and title of each.
    Hairs { lines: Vec<Hair> },
    /// The area between two lines: place, low, high.
    Band { class: &'static str, points: Vec<(f64, f64, f64)> },
    /// The edges of such an area.
    Edges { look: Look, points: Vec<(f64, f64, f64)> },
    /// Dots.
    Dots { look: Look, shape: Shape, points: Vec<(f64, f64)> },
    /// Open arrows: the true value lies beyond.
    Arrows { look: Look, points: Vec<(f64, f64)>, is_up: bool },
    /// Frames around points that break a rule, with the letters of the rules.
    Alarms { points: Vec<(f64, f64, String)> },
    /// Upright bars through dots: place, low, high.
    Bars { look: Look, points: Vec<(f64, f64, f64)> },
    /// Lying bars through dots: low, high, place.
    Spans { look: Look, points: Vec<(f64, f64, f64)> },
    /// A shaded range across the whole height; `handle` names its ends for the page's script.
    Window { class: &'static str, from: f64, to: f64, handle: String },
    /// A shaded range across the whole width.
    Stripe { class: &'static str, low: f64, high: f64 },
    /// An upright line with its label: limits.
    Rule { look: Look, at: f64, label: String },
    /// The level zero.
    Zero,
    /// A measured height with its label beyond its tip.
    Height { at: f64, foot: f64, tip: f64, label: String },
    /// A ring around a point that something rests on; `handle` names it for the page's script.
    Anchor { at: (f64, f64), handle: String },
}

/// A line that is unseen until it is pointed at.
#[derive(Debug, Clone)]
pub(crate) struct Hair {
    /// Its name for the page's script.
    pub(crate) trace: String,
    /// What pointing at it tells.
    pub(crate) title: String,
    pub(crate) points: Vec<(f64, f64)>,
}

impl Mark {
    pub(crate) fn line(look: Look, points: Vec<(f64, f64)>, label: &str) -> Self {
        Self::Line { look, points, label: label.to_owned(), trace: String::new() }
    }

    /// A line that the page's script can find.
    pub(crate) fn traced(look: Look, points: Vec<(f64, f64)>, label: &str, trace: &str) -> Self {
        Self::Line { look, points, label: label.to_owned(), trace: trace.to_owned() }
    }

    /// The places along the axis of potentials or levels that must be covered.
    pub(crate) fn along(&self) -> Vec<f64> {
        match self {
            Self::Line { points, .. } | Self::Dots { points, .. } | Self::Arrows { points, .. } => {
                points.iter().map(|(x, _)| *x).collect()
            }
            Self::Band { points, .. } | Self::Edges { points, .. } | Self::Bars { points, .. } => {
                points.iter().map(|(x, _, _)| *x).collect()
            }
            Self::Spans { points, .. } => points.iter().flat_map(|(low, high, _)| [*low, *high]).collect(),
            Self::Rule { at, .. } | Self::Height { at, .. } => vec![*at],
            // What is only shaded or framed lies on something else, except a margin that has a class of its own.
            Self::Window { class: "margin", from, to, .. } => vec![*from, *to],
            Self::Window { .. }
            | Self::Stripe { .. }
            | Self::Level { .. }
            | Self::Hairs { .. }
            | Self::Alarms { .. }
            | Self::Zero
            | Self::Anchor { .. } => Vec::new(),
        }
    }

    /// The values that must be covered.
    pub(crate) fn values(&self) -> Vec<f64> {
        match self {
            Self::Line { points, .. } | Self::Dots { points, .. } | Self::Arrows { points, .. } => {
                points.iter().map(|(_, y)| *y).collect()
            }
            Self::Band { points, .. } | Self::Edges { points, .. } | Self::Bars { points, .. } => {
                points.iter().flat_map(|(_, low, high)| [*low, *high]).collect()
            }
            Self::Spans { points, .. } => points.iter().map(|(_, _, y)| *y).collect(),
            Self::Height { foot, tip, .. } => vec![*foot, *tip],
            Self::Stripe { low, high, .. } => vec![*low, *high],
            Self::Level { at, .. } => vec![*at],
            Self::Zero => vec![0.0],
            Self::Window { .. }
            | Self::Rule { .. }
            | Self::Hairs { .. }
            | Self::Alarms { .. }
            | Self::Anchor { .. } => Vec::new(),
        }
    }

    /// What stands beside its end.
    pub(crate) fn end_label(&self) -> Option<&str> {
        match self {
            Self::Line { label, .. } | Self::Level { label, .. } => {
                Some(label.as_str()).filter(|label| !label.is_empty())
            }
            _ => None,
        }
    }

    /// Whether it is drawn below the grid.
    pub(crate) fn is_shade(&self) -> bool {
        matches!(self, Self::Window { .. } | Self::Stripe { .. })
    }
}

/// One pair of axes and what is drawn on it.
#[derive(Debug, Clone)]
pub(crate) struct Plot {
    /// Its name for the page's script.
    pub(crate) name: &'static str,
    pub(crate) x: AxisText,
    pub(crate) y: AxisText,
    pub(crate) x_spacing: Spacing,
    pub(crate) y_spacing: Spacing,
    pub(crate) height: f64,
    /// Whether the axis below is labelled; a plot above another one with the same axis leaves it out.
    pub(crate) shows_x: bool,
    /// Whether it covers the same places as the plots above and below it.
    pub(crate) shares_x: bool,
    /// Where the axis below is labelled; at round numbers where this is empty.
    pub(crate) x_ticks: Vec<f64>,
    /// Labels of the axis below in words; in numbers where this is empty.
    pub(crate) x_labels: Vec<(f64, String)>,
    /// Labels of the axis on the left in words; in numbers where this is empty.
    pub(crate) y_labels: Vec<(f64, String)>,
    /// In the order of drawing.
    pub(crate) marks: Vec<Mark>,
}

impl Plot {
    /// A plot on linear axes with its ticks at round numbers.
    pub(crate) fn new(name: &'static str, x: AxisText, y: AxisText, height: f64, marks: Vec<Mark>) -> Self {
        Self {
            name,
            x,
            y,
            x_spacing: Spacing::Linear,
            y_spacing: Spacing::Linear,
            height,
            shows_x: true,
            shares_x: true,
            x_ticks: Vec::new(),
            x_labels: Vec::new(),
            y_labels: Vec::new(),
            marks,
        }
    }
}

/// What a shade or a shape means, shown below the plots.
#[derive(Debug, Clone)]
pub(crate) enum KeyEntry {
    /// A shaded range or band: its class.
    Shade(&'static str, String),
    /// A line: its classes.
    Stroke(String, String),
    /// A dot.
    Dot(Shape, Look, String),
    /// A ring around a point.
    Ring(String),
    /// An open arrow, up or down.
    Arrow(Look, bool, String),
    /// The frame of a point that breaks a rule, and the rule's letter.
    Alarm(String, String),
}

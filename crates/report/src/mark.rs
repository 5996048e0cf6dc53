//! What a plot shows, in the units of the data.

use crate::style::Look;
use crate::svg::Shape;

/// One thing drawn on a plot.
#[derive(Debug, Clone)]
pub(crate) enum Mark {
    /// A line, labelled at its end.
    Line { look: Look, points: Vec<(f64, f64)>, label: String },
    /// The area between two lines: place, low, high.
    Band { points: Vec<(f64, f64, f64)> },
    /// The edges of such an area.
    Edges { look: Look, points: Vec<(f64, f64, f64)> },
    /// Dots.
    Dots { look: Look, shape: Shape, points: Vec<(f64, f64)> },
    /// Upright bars through dots: place, low, high.
    Bars { look: Look, points: Vec<(f64, f64, f64)> },
    /// A shaded range across the whole height.
    Window { class: &'static str, from: f64, to: f64 },
    /// An upright line with its label: limits.
    Rule { look: Look, at: f64, label: String },
    /// The level zero.
    Zero,
    /// A measured height with its label beyond its tip.
    Height { at: f64, foot: f64, tip: f64, label: String },
    /// A ring around a point that something rests on.
    Anchor { at: (f64, f64) },
}

impl Mark {
    /// The places along the axis of potentials or levels that must be covered.
    pub(crate) fn along(&self) -> Vec<f64> {
        match self {
            Self::Line { points, .. } | Self::Dots { points, .. } => points.iter().map(|(x, _)| *x).collect(),
            Self::Band { points } | Self::Edges { points, .. } | Self::Bars { points, .. } => {
                points.iter().map(|(x, _, _)| *x).collect()
            }
            Self::Rule { at, .. } | Self::Height { at, .. } => vec![*at],
            Self::Window { .. } | Self::Zero | Self::Anchor { .. } => Vec::new(),
        }
    }

    /// The values that must be covered.
    pub(crate) fn values(&self) -> Vec<f64> {
        match self {
            Self::Line { points, .. } | Self::Dots { points, .. } => points.iter().map(|(_, y)| *y).collect(),
            Self::Band { points } | Self::Edges { points, .. } | Self::Bars { points, .. } => {
                points.iter().flat_map(|(_, low, high)| [*low, *high]).collect()
            }
            Self::Height { foot, tip, .. } => vec![*foot, *tip],
            Self::Zero => vec![0.0],
            Self::Window { .. } | Self::Rule { .. } | Self::Anchor { .. } => Vec::new(),
        }
    }

    /// What stands beside its end.
    pub(crate) fn end_label(&self) -> Option<&str> {
        match self {
            Self::Line { label, .. } => Some(label.as_str()).filter(|label| !label.is_empty()),
            _ => None,
        }
    }
}

/// One pair of axes and what is drawn on it.
#[derive(Debug, Clone)]
pub(crate) struct Plot {
    pub(crate) x: crate::axis::AxisText,
    pub(crate) y: crate::axis::AxisText,
    pub(crate) x_spacing: crate::scale::Spacing,
    pub(crate) y_spacing: crate::scale::Spacing,
    pub(crate) height: f64,
    /// Whether the axis below is labelled; a plot above another one with the same axis leaves it out.
    pub(crate) shows_x: bool,
    /// Where the axis below is labelled; at round numbers where this is empty.
    pub(crate) x_ticks: Vec<f64>,
    /// In the order of drawing.
    pub(crate) marks: Vec<Mark>,
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
}

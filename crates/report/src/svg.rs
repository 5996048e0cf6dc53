//! The pieces of SVG: fixed decimals, paths that break where a number is missing, shapes, the document.

use std::fmt::Write as _;

use maud::{Markup, PreEscaped, html};

use crate::style::{Look, sheet};
use crate::words::{FIGURE_WIDTH, clean, harmless};

/// A coordinate, always with two decimals.
pub(crate) fn px(value: f64) -> String {
    let text = format!("{value:.2}");
    if text == "-0.00" { "0.00".to_owned() } else { text }
}

/// A place on the drawing.
pub(crate) type Point = (f64, f64);

/// Straight lines through places; a missing one breaks the line.
pub(crate) fn line_path(points: impl Iterator<Item = Option<Point>>) -> String {
    let mut path = String::new();
    let mut is_open = false;
    for point in points {
        let Some((x, y)) = point else {
            is_open = false;
            continue;
        };
        let command = if is_open { 'L' } else { 'M' };
        // Writing into a string cannot fail.
        write!(path, "{command}{} {}", px(x), px(y)).ok();
        is_open = true;
    }
    path
}

/// The area between two lines over the same places; empty where either is missing throughout.
pub(crate) fn area_path(upper: &[Option<Point>], lower: &[Option<Point>]) -> String {
    let forth = upper.iter().flatten().copied();
    let back = lower.iter().rev().flatten().copied();
    let path = line_path(forth.chain(back).map(Some));
    if path.is_empty() { path } else { path + "Z" }
}

/// Shapes of dots, so that electrodes and series are told apart without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    Circle,
    Square,
    Triangle,
    Diamond,
    Cross,
    TriangleDown,
}

impl Shape {
    /// How many there are.
    pub(crate) const COUNT: usize = 6;

    /// The shape of the n-th series, from 0.
    pub(crate) fn of_series(index: usize) -> Self {
        match index % Self::COUNT {
            0 => Self::Circle,
            1 => Self::Square,
            2 => Self::Triangle,
            3 => Self::Diamond,
            4 => Self::Cross,
            _ => Self::TriangleDown,
        }
    }
}

/// One dot.
pub(crate) fn dot(shape: Shape, look: Look, (x, y): Point) -> Markup {
    let class = format!("dot {}", look.class());
    let corners = |corners: &[Point]| line_path(corners.iter().map(|(dx, dy)| Some((x + dx, y + dy)))) + "Z";
    let path = match shape {
        Shape::Circle => {
            return html! { circle class=(class) cx=(px(x)) cy=(px(y)) r="4.50" {} };
        }
        Shape::Square => corners(&[(-4.0, -4.0), (4.0, -4.0), (4.0, 4.0), (-4.0, 4.0)]),
        Shape::Triangle => corners(&[(0.0, -5.5), (5.0, 3.5), (-5.0, 3.5)]),
        Shape::Diamond => corners(&[(0.0, -6.0), (5.0, 0.0), (0.0, 6.0), (-5.0, 0.0)]),
        Shape::TriangleDown => corners(&[(0.0, 5.5), (5.0, -3.5), (-5.0, -3.5)]),
        Shape::Cross => {
            let strokes = [(-4.0, -4.0, 4.0, 4.0), (-4.0, 4.0, 4.0, -4.0)];
            strokes
                .iter()
                .map(|(x1, y1, x2, y2)| {
                    line_path([Some((x + x1, y + y1)), Some((x + x2, y + y2))].into_iter())
                })
                .collect()
        }
    };
    html! { path class=(class) d=(path) {} }
}

/// A text at a place; its class decides anchor and colour.
pub(crate) fn text(class: &str, (x, y): Point, words: &str) -> Markup {
    html! { text class=(class) x=(px(x)) y=(px(y)) { (words) } }
}

/// A whole figure as one text.
pub(crate) fn document(title: &str, description: &str, height: f64, body: &Markup) -> String {
    let (title, description) = (harmless(title), clean(description));
    let id = identity(&[&title, &description, &body.0]);
    let (title_id, desc_id) = (format!("{id}-title"), format!("{id}-desc"));
    let (width, height) = (format!("{FIGURE_WIDTH:.0}"), format!("{height:.0}"));
    let svg = html! {
        svg class="sw" xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby={ (title_id) " " (desc_id) }
            viewBox={ "0 0 " (width) " " (height) } width=(width) height=(height) {
            title id=(title_id) { (title) }
            desc id=(desc_id) { (description) }
            style { (PreEscaped(sheet())) }
            rect class="ground" x="0" y="0" width=(width) height=(height) {}
            (body)
        }
    };
    // maud escapes every < and > of a text, so that this only parts elements.
    svg.into_string().replace("><", ">\n<") + "\n"
}

/// A name that differs between figures of one page: FNV-1a over what the figure says and shows.
fn identity(parts: &[&str]) -> String {
    let bytes = parts.iter().flat_map(|part| part.bytes().chain([0]));
    let hash = bytes.fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    format!("sw-{hash:016x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_number_breaks_the_line() {
        let points = [Some((0.0, 1.0)), Some((1.0, -0.001)), None, Some((2.0, 2.0))];
        assert_eq!(line_path(points.into_iter()), "M0.00 1.00L1.00 0.00M2.00 2.00");
        assert_eq!(area_path(&[None], &[None]), "");
    }
}

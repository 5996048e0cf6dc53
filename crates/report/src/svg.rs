//! The pieces of SVG: shapes, texts, the document.

use maud::{Markup, PreEscaped, html};

pub(crate) use crate::path::{Point, area_path, line_path, outline, px, segment};
use crate::style::{Look, sheet};
use crate::words::{FIGURE_WIDTH, clean, harmless};

/// Where a figure is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Surface<'p> {
    /// A file of its own, with its style inside.
    File,
    /// Inside a page that links the style sheet; the name is the figure's own on that page.
    Page(&'p str),
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
    let corners = |corners: &[Point]| outline(corners.iter().map(|(dx, dy)| (x + dx, y + dy)));
    let path = match shape {
        Shape::Circle => {
            return html! { circle class=(class) cx=(px(x)) cy=(px(y)) r="4.5" {} };
        }
        Shape::Square => corners(&[(-4.0, -4.0), (4.0, -4.0), (4.0, 4.0), (-4.0, 4.0)]),
        Shape::Triangle => corners(&[(0.0, -5.5), (5.0, 3.5), (-5.0, 3.5)]),
        Shape::Diamond => corners(&[(0.0, -6.0), (5.0, 0.0), (0.0, 6.0), (-5.0, 0.0)]),
        Shape::TriangleDown => corners(&[(0.0, 5.5), (5.0, -3.5), (-5.0, -3.5)]),
        Shape::Cross => {
            let stroke = |x1: f64, y1, x2, y2| segment((x + x1, y + y1), (x + x2, y + y2));
            stroke(-4.0, -4.0, 4.0, 4.0) + &stroke(-4.0, 4.0, 4.0, -4.0)
        }
    };
    html! { path class=(class) d=(path) {} }
}

/// An open arrow from a place onwards: the true value lies that way.
pub(crate) fn arrow(look: Look, (x, y): Point, is_up: bool) -> Markup {
    let along = if is_up { -1.0 } else { 1.0 };
    let tip = y + along * 15.0;
    let head = [(x - 4.5, tip - along * 6.0), (x, tip), (x + 4.5, tip - along * 6.0)];
    let path = segment((x - 5.0, y), (x + 5.0, y))
        + &segment((x, y), (x, tip))
        + &line_path(head.map(Some).into_iter());
    html! { path class={ "box " (look.class()) } d=(path) {} }
}

/// The frame of a point that breaks a rule.
pub(crate) fn alarm_frame((x, y): Point) -> Markup {
    let corners = [(0.0, -10.0), (9.0, 0.0), (0.0, 10.0), (-9.0, 0.0)];
    html! { path class={ "box " (Look::Alarm.class()) } d=(outline(corners.iter().map(|(dx, dy)| (x + dx, y + dy)))) {} }
}

/// A text at a place; its class decides anchor and colour.
pub(crate) fn text(class: &str, (x, y): Point, words: &str) -> Markup {
    html! { text class=(class) x=(px(x)) y=(px(y)) { (words) } }
}

/// A whole figure as one text.
pub(crate) fn document(
    surface: Surface<'_>,
    title: &str,
    description: &str,
    height: f64,
    body: &Markup,
) -> String {
    let (title, description) = (harmless(title), clean(description));
    let place = if let Surface::Page(place) = surface { place } else { "" };
    let id = identity(&[place, &title, &description, &body.0]);
    let (title_id, desc_id) = (format!("{id}-title"), format!("{id}-desc"));
    let (width, height) = (format!("{FIGURE_WIDTH:.0}"), format!("{height:.0}"));
    let svg = html! {
        svg class="sw" xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby={ (title_id) " " (desc_id) }
            viewBox={ "0 0 " (width) " " (height) } width=(width) height=(height) {
            title id=(title_id) { (title) }
            desc id=(desc_id) { (description) }
            @if surface == Surface::File { style { (PreEscaped(sheet())) } }
            rect class="ground" x="0" y="0" width=(width) height=(height) {}
            (body)
        }
    };
    // maud escapes every < and > of a text and of an attribute, so that this only touches elements.
    let mut svg = svg.into_string();
    for element in ["path", "rect", "circle"] {
        svg = svg.replace(&format!("\"></{element}>"), "\"/>");
    }
    svg.replace("><", ">\n<") + "\n"
}

/// A name that differs between figures of one page: FNV-1a over its place and what the figure says and shows.
fn identity(parts: &[&str]) -> String {
    let bytes = parts.iter().flat_map(|part| part.bytes().chain([0]));
    let hash = bytes.fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    format!("sw-{hash:016x}")
}

//! One plot: axes, grid, marks and the labels beside them.

use maud::{Markup, html};

use crate::axis::{Axis, Laid};
use crate::mark::{Mark, Plot};
use crate::scale::{Domain, Spacing};
use crate::style::Look;
use crate::svg::{Point, area_path, dot, line_path, px, text};
use crate::words::{FIGURE_WIDTH, harmless, shortened, width, wrapped};

/// Distance of two lines of text.
pub(crate) const LINE_HEIGHT: f64 = 21.0;

/// How far a text's baseline lies below its middle.
const BELOW_MIDDLE: f64 = 5.5;

/// Labels at the end of lines are cut beyond this.
const WIDEST_END_LABEL: f64 = 128.0;

/// A plot with its axes made, ready to be laid onto the drawing.
pub(crate) struct Prepared<'p> {
    plot: &'p Plot,
    x: Axis,
    x_title: Vec<String>,
    y: Axis,
}

/// The rectangle inside the axes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    pub(crate) left: f64,
    pub(crate) right: f64,
    pub(crate) top: f64,
    pub(crate) bottom: f64,
}

impl<'p> Prepared<'p> {
    /// `along` is what the axis below covers; shared by plots above one another.
    pub(crate) fn new(plot: &'p Plot, along: Domain) -> Self {
        let values = plot.marks.iter().flat_map(Mark::values);
        let covered = Domain::of(values, plot.y_spacing);
        let (below, above) = room(plot);
        let y = Axis::new(&plot.y, covered.padded(below, above), ticks_for(plot.height, 27.0));
        let x = Axis::new(&plot.x, along, 6).with_ticks_at(&plot.x_ticks);
        let x_title = wrapped(&x.title, FIGURE_WIDTH - 16.0, 2);
        Self { plot, x, x_title, y }
    }

    /// Room that the labels of the ticks take on the left.
    pub(crate) fn left_margin(&self) -> f64 {
        self.y.ticks.iter().map(|tick| width(&tick.label)).fold(0.0, f64::max) + 10.0
    }

    /// Room that the labels of the lines take on the right.
    pub(crate) fn right_margin(&self) -> f64 {
        let widest = self.plot.marks.iter().filter_map(Mark::end_label).map(|label| width(&harmless(label)));
        let widest = widest.fold(0.0, f64::max).min(WIDEST_END_LABEL);
        if widest > 0.0 { widest + 16.0 } else { 14.0 }
    }

    /// Height with the title above and the labels below.
    pub(crate) fn full_height(&self) -> f64 {
        let below =
            if self.plot.shows_x { (1 + self.x_title.len()) as f64 * LINE_HEIGHT + 4.0 } else { 10.0 };
        LINE_HEIGHT + 4.0 + self.plot.height + below
    }

    /// Draws everything; `top` is where the title of the axis begins.
    pub(crate) fn drawn(&self, left: f64, right: f64, top: f64) -> Markup {
        let frame_top = top + LINE_HEIGHT + 4.0;
        let frame = Frame { left, right, top: frame_top, bottom: frame_top + self.plot.height };
        let (x, y) = (self.x.laid(frame.left, frame.right), self.y.laid(frame.bottom, frame.top));
        let on = On { x, y, frame };
        let is_backed = self.x.is_backed() && self.y.is_backed();
        html! {
            (text("soft", (8.0, top + LINE_HEIGHT - 5.0), &self.y.title))
            @for mark in self.plot.marks.iter().filter(|mark| matches!(mark, Mark::Window { .. })) { (on.window(mark)) }
            (self.grid(&on))
            @for mark in &self.plot.marks { (on.mark(mark)) }
            @if is_backed { (on.rules(&self.plot.marks)) (on.end_labels(&self.plot.marks)) }
            @else { (text("soft middle", on.middle(), "no data")) }
        }
    }

    fn grid(&self, on: &On) -> Markup {
        let frame = on.frame;
        let across = self.y.ticks.iter().filter_map(|tick| Some((on.y.place_of_tick(tick)?, &tick.label)));
        let upright = self.x.ticks.iter().filter_map(|tick| Some((on.x.place_of_tick(tick)?, &tick.label)));
        let last = self.plot.shows_x;
        html! {
            @for (at, label) in across {
                path class="grid" d=(segment((frame.left, at), (frame.right, at))) {}
                (text("soft end", (frame.left - 7.0, at + BELOW_MIDDLE), label))
            }
            @for (at, label) in unhindered(upright) {
                path class="tick" d=(segment((at, frame.bottom), (at, frame.bottom + 5.0))) {}
                @if last { (text("soft middle", (at, frame.bottom + LINE_HEIGHT), label)) }
            }
            path class="frame" d=(line_path([(frame.left, frame.top), (frame.left, frame.bottom), (frame.right, frame.bottom)].map(Some).into_iter())) {}
            @if last {
                @for (index, line) in self.x_title.iter().enumerate() {
                    @let half = 0.5 * width(line) + 8.0;
                    @let at = f64::midpoint(frame.left, frame.right).min(FIGURE_WIDTH - half).max(half);
                    (text("soft middle", (at, frame.bottom + (index + 2) as f64 * LINE_HEIGHT), line))
                }
            }
        }
    }
}

/// Room above and below the values, as fractions: labels of heights need more.
fn room(plot: &Plot) -> (f64, f64) {
    let mut room: (f64, f64) = (0.05, 0.05);
    let of_lines = |n: f64| n * LINE_HEIGHT / plot.height;
    for mark in &plot.marks {
        if let Mark::Height { foot, tip, .. } = mark {
            if tip < foot { room.0 = of_lines(2.0) } else { room.1 = of_lines(2.0) }
        }
    }
    if plot.y_spacing == Spacing::Logarithmic { (0.05, 0.05) } else { room }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small positive count")]
fn ticks_for(length: f64, apart: f64) -> u32 {
    (length / apart).clamp(2.0, 12.0) as u32
}

/// Leaves out labels that would touch the one before.
fn unhindered<'a>(ticks: impl Iterator<Item = (f64, &'a String)>) -> Vec<(f64, &'a str)> {
    let mut taken = f64::NEG_INFINITY;
    let mut kept = Vec::new();
    for (at, label) in ticks {
        let half = 0.5 * width(label);
        if at - half > taken + 6.0 {
            taken = at + half;
            kept.push((at, label.as_str()));
        }
    }
    kept
}

fn segment(from: Point, to: Point) -> String {
    line_path([Some(from), Some(to)].into_iter())
}

/// Axes on the drawing.
struct On {
    x: Laid,
    y: Laid,
    frame: Frame,
}

impl On {
    fn place(&self, x: f64, y: f64) -> Option<Point> {
        Some((self.x.place(x)?, self.y.place(y)?))
    }

    fn middle(&self) -> Point {
        let Frame { left, right, top, bottom } = self.frame;
        (f64::midpoint(left, right), f64::midpoint(top, bottom))
    }

    fn window(&self, mark: &Mark) -> Markup {
        let Mark::Window { class, from, to } = mark else { return Markup::default() };
        let (Some(from), Some(to)) = (self.x.place(*from), self.x.place(*to)) else {
            return Markup::default();
        };
        let (left, right) = (from.min(to), from.max(to));
        let Frame { top, bottom, .. } = self.frame;
        html! { rect class=(class) x=(px(left)) y=(px(top)) width=(px(right - left)) height=(px(bottom - top)) {} }
    }

    fn mark(&self, mark: &Mark) -> Markup {
        match mark {
            Mark::Line { look, points, .. } => self.line(*look, points),
            Mark::Band { points } => {
                let (low, high) = self.both(points);
                html! { path class="band" d=(area_path(&high, &low)) {} }
            }
            Mark::Edges { look, points } => {
                let (low, high) = self.both(points);
                let class = format!("edge {}", look.class());
                html! {
                    path class=(class) d=(line_path(low.into_iter())) {}
                    path class=(class) d=(line_path(high.into_iter())) {}
                }
            }
            Mark::Dots { look, shape, points } => html! {
                @for point in points.iter().filter_map(|(x, y)| self.place(*x, *y)) { (dot(*shape, *look, point)) }
            },
            Mark::Bars { look, points } => {
                let (low, high) = self.both(points);
                let bars: String =
                    low.into_iter().zip(high).filter_map(|(low, high)| Some(segment(low?, high?))).collect();
                html! { path class={ "height " (look.class()) } d=(bars) {} }
            }
            Mark::Zero => {
                let at = self.y.place(0.0).unwrap_or(self.frame.bottom);
                html! { path class="zero" d=(segment((self.frame.left, at), (self.frame.right, at))) {} }
            }
            Mark::Height { at, foot, tip, label } => self.height(*at, *foot, *tip, label),
            Mark::Anchor { at: (x, y) } => html! {
                @if let Some((x, y)) = self.place(*x, *y) {
                    circle class="box quiet" cx=(px(x)) cy=(px(y)) r="6.00" {}
                }
            },
            Mark::Window { .. } | Mark::Rule { .. } => Markup::default(),
        }
    }

    fn line(&self, look: Look, points: &[(f64, f64)]) -> Markup {
        let path = line_path(points.iter().map(|(x, y)| self.place(*x, *y)));
        html! { path class={ "line " (look.class()) } d=(path) {} }
    }

    fn both(&self, points: &[(f64, f64, f64)]) -> (Vec<Option<Point>>, Vec<Option<Point>>) {
        let place = |(x, low, high): &(f64, f64, f64)| Some((self.place(*x, *low)?, self.place(*x, *high)?));
        points.iter().map(|point| place(point).unzip()).unzip()
    }

    /// The measured height: foot and tip, and the words beyond the tip.
    fn height(&self, at: f64, foot: f64, tip: f64, label: &str) -> Markup {
        let (Some((x, from)), Some((_, to))) = (self.place(at, foot), self.place(at, tip)) else {
            return Markup::default();
        };
        let half = 0.5 * width(label);
        let middle = x.clamp(
            (self.frame.left + half + 4.0).min(self.frame.right - half),
            (self.frame.right - half).max(self.frame.left + half + 4.0),
        );
        // Words beside a height that is hardly there would cover the curve: they go to the edge.
        let is_small = (to - from).abs() < 2.0 * LINE_HEIGHT;
        let beyond = match (to >= from, is_small) {
            (true, false) => to + LINE_HEIGHT,
            (true, true) => self.frame.bottom - 8.0,
            (false, false) => to - 10.0,
            (false, true) => self.frame.top + LINE_HEIGHT,
        };
        html! {
            path class="height mark" d=(segment((x, from), (x, to)) + &segment((x - 7.0, from), (x + 7.0, from)) + &segment((x - 7.0, to), (x + 7.0, to))) {}
            (text("mark strong middle halo", (middle, beyond), label))
        }
    }

    /// Limits: upright lines, their labels stacked where the curve leaves room.
    fn rules(&self, marks: &[Mark]) -> Markup {
        let rules: Vec<(Look, f64, &str)> = marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Rule { look, at, label } => Some((*look, self.x.place(*at)?, label.as_str())),
                _ => None,
            })
            .collect();
        let furthest = rules.iter().map(|(_, x, _)| *x).fold(self.frame.left, f64::max);
        let widest = rules.iter().map(|(_, _, label)| width(label)).fold(0.0, f64::max);
        // Right of all lines where there is room, else left of the first.
        let from = (furthest + 12.0).min(self.frame.right - widest).max(self.frame.left + 4.0);
        html! {
            @for (index, (look, x, label)) in rules.iter().enumerate() {
                @let y = self.frame.top + 10.0 + LINE_HEIGHT * index as f64;
                path class={ "line " (look.class()) } d=(segment((*x, self.frame.bottom), (*x, y))) {}
                path class="leader" d=(segment((*x, y), (from - 3.0, y))) {}
                (text(&format!("{} halo", look.class()), (from, y + BELOW_MIDDLE), label))
            }
        }
    }

    /// Labels at the right, beside the ends of their lines, moved apart where they would touch.
    fn end_labels(&self, marks: &[Mark]) -> Markup {
        let mut labels: Vec<(f64, Look, &str)> = marks.iter().filter_map(|mark| self.end_of(mark)).collect();
        labels.sort_by(|a, b| a.0.total_cmp(&b.0));
        let wanted: Vec<f64> = labels.iter().map(|(at, _, _)| *at).collect();
        let places = moved_apart(&wanted, self.frame.top + 4.0, self.frame.bottom - 4.0);
        let right = self.frame.right;
        html! {
            @for ((at, look, label), place) in labels.iter().zip(places) {
                path class="leader" d=(segment((right + 2.0, *at), (right + 8.0, place))) {}
                (text(look.class(), (right + 11.0, place + BELOW_MIDDLE), &shortened(&harmless(label), WIDEST_END_LABEL)))
            }
        }
    }

    /// Where the line ends that lies furthest right.
    fn end_of<'m>(&self, mark: &'m Mark) -> Option<(f64, Look, &'m str)> {
        let label = mark.end_label()?;
        let Mark::Line { look, points, .. } = mark else { return None };
        let places = points.iter().filter_map(|(x, y)| self.place(*x, *y));
        let (_, y) = places.max_by(|a, b| a.0.total_cmp(&b.0))?;
        Some((y, *look, label))
    }
}

/// Places at least a line of text apart, in order, within the bounds as far as there is room.
fn moved_apart(wanted: &[f64], top: f64, bottom: f64) -> Vec<f64> {
    let mut places = Vec::with_capacity(wanted.len());
    let mut free = top;
    for at in wanted {
        let place = at.max(free);
        places.push(place);
        free = place + LINE_HEIGHT - 2.0;
    }
    let mut limit = bottom;
    for place in places.iter_mut().rev() {
        *place = place.min(limit);
        limit = *place - (LINE_HEIGHT - 2.0);
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_are_moved_apart_and_kept_inside() {
        let places = moved_apart(&[10.0, 11.0, 98.0, 99.0], 0.0, 100.0);
        assert!(places.windows(2).all(|pair| pair[1] - pair[0] >= LINE_HEIGHT - 2.0 - 1e-9));
        assert!(places.iter().all(|place| (0.0..=100.0).contains(place)));
    }
}

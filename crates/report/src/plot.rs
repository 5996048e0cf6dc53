//! One plot: axes, grid and the words beside them.

use maud::{Markup, html};

use crate::axis::Axis;
use crate::mark::{Mark, Plot};
use crate::on_axes::OnAxes;
use crate::scale::{Domain, Spacing};
use crate::svg::{Surface, line_path, px, segment, text};
use crate::words::{FIGURE_WIDTH, harmless, width, wrapped};

/// Distance of two lines of text.
pub(crate) const LINE_HEIGHT: f64 = 21.0;

/// How far a text's baseline lies below its middle.
pub(crate) const BELOW_MIDDLE: f64 = 5.5;

/// Labels at the end of lines are cut beyond this.
pub(crate) const WIDEST_END_LABEL: f64 = 128.0;

/// Titles of axes are cut or wrapped beyond this.
const WIDEST_TITLE: f64 = FIGURE_WIDTH - 16.0;

/// Words at the ticks on the left are cut beyond this.
const WIDEST_TICK_LABEL: f64 = 130.0;

/// Words at the ticks below are cut beyond this.
const WIDEST_DATE: f64 = 110.0;

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
        let y = Axis::new(&plot.y, covered.padded(below, above), ticks_for(plot.height, 27.0))
            .with_labels(&plot.y_labels, WIDEST_TICK_LABEL);
        let x = Axis::new(&plot.x, along, 6)
            .with_ticks_at(&plot.x_ticks)
            .with_labels(&plot.x_labels, WIDEST_DATE);
        // On two lines, the second of which is seldom full.
        let x_title = wrapped(&x.title(1.6 * WIDEST_TITLE), WIDEST_TITLE, 2);
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
            if self.plot.shows_x { (1 + self.x_title.len()) as f64 * LINE_HEIGHT + 12.0 } else { 10.0 };
        LINE_HEIGHT + 4.0 + self.plot.height + below
    }

    /// Draws everything; `top` is where the title of the axis begins.
    ///
    /// The group tells the page's script where the axes lie on the drawing and what they cover, in the unit of the data.
    pub(crate) fn drawn(&self, surface: Surface<'_>, left: f64, right: f64, top: f64) -> Markup {
        let frame_top = top + LINE_HEIGHT + 4.0;
        let frame = Frame { left, right, top: frame_top, bottom: frame_top + self.plot.height };
        let (x, y) = (self.x.laid(frame.left, frame.right), self.y.laid(frame.bottom, frame.top));
        let on = OnAxes { x, y, frame, surface };
        let is_backed = self.x.is_backed() && self.y.is_backed();
        let marks = &self.plot.marks;
        let drawing = html! {
            (text("soft", (8.0, top + LINE_HEIGHT - 5.0), &self.y.title(WIDEST_TITLE)))
            @for mark in marks.iter().filter(|mark| mark.is_shade()) { (on.shade(mark)) }
            (self.grid(&on))
            @for mark in marks { (on.mark(mark)) }
            @if is_backed { (on.rules(marks)) (on.end_labels(marks)) }
            @else { (text("soft middle", on.middle(), "no data")) }
        };
        if surface == Surface::File {
            return drawing;
        }
        let ((x_from, x_to), (y_from, y_to)) = (x.covers(), y.covers());
        html! {
            g class="plot" data-plot=(self.plot.name)
                data-left=(px(frame.left)) data-right=(px(frame.right)) data-top=(px(frame.top)) data-bottom=(px(frame.bottom))
                data-x-from=(x_from) data-x-to=(x_to) data-x-unit=(self.plot.x.unit.bare()) data-x-spacing=(spacing(self.plot.x_spacing))
                data-y-from=(y_from) data-y-to=(y_to) data-y-unit=(self.plot.y.unit.bare()) data-y-spacing=(spacing(self.plot.y_spacing)) {
                (drawing)
            }
        }
    }

    fn grid(&self, on: &OnAxes<'_>) -> Markup {
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
                // Words of a first or last tick stay on the drawing.
                @let half = 0.5 * width(label) + 2.0;
                @let middle = at.min(FIGURE_WIDTH - half).max(half);
                @if last { (text("soft middle", (middle, frame.bottom + LINE_HEIGHT), label)) }
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

fn spacing(spacing: Spacing) -> &'static str {
    match spacing {
        Spacing::Linear => "linear",
        Spacing::Logarithmic => "logarithmic",
    }
}

/// Room above and below the values, as fractions: labels of heights need more, and so do arrows and frames.
fn room(plot: &Plot) -> (f64, f64) {
    let mut room: (f64, f64) = (0.05, 0.05);
    let of_lines = |n: f64| n * LINE_HEIGHT / plot.height;
    for mark in &plot.marks {
        match mark {
            Mark::Height { foot, tip, .. } if tip < foot => room.0 = of_lines(2.0),
            Mark::Height { .. } => room.1 = of_lines(2.0),
            Mark::Arrows { points, is_up: false, .. } if !points.is_empty() => room.0 = of_lines(1.0),
            Mark::Arrows { points, is_up: true, .. } if !points.is_empty() => {
                room.1 = room.1.max(of_lines(1.0));
            }
            Mark::Alarms { points } if !points.is_empty() => {
                room = (room.0.max(of_lines(2.0)), room.1.max(of_lines(2.0)));
            }
            // Rows of names.
            Mark::Spans { .. } => room = (of_lines(0.7), of_lines(0.7)),
            _ => {}
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

//! Marks on laid axes, and the labels beside them.

use maud::{Markup, html};

use crate::axis::Laid;
use crate::mark::{Hair, Mark};
use crate::path::line_path_within;
use crate::plot::{BELOW_MIDDLE, Frame, LINE_HEIGHT, WIDEST_END_LABEL};
use crate::style::Look;
use crate::svg::{Point, Surface, alarm_frame, area_path, arrow, dot, line_path, px, segment, text};
use crate::words::{harmless, shortened, width};

/// A hair may pass its places this far off, in units of the drawing: it shows the way of a scan, not its noise. The first that lets
/// all hairs fit is taken.
const UNSEEN_ON_HAIRS: [f64; 6] = [0.5, 0.75, 1.0, 1.5, 3.0, 6.0];

/// All hairs of a figure are no longer than this, in bytes; where they would be, there are none.
const LONGEST_HAIRS: usize = 120_000;

/// The words of a hair are cut beyond this.
const WIDEST_HAIR_TITLE: f64 = 320.0;

/// Axes on the drawing.
pub(crate) struct OnAxes<'s> {
    pub(crate) x: Laid,
    pub(crate) y: Laid,
    pub(crate) frame: Frame,
    pub(crate) surface: Surface<'s>,
}

impl OnAxes<'_> {
    fn place(&self, x: f64, y: f64) -> Option<Point> {
        Some((self.x.place(x)?, self.y.place(y)?))
    }

    pub(crate) fn middle(&self) -> Point {
        let Frame { left, right, top, bottom } = self.frame;
        (f64::midpoint(left, right), f64::midpoint(top, bottom))
    }

    /// A name for the page's script; none in a file of its own, nor for what has no name.
    fn hook<'n>(&self, name: &'n str) -> Option<&'n str> {
        Some(name).filter(|name| !name.is_empty() && self.surface != Surface::File)
    }

    /// What lies below the grid.
    pub(crate) fn shade(&self, mark: &Mark) -> Markup {
        let Frame { left, right, top, bottom } = self.frame;
        let rect = |class: &str, (x, y): Point, (to_x, to_y): Point| {
            html! { rect class=(class) x=(px(x)) y=(px(y)) width=(px(to_x - x)) height=(px(to_y - y)) {} }
        };
        match mark {
            Mark::Window { class, from, to, .. } => {
                let (Some(a), Some(b)) = (self.x.place(*from), self.x.place(*to)) else {
                    return Markup::default();
                };
                rect(class, (a.min(b), top), (a.max(b), bottom))
            }
            Mark::Stripe { class, low, high } => {
                let (Some(a), Some(b)) = (self.y.place(*low), self.y.place(*high)) else {
                    return Markup::default();
                };
                rect(class, (left, a.min(b)), (right, a.max(b)))
            }
            _ => Markup::default(),
        }
    }

    pub(crate) fn mark(&self, mark: &Mark) -> Markup {
        match mark {
            Mark::Line { look, points, trace, .. } => {
                let path = line_path(points.iter().map(|(x, y)| self.place(*x, *y)));
                html! { path class={ "line " (look.class()) } data-trace=[self.hook(trace)] d=(path) {} }
            }
            Mark::Level { look, at, .. } => self.level(&format!("line {}", look.class()), *at),
            Mark::Hairs { lines } => self.hairs(lines),
            Mark::Band { class, points } => {
                let (low, high) = self.both(points);
                html! { path class=(class) d=(area_path(&high, &low)) {} }
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
            Mark::Arrows { look, points, is_up } => html! {
                @for point in points.iter().filter_map(|(x, y)| self.place(*x, *y)) { (arrow(*look, point, *is_up)) }
            },
            Mark::Alarms { points } => self.alarms(points),
            Mark::Bars { look, points } => {
                let (low, high) = self.both(points);
                let bars: String =
                    low.into_iter().zip(high).filter_map(|(low, high)| Some(segment(low?, high?))).collect();
                html! { path class={ "height " (look.class()) } d=(bars) {} }
            }
            Mark::Spans { look, points } => {
                let bar = |(low, high, y): &(f64, f64, f64)| self.lying_bar(*low, *high, *y);
                html! { path class={ "height " (look.class()) } d=(points.iter().filter_map(bar).collect::<String>()) {} }
            }
            Mark::Zero => self.level("zero", 0.0),
            Mark::Height { at, foot, tip, label } => self.height(*at, *foot, *tip, label),
            Mark::Anchor { at, handle } => self.anchor(*at, handle),
            Mark::Window { from, to, handle, .. } => html! {
                @for (end, at) in [("from", from), ("to", to)] { (self.grip(handle, end, *at)) }
            },
            Mark::Stripe { .. } | Mark::Rule { .. } => Markup::default(),
        }
    }

    fn level(&self, class: &str, at: f64) -> Markup {
        let Frame { left, right, .. } = self.frame;
        html! { @if let Some(at) = self.y.place(at) { path class=(class) d=(segment((left, at), (right, at))) {} } }
    }

    /// Where the page's script can take hold of a window's end.
    fn grip(&self, handle: &str, end: &str, at: f64) -> Markup {
        let Some((handle, x)) = self.hook(handle).zip(self.x.place(at)) else { return Markup::default() };
        let Frame { top, bottom, .. } = self.frame;
        html! { path class="grip" data-handle=(handle) data-end=(end) data-x=(at) d=(segment((x, top), (x, bottom))) {} }
    }

    fn anchor(&self, (x, y): (f64, f64), handle: &str) -> Markup {
        let Some((at_x, at_y)) = self.place(x, y) else { return Markup::default() };
        let handle = self.hook(handle);
        html! {
            circle class="box quiet" data-handle=[handle] data-x=[handle.map(|_| x)] data-y=[handle.map(|_| y)]
                cx=(px(at_x)) cy=(px(at_y)) r="6" {}
        }
    }

    /// Hairs are for pointing at, which nobody does in a file.
    fn hairs(&self, lines: &[Hair]) -> Markup {
        if self.surface == Surface::File {
            return Markup::default();
        }
        let with = |unseen: f64| {
            let path =
                |hair: &Hair| line_path_within(hair.points.iter().map(|(x, y)| self.place(*x, *y)), unseen);
            let title = |hair: &Hair| shortened(&harmless(&hair.title), WIDEST_HAIR_TITLE);
            html! {
                g class="hairs" {
                    @for hair in lines { path data-trace=(hair.trace) d=(path(hair)) { title { (title(hair)) } } }
                }
            }
        };
        let fits = |drawn: &Markup| drawn.0.len() <= LONGEST_HAIRS;
        UNSEEN_ON_HAIRS.into_iter().map(with).find(fits).unwrap_or_default()
    }

    /// The letters stand above the first of those that follow one another closely, and below where others stand above.
    fn alarms(&self, points: &[(f64, f64, String)]) -> Markup {
        let mut last: Option<(f64, &str)> = None;
        let mut taken = f64::NEG_INFINITY;
        let mut parts: Vec<Markup> = Vec::new();
        for (x, y, letters) in points {
            let Some((x, y)) = self.place(*x, *y) else { continue };
            parts.push(alarm_frame((x, y)));
            let is_told = last.is_some_and(|(at, told)| told == letters && (x - at).abs() < 24.0);
            last = Some((x, letters));
            if is_told {
                continue;
            }
            let half = 0.6 * width(letters) + 2.0;
            let is_below = x - half < taken || y - 28.0 < self.frame.top;
            taken = taken.max(x + half);
            let beside = if is_below { y + 13.0 + LINE_HEIGHT - 6.0 } else { y - 14.0 };
            parts.push(text("mark strong middle halo", (x, beside), letters));
        }
        html! { @for part in &parts { (part) } }
    }

    fn both(&self, points: &[(f64, f64, f64)]) -> (Vec<Option<Point>>, Vec<Option<Point>>) {
        let place = |(x, low, high): &(f64, f64, f64)| Some((self.place(*x, *low)?, self.place(*x, *high)?));
        points.iter().map(|point| place(point).unzip()).unzip()
    }

    fn lying_bar(&self, low: f64, high: f64, y: f64) -> Option<String> {
        let ((from, y), (to, _)) = (self.place(low, y)?, self.place(high, y)?);
        let cap = |x: f64| segment((x, y - 6.0), (x, y + 6.0));
        Some(segment((from, y), (to, y)) + &cap(from) + &cap(to))
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
        let path = segment((x, from), (x, to))
            + &segment((x - 7.0, from), (x + 7.0, from))
            + &segment((x - 7.0, to), (x + 7.0, to));
        let handle = self.hook("height");
        let hooked = |value: f64| handle.map(|_| value);
        html! {
            path class="height mark" data-handle=[handle] data-x=[hooked(at)] data-foot=[hooked(foot)] data-tip=[hooked(tip)] d=(path) {}
            (text("mark strong middle halo", (middle, beyond), label))
        }
    }

    /// Limits: upright lines, their labels stacked where the curve leaves room.
    pub(crate) fn rules(&self, marks: &[Mark]) -> Markup {
        let rules: Vec<(Look, f64, &str)> = marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Rule { look, at, label } => Some((*look, self.x.place(*at)?, label.as_str())),
                _ => None,
            })
            .collect();
        let furthest = rules.iter().map(|(_, x, _)| *x).fold(self.frame.left, f64::max);
        let most = self.frame.right - self.frame.left - 8.0;
        let labels: Vec<String> =
            rules.iter().map(|(_, _, label)| shortened(&harmless(label), most)).collect();
        let widest = labels.iter().map(|label| width(label)).fold(0.0, f64::max);
        // Right of all lines where there is room, else left of the first.
        let from = (furthest + 12.0).min(self.frame.right - widest).max(self.frame.left + 4.0);
        let (named, bare): (Vec<_>, Vec<_>) =
            rules.iter().zip(&labels).partition(|(_, label)| !label.is_empty());
        html! {
            @for ((look, x, _), _) in bare {
                path class={ "line " (look.class()) } d=(segment((*x, self.frame.bottom), (*x, self.frame.top))) {}
            }
            @for (index, ((look, x, _), label)) in named.into_iter().enumerate() {
                @let y = self.frame.top + 10.0 + LINE_HEIGHT * index as f64;
                path class={ "line " (look.class()) } d=(segment((*x, self.frame.bottom), (*x, y))) {}
                path class="leader" d=(segment((*x, y), (from - 3.0, y))) {}
                (text(&format!("{} halo", look.class()), (from, y + BELOW_MIDDLE), label))
            }
        }
    }

    /// Labels at the right, beside the ends of their lines, moved apart where they would touch.
    pub(crate) fn end_labels(&self, marks: &[Mark]) -> Markup {
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
        match mark {
            Mark::Level { look, at, .. } => Some((self.y.place(*at)?, *look, label)),
            Mark::Line { look, points, .. } => {
                let places = points.iter().filter_map(|(x, y)| self.place(*x, *y));
                let (_, y) = places.max_by(|a, b| a.0.total_cmp(&b.0))?;
                Some((y, *look, label))
            }
            _ => None,
        }
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

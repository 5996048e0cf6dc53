//! Paths in few letters: tenths of a unit, each place relative to the one before, and no place that nobody could see.

use std::fmt::Write as _;

/// A place on the drawing.
pub(crate) type Point = (f64, f64);

/// A tenth of a unit is 0.075 px where a figure is 360 px wide.
const PER_UNIT: f64 = 10.0;

/// A place may be left out where the line passes it within this distance.
const UNSEEN: f64 = 0.1;

/// Of more places than this, those between the ends and extremes of a column of half a unit are left out first.
const MOST_UNSORTED: usize = 2000;

/// A coordinate in whole tenths.
#[expect(clippy::cast_possible_truncation, reason = "saturating; a drawing is some hundred units wide")]
fn tenths(value: f64) -> i64 {
    (value * PER_UNIT).round() as i64
}

/// A coordinate for an attribute.
pub(crate) fn px(value: f64) -> String {
    let tenths = tenths(value);
    let sign = if tenths < 0 { "-" } else { "" };
    let (whole, tenth) = (tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10);
    if tenth == 0 { format!("{sign}{whole}") } else { format!("{sign}{whole}.{tenth}") }
}

/// Straight lines through places; a missing one breaks the line.
pub(crate) fn line_path(points: impl Iterator<Item = Option<Point>>) -> String {
    line_path_within(points, UNSEEN)
}

/// The same, leaving out places that the line passes within a distance.
pub(crate) fn line_path_within(points: impl Iterator<Item = Option<Point>>, unseen: f64) -> String {
    let mut path = PathText::default();
    let mut piece = Vec::new();
    for point in points {
        match point {
            Some(point) => piece.push(point),
            None => path.line(&std::mem::take(&mut piece), unseen),
        }
    }
    path.line(&piece, unseen);
    path.text
}

/// The area between two lines over the same places, one piece for each stretch without a missing place.
pub(crate) fn area_path(upper: &[Option<Point>], lower: &[Option<Point>]) -> String {
    let mut path = PathText::default();
    let both: Vec<Option<(Point, Point)>> =
        upper.iter().zip(lower).map(|(upper, lower)| upper.zip(*lower)).collect();
    for piece in both.split(Option::is_none) {
        let forth: Vec<Point> = piece.iter().flatten().map(|(upper, _)| *upper).collect();
        let back: Vec<Point> = piece.iter().rev().flatten().map(|(_, lower)| *lower).collect();
        let outline: Vec<Point> =
            [thinned(&forth, UNSEEN), thinned(&back, UNSEEN)].into_iter().flatten().collect();
        if !outline.is_empty() {
            path.through(&outline);
            path.close();
        }
    }
    path.text
}

/// A closed outline.
pub(crate) fn outline(corners: impl Iterator<Item = Point>) -> String {
    let mut path = PathText::default();
    path.through(&corners.collect::<Vec<_>>());
    path.close();
    path.text
}

/// One straight line.
pub(crate) fn segment(from: Point, to: Point) -> String {
    let mut path = PathText::default();
    path.through(&[from, to]);
    path.text
}

/// The text of a path while it grows.
#[derive(Default)]
struct PathText {
    text: String,
    /// What the last number leaves open: nothing before the first, else whether it has a point.
    last_has_point: Option<bool>,
}

impl PathText {
    fn line(&mut self, points: &[Point], unseen: f64) {
        self.through(&thinned(points, unseen));
    }

    fn through(&mut self, points: &[Point]) {
        let Some(((x, y), rest)) = points.split_first() else { return };
        let (mut at_x, mut at_y) = (tenths(*x), tenths(*y));
        self.letter('M');
        self.number(at_x);
        self.number(at_y);
        let mut has_moved = false;
        for (x, y) in rest {
            let (next_x, next_y) = (tenths(*x), tenths(*y));
            if (next_x, next_y) == (at_x, at_y) {
                continue;
            }
            if !has_moved {
                self.letter('l');
                has_moved = true;
            }
            self.number(next_x - at_x);
            self.number(next_y - at_y);
            (at_x, at_y) = (next_x, next_y);
        }
    }

    fn letter(&mut self, letter: char) {
        self.text.push(letter);
        self.last_has_point = None;
    }

    fn close(&mut self) {
        self.letter('Z');
    }

    /// A minus sign, or a second point, parts two numbers as well as a space does.
    fn number(&mut self, tenths: i64) {
        let (whole, tenth) = (tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10);
        let begins_with_point = whole == 0 && tenth > 0;
        let is_parted = match self.last_has_point {
            None => true,
            Some(has_point) => tenths < 0 || (begins_with_point && has_point),
        };
        // Writing into a string cannot fail.
        self.text.push_str(if is_parted { "" } else { " " });
        self.text.push_str(if tenths < 0 { "-" } else { "" });
        match (whole, tenth) {
            (whole, 0) => write!(self.text, "{whole}").ok(),
            (0, tenth) => write!(self.text, ".{tenth}").ok(),
            (whole, tenth) => write!(self.text, "{whole}.{tenth}").ok(),
        };
        self.last_has_point = Some(tenth > 0);
    }
}

/// The places of a line that can be seen.
fn thinned(points: &[Point], unseen: f64) -> Vec<Point> {
    let points = if points.len() > MOST_UNSORTED { columns(points) } else { points.to_vec() };
    let mut is_kept = vec![false; points.len()];
    let mut open = vec![(0, points.len().saturating_sub(1))];
    // A loop of its own: a call for each half could go as deep as there are places.
    while let Some((first, last)) = open.pop() {
        for end in [first, last] {
            if let Some(kept) = is_kept.get_mut(end) {
                *kept = true;
            }
        }
        if let Some(furthest) = furthest(&points, first, last, unseen) {
            open.push((first, furthest));
            open.push((furthest, last));
        }
    }
    points.iter().zip(is_kept).filter(|(_, kept)| *kept).map(|(point, _)| *point).collect()
}

/// The place between two others that lies furthest from the line through them, if that is further than `unseen`.
fn furthest(points: &[Point], first: usize, last: usize, unseen: f64) -> Option<usize> {
    let (from, to) = (*points.get(first)?, *points.get(last)?);
    let (along_x, along_y) = (to.0 - from.0, to.1 - from.1);
    let length_squared = along_x * along_x + along_y * along_y;
    let mut found = None;
    let mut most = unseen * unseen;
    for (index, (x, y)) in points.iter().enumerate().take(last).skip(first + 1) {
        let (dx, dy) = (x - from.0, y - from.1);
        let share = if length_squared > 0.0 {
            ((dx * along_x + dy * along_y) / length_squared).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let (off_x, off_y) = (dx - share * along_x, dy - share * along_y);
        let distance = off_x * off_x + off_y * off_y;
        if distance > most {
            (found, most) = (Some(index), distance);
        }
    }
    found
}

/// First, highest, lowest and last of each run of places in one column of half a unit.
fn columns(points: &[Point]) -> Vec<Point> {
    let column = |point: &Point| tenths(point.0).div_euclid(5);
    let mut kept = Vec::new();
    for run in points.chunk_by(|a, b| column(a) == column(b)) {
        let places = || run.iter().enumerate();
        let lowest = places().min_by(|a, b| a.1.1.total_cmp(&b.1.1));
        let highest = places().max_by(|a, b| a.1.1.total_cmp(&b.1.1));
        let mut chosen: Vec<(usize, &Point)> =
            [places().next(), lowest, highest, places().next_back()].into_iter().flatten().collect();
        chosen.sort_by_key(|(index, _)| *index);
        chosen.dedup_by_key(|(index, _)| *index);
        kept.extend(chosen.into_iter().map(|(_, point)| *point));
    }
    kept
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_missing_number_breaks_the_line() {
        let points = [Some((0.0, 1.0)), Some((1.0, -0.001)), None, Some((2.0, 2.0))];
        assert_eq!(line_path(points.into_iter()), "M0 1l1-1M2 2");
        assert_eq!(area_path(&[None], &[None]), "");
        let up = [Some((0.0, 1.0)), Some((4.0, 3.0)), None, Some((6.0, 1.0)), Some((7.0, 2.0))];
        let down = up.map(|point| point.map(|(x, _)| (x, 0.0)));
        assert_eq!(area_path(&up, &down), "M0 1l4 2 0-3-4 0ZM6 1l1 1 0-2-1 0Z");
    }

    #[test]
    fn places_on_a_straight_line_are_left_out() {
        let points = (0..100).map(|step| Some((f64::from(step), 0.5 * f64::from(step))));
        assert_eq!(line_path(points), "M0 0l99 49.5");
    }

    #[test]
    fn many_places_keep_their_extremes() {
        let wild = |step: u32| if step == 70_000 { 400.0 } else { f64::from(step % 7) };
        let points = (0..100_000).map(|step| Some((f64::from(step) * 0.003, wild(step))));
        let path = line_path(points);
        assert!(places(&path).iter().any(|(_, y)| (*y - 400.0).abs() < 0.06), "the spike stays");
        assert!(path.len() < 20_000, "{}", path.len());
    }

    /// The places of a path that begins once and only moves on.
    fn places(path: &str) -> Vec<(f64, f64)> {
        let (first, rest) = path.strip_prefix('M').unwrap().split_once('l').unwrap_or((&path[1..], ""));
        let parse = |text: &str| -> Vec<f64> {
            let mut numbers: Vec<String> = Vec::new();
            for c in text.chars() {
                let begins = match numbers.last() {
                    None => true,
                    Some(last) => c == '-' || c == ' ' || (c == '.' && last.contains('.')),
                };
                if begins {
                    numbers.push(String::new());
                }
                if c != ' ' {
                    numbers.last_mut().unwrap().push(c);
                }
            }
            numbers.iter().map(|number| number.parse().unwrap()).collect()
        };
        let (mut x, mut y) = (parse(first)[0], parse(first)[1]);
        let mut places = vec![(x, y)];
        for step in parse(rest).chunks(2) {
            (x, y) = (x + step[0], y + step[1]);
            places.push((x, y));
        }
        places
    }

    proptest! {
        #[test]
        fn a_path_passes_every_place(line in prop::collection::vec((0.0..480.0_f64, -50.0..300.0_f64), 1..60)) {
            let mut line = line;
            line.sort_by(|a, b| a.0.total_cmp(&b.0));
            let drawn = places(&line_path(line.iter().copied().map(Some)));
            for (x, y) in line {
                let near = |a: &(f64, f64), b: &(f64, f64)| {
                    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
                    let length = dx * dx + dy * dy;
                    let share = if length > 0.0 { (((x - a.0) * dx + (y - a.1) * dy) / length).clamp(0.0, 1.0) } else { 0.0 };
                    libm::hypot(x - a.0 - share * dx, y - a.1 - share * dy)
                };
                let nearest = drawn.iter().zip(drawn.iter().skip(1).chain(drawn.last())).map(|(a, b)| near(a, b));
                // What may be left out, and half a tenth of rounding each way.
                prop_assert!(nearest.fold(f64::INFINITY, f64::min) < 0.1 + 0.08);
            }
        }
    }
}

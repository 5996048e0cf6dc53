//! Placing peak and baseline: other windows in a method file, everything else as it was written.
//!
//! A placement holds for every scan that the method evaluates. There is none for a single scan: a window that was moved
//! until one sample looked right would say nothing about the next.

use toml_edit::{Array, DocumentMut, Item, TableLike, Value};

use crate::file::{BaselinePlan, BlankUse, EvaluationPlan, MeasurePlan, Method};
use crate::problem::{Place, Problem, Problems};

/// Where peak and baseline are looked for, and what is done with the blank.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// The window of the peak, V, the lower end first.
    pub peak_v: [f64; 2],
    /// The windows of the baseline, V, as many as its kind has and in the order of the method file.
    pub baseline_v: Vec<[f64; 2]>,
    /// The potential at which the height is taken, V; only where the method states one.
    pub height_at_v: Option<f64>,
    /// What is done with the blank.
    pub blank: BlankUse,
}

impl BlankUse {
    /// The words of the method file.
    pub const WORDS: [(&'static str, Self); 3] =
        [("subtract", Self::Subtract), ("align", Self::Align), ("ignore", Self::Ignore)];

    /// The word of the method file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, known)| *known == self).map_or("", |(word, _)| word)
    }
}

impl Placement {
    /// The placement of a method.
    pub fn of(plan: &EvaluationPlan) -> Self {
        Self {
            peak_v: rising(plan.peak.window_v),
            baseline_v: plan.baseline.windows_v().into_iter().map(rising).collect(),
            height_at_v: match plan.peak.measure {
                MeasurePlan::HeightAt(at_v) => Some(at_v),
                MeasurePlan::Height | MeasurePlan::Area => None,
            },
            blank: plan.blank,
        }
    }

    /// The method file with this placement, under the name of a new revision. Comments, order and the way other numbers
    /// are written stay; so do windows that are the same.
    ///
    /// # Units
    /// V against the method's reference electrode.
    ///
    /// # Errors
    /// A source that is no method file, a placement with another number of baseline windows than the method has or with a
    /// potential for the height where the method looks for the vertex, or without one where it states one, and everything that the method file does not accept of the new windows.
    pub fn written_into(&self, source: &str, revision: &str) -> Result<String, Problems> {
        let method = Method::parse("method.toml", source)?;
        let before = Self::of(&method.evaluation);
        if before.baseline_v.len() != self.baseline_v.len() {
            let found = format!(
                "{} window(s) for a baseline that has {}",
                self.baseline_v.len(),
                before.baseline_v.len()
            );
            return Err(whole(&found, "place the windows that the method has").into());
        }
        if before.height_at_v.is_some() != self.height_at_v.is_some() {
            let cure =
                "state measure = \"height-at\" with at_v in the method first, or no potential for the height";
            return Err(
                whole("the height is taken at a stated potential in one of the two only", cure).into()
            );
        }
        let mut document: DocumentMut = source.parse().map_err(|error: toml_edit::TomlError| {
            whole(error.message(), "give the text of a method file")
        })?;
        let root = document.as_table_mut();
        set(root, &["method", "revision"], |item| text(item, revision))?;
        set(root, &["evaluation", "blank"], |item| text(item, self.blank.word()))?;
        if !is_same(before.peak_v, self.peak_v) {
            set(root, &["evaluation", "peak", "window_v"], |item| window(item, self.peak_v))?;
        }
        if let Some(at_v) =
            self.height_at_v.filter(|at_v| before.height_at_v.map(f64::to_bits) != Some(at_v.to_bits()))
        {
            set(root, &["evaluation", "peak", "at_v"], |item| instead(item, at_v))?;
        }
        let keys = keys_of(&method.evaluation.baseline);
        for ((key, is), was) in keys.iter().zip(&self.baseline_v).zip(&before.baseline_v) {
            if !is_same(*is, *was) {
                set(root, &["evaluation", "baseline", key], |item| window(item, *is))?;
            }
        }
        let placed = document.to_string();
        Method::parse("method.toml", &placed)?;
        Ok(placed)
    }
}

/// The lower end first.
pub(crate) fn rising([a, b]: [f64; 2]) -> [f64; 2] {
    [a.min(b), a.max(b)]
}

/// The same to the bit: what was not moved is not written anew.
fn is_same(one: [f64; 2], other: [f64; 2]) -> bool {
    one.map(f64::to_bits) == other.map(f64::to_bits)
}

fn keys_of(baseline: &BaselinePlan) -> &'static [&'static str] {
    match baseline {
        BaselinePlan::None | BaselinePlan::AsymmetricLeastSquares { .. } => &[],
        BaselinePlan::Tangent { .. } => &["window_v"],
        BaselinePlan::Line { .. } | BaselinePlan::Minima { .. } | BaselinePlan::Polynomial { .. } => {
            &["left_v", "right_v"]
        }
    }
}

fn whole(found: &str, cure: &str) -> Problem {
    Problem::new(Place::whole_file("method.toml"), found, cure)
}

/// Finds a key that a method file was shown to have, and changes its value.
fn set(root: &mut dyn TableLike, path: &[&str], change: impl FnOnce(&mut Value)) -> Result<(), Problem> {
    let missing = || whole(&format!("no key {}", path.join(".")), "give the text of a method file");
    let Some(((last, first), rest)) =
        path.split_last().and_then(|(last, before)| Some(((last, before.first()?), before.get(1..)?)))
    else {
        return Err(missing());
    };
    let mut item: &mut Item = root.get_mut(first).ok_or_else(missing)?;
    for key in rest {
        item = item.as_table_like_mut().and_then(|table| table.get_mut(key)).ok_or_else(missing)?;
    }
    let found = item.as_table_like_mut().and_then(|table| table.get_mut(last)).and_then(Item::as_value_mut);
    change(found.ok_or_else(missing)?);
    Ok(())
}

/// Another value with the blanks and comments that stood around the old one.
fn instead(value: &mut Value, new: impl Into<Value>) {
    let decor = value.decor().clone();
    *value = new.into();
    *value.decor_mut() = decor;
}

fn text(value: &mut Value, new: &str) {
    if value.as_str() != Some(new) {
        instead(value, new);
    }
}

/// In the order in which the old window was written.
fn window(value: &mut Value, [low, high]: [f64; 2]) {
    let ends = value.as_array().map(|array| array.iter().filter_map(number).collect::<Vec<_>>());
    let is_falling = matches!(ends.as_deref(), Some([first, second]) if first > second);
    instead(value, if is_falling { Array::from_iter([high, low]) } else { Array::from_iter([low, high]) });
}

fn number(value: &Value) -> Option<f64> {
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source() -> String {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/alder-vale/method.toml");
        std::fs::read_to_string(path).unwrap()
    }

    #[test]
    fn only_what_was_placed_changes() {
        let source = source();
        let before = Placement::of(&Method::parse("m", &source).unwrap().evaluation);
        assert_eq!(before.written_into(&source, "3").unwrap(), source);
        let mut moved = before.clone();
        moved.peak_v = [-0.7, -0.52];
        moved.baseline_v[1] = [-0.85, -0.8];
        moved.blank = BlankUse::Ignore;
        let placed = moved.written_into(&source, "4").unwrap();
        let changed: Vec<(&str, &str)> =
            source.lines().zip(placed.lines()).filter(|(was, is)| was != is).collect();
        assert_eq!(
            changed,
            [
                ("revision = \"3\"", "revision = \"4\""),
                ("blank = \"subtract\"", "blank = \"ignore\""),
                (
                    "baseline = { kind = \"line\", left_v = [-0.42, -0.38], right_v = [-0.84, -0.80] }",
                    "baseline = { kind = \"line\", left_v = [-0.42, -0.38], right_v = [-0.85, -0.8] }"
                ),
                (
                    "peak = { window_v = [-0.50, -0.72], direction = \"reduction\", measure = \"height\" }",
                    "peak = { window_v = [-0.52, -0.7], direction = \"reduction\", measure = \"height\" }"
                ),
            ]
        );
        assert_eq!(Placement::of(&Method::parse("m", &placed).unwrap().evaluation), moved);
    }

    #[test]
    fn a_stated_potential_of_the_height_is_placed_too() {
        let source = source().replace("measure = \"height\" }", "measure = \"height-at\", at_v = -0.60 }");
        let mut placement = Placement::of(&Method::parse("m", &source).unwrap().evaluation);
        assert_eq!(placement.height_at_v, Some(-0.60));
        assert_eq!(placement.written_into(&source, "3").unwrap(), source);
        placement.height_at_v = Some(-0.615);
        let placed = placement.written_into(&source, "3").unwrap();
        assert_eq!(placed, source.replace("at_v = -0.60 }", "at_v = -0.615 }"));
        placement.height_at_v = Some(f64::NAN);
        assert!(placement.written_into(&source, "3").is_err());
        placement.height_at_v = None;
        assert!(placement.written_into(&source, "3").is_err());
    }

    #[test]
    fn what_the_method_file_does_not_accept_is_said() {
        let source = source();
        let mut wrong = Placement::of(&Method::parse("m", &source).unwrap().evaluation);
        wrong.peak_v = [-0.6, -0.6];
        assert!(wrong.written_into(&source, "4").is_err());
        wrong.peak_v = [f64::NAN, -0.6];
        assert!(wrong.written_into(&source, "4").is_err());
        wrong.peak_v = [-0.7, -0.5];
        wrong.baseline_v.pop();
        assert!(wrong.written_into(&source, "4").is_err());
        assert!(wrong.written_into("nothing", "4").is_err());
    }
}

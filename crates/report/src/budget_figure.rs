//! The ranked parts of an uncertainty as bars, and below them the intervals that several ways give, against the limits.

use maud::{Markup, html};

use crate::axis::{AxisText, AxisUnit};
use crate::figure::Figure;
use crate::plot::LINE_HEIGHT;
use crate::style::Look;
use crate::svg::{Shape, dot, px, segment, text};
use crate::table::{Cell, Table};
use crate::words::{FIGURE_WIDTH, harmless, shortened, width};

/// Room left and right.
const MARGIN: f64 = 8.0;
const TEXT_WIDTH: f64 = FIGURE_WIDTH - 2.0 * MARGIN;
const BAR_HEIGHT: f64 = 12.0;

/// What a budget shows, ready to be drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BudgetBars {
    /// What the figure shows.
    pub title: String,
    /// What must be read with it.
    pub remarks: Vec<String>,
    /// The parts, the largest first.
    pub bars: Vec<BudgetBar>,
    /// What stands above the intervals.
    pub intervals_title: String,
    /// Intervals: name, low, value, high, all in one unit.
    pub intervals: Vec<(String, [f64; 3])>,
    /// Limits in the same unit.
    pub limits: Vec<(String, f64)>,
}

/// One part.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetBar {
    /// Its name.
    pub name: String,
    /// Its share of the variance, 0 to 1; a larger or smaller number is cut in the drawing and not in the text.
    pub share: f64,
    /// Uncertainty and how it is known, in words.
    pub detail: String,
    /// Whether it was observed (type A) or stated (type B).
    pub is_observed: bool,
}

/// Draws a budget.
///
/// # Units
/// Intervals and limits in one unit, which the titles name.
///
/// # Example
/// ```
/// use stillwell_report::{BudgetBar, BudgetBars, budget_figure};
/// let bars = BudgetBars {
///     title: "Budget".to_owned(),
///     bars: vec![BudgetBar { name: "strips".to_owned(), share: 0.7, detail: "u 0.8 mg/L".to_owned(), is_observed: true }],
///     intervals_title: "mg/L".to_owned(),
///     intervals: vec![("reported".to_owned(), [47.0, 49.0, 51.0])],
///     limits: vec![("limit".to_owned(), 50.0)],
///     ..BudgetBars::default()
/// };
/// assert!(budget_figure(&bars).standalone().starts_with("<svg"));
/// ```
pub fn budget_figure(budget: &BudgetBars) -> Figure {
    Figure {
        title: budget.title.clone(),
        remarks: budget.remarks.clone(),
        description: description(budget),
        tables: tables(budget),
        budget: Some(budget.clone()),
        ..Figure::default()
    }
}

impl BudgetBars {
    /// Bars, key and intervals from a height on; the height grows by what they take.
    pub(crate) fn drawn(&self, y: &mut f64) -> Markup {
        let bars: Vec<Markup> = self.bars.iter().map(|bar| bar_drawn(bar, y)).collect();
        html! { @for bar in &bars { (bar) } (key(y)) (intervals_drawn(self, y)) }
    }
}

fn tables(budget: &BudgetBars) -> Vec<Table> {
    let words = |quantity: &str| AxisText::new(quantity, AxisUnit::None);
    let share = AxisText::new("share of the variance", AxisUnit::Plain("%".to_owned()));
    let part = |bar: &BudgetBar| {
        let kind = if bar.is_observed { "observed (type A)" } else { "stated (type B)" };
        vec![bar.name.as_str().into(), (100.0 * bar.share).into(), bar.detail.as_str().into(), kind.into()]
    };
    let parts = Table {
        title: "Parts of the uncertainty".to_owned(),
        columns: vec![words("part"), share, words("uncertainty"), words("kind")],
        rows: budget.bars.iter().map(part).collect(),
    };
    let interval = |(name, ends): &(String, [f64; 3])| {
        [Cell::from(name.as_str())].into_iter().chain(ends.map(Cell::from)).collect()
    };
    let limit =
        |(name, at): &(String, f64)| vec![name.as_str().into(), Cell::Nothing, (*at).into(), Cell::Nothing];
    let intervals = Table {
        title: budget.intervals_title.clone(),
        columns: ["interval or limit", "low", "value", "high"].map(words).to_vec(),
        rows: budget.intervals.iter().map(interval).chain(budget.limits.iter().map(limit)).collect(),
    };
    [parts, intervals].into_iter().filter(|table| !table.rows.is_empty()).collect()
}

fn percent(share: f64) -> String {
    if !share.is_finite() {
        return "–".to_owned();
    }
    // Adding zero takes the sign from minus zero.
    let whole = (100.0 * share).round() + 0.0;
    if whole < 1.0 && share > 0.0 { "below 1 %".to_owned() } else { format!("{whole:.0} %") }
}

fn description(budget: &BudgetBars) -> String {
    let bars = budget.bars.iter().map(|bar| format!("{} {}", harmless(&bar.name), percent(bar.share)));
    format!("Shares of the variance: {}.", bars.collect::<Vec<_>>().join(", "))
}

/// Name and share, the bar, how it is known.
fn bar_drawn(bar: &BudgetBar, y: &mut f64) -> Markup {
    let top = *y;
    *y += 2.0 * LINE_HEIGHT + BAR_HEIGHT + 14.0;
    let share = percent(bar.share);
    let look = if bar.is_observed { Look::First } else { Look::Second };
    let room = TEXT_WIDTH - width(&share) - 16.0;
    let shown = if bar.share.is_finite() { bar.share.clamp(0.0, 1.0) } else { 0.0 };
    let bar_top = top + LINE_HEIGHT + 4.0;
    html! {
        (text("strong", (MARGIN, top + LINE_HEIGHT - 3.0), &shortened(&harmless(&bar.name), room / 1.1)))
        (text("end", (FIGURE_WIDTH - MARGIN, top + LINE_HEIGHT - 3.0), &share))
        (bar_of(look, bar_top, TEXT_WIDTH * shown))
        (text("soft", (MARGIN, bar_top + BAR_HEIGHT + LINE_HEIGHT - 4.0), &shortened(&harmless(&bar.detail), TEXT_WIDTH)))
    }
}

/// Observed parts are full, stated ones framed, so that they are told apart without colour.
fn bar_of(look: Look, top: f64, length: f64) -> Markup {
    let full = if look == Look::First { "full" } else { "box" };
    let ground_class = "grid";
    let base = top + BAR_HEIGHT + 1.0;
    html! {
        path class=(ground_class) d=(segment((MARGIN, base), (FIGURE_WIDTH - MARGIN, base))) {}
        rect class={ (full) " " (look.class()) } x=(px(MARGIN)) y=(px(top)) width=(px(length.max(1.5))) height=(px(BAR_HEIGHT)) {}
    }
}

fn key(y: &mut f64) -> Markup {
    *y += LINE_HEIGHT;
    let at = *y - 13.0;
    let sign = |look: Look, x: f64| {
        let class = if look == Look::First { "full" } else { "box" };
        html! { rect class={ (class) " " (look.class()) } x=(px(x)) y=(px(at)) width="20" height="12" {} }
    };
    html! {
        (sign(Look::First, MARGIN)) (text("soft", (MARGIN + 27.0, *y), "observed (type A)"))
        (sign(Look::Second, MARGIN + 210.0)) (text("soft", (MARGIN + 237.0, *y), "stated (type B)"))
    }
}

/// The intervals below one another on one scale, the limits as upright lines.
fn intervals_drawn(budget: &BudgetBars, y: &mut f64) -> Markup {
    let ends = budget.intervals.iter().flat_map(|(_, ends)| ends.iter().copied());
    let all: Vec<f64> =
        ends.chain(budget.limits.iter().map(|(_, at)| *at)).filter(|x| x.is_finite()).collect();
    let (low, high) = all.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(*x), b.max(*x)));
    if budget.intervals.is_empty() || high <= low {
        return Markup::default();
    }
    let inset = MARGIN + 10.0;
    let at = |x: f64| inset + (x - low) / (high - low) * (FIGURE_WIDTH - 2.0 * inset);
    *y += LINE_HEIGHT + 12.0;
    let title_y = *y;
    let top = *y + 6.0;
    let row = 2.0 * LINE_HEIGHT;
    let bottom = top + row * budget.intervals.len() as f64 + 4.0;
    *y = bottom + LINE_HEIGHT * budget.limits.len() as f64;
    html! {
        (text("strong", (MARGIN, title_y), &shortened(&harmless(&budget.intervals_title), TEXT_WIDTH / 1.1)))
        @for (index, (name, limit)) in budget.limits.iter().filter(|(_, at)| at.is_finite()).enumerate() {
            @let words = shortened(&harmless(name), TEXT_WIDTH);
            @let half = 0.5 * width(&words) + MARGIN;
            @let x = at(*limit).clamp(half, (FIGURE_WIDTH - half).max(half));
            @let foot = bottom + LINE_HEIGHT * index as f64;
            path class="line mark" d=(segment((at(*limit), top), (at(*limit), foot + 2.0))) {}
            (text("mark middle halo", (x, foot + LINE_HEIGHT - 4.0), &words))
        }
        @for (index, (name, ends)) in budget.intervals.iter().filter(|(_, ends)| ends.iter().all(|end| end.is_finite())).enumerate() {
            @let middle = top + row * (index as f64 + 0.75);
            @let look = Look::of_series(index);
            @let [from, value, to] = ends.map(at);
            (text("soft halo", (MARGIN, middle - 10.0), &shortened(&harmless(name), TEXT_WIDTH)))
            path class={ "height " (look.class()) } d=(segment((from, middle), (to, middle)) + &segment((from, middle - 5.0), (from, middle + 5.0)) + &segment((to, middle - 5.0), (to, middle + 5.0))) {}
            (dot(Shape::of_series(index), look, (value, middle)))
        }
    }
}

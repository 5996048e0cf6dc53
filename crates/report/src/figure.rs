//! A figure: title, what there is to say at once, plots above one another, what the shades and shapes mean.

use maud::{Markup, html};

use crate::budget_figure::BudgetBars;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::plot::{LINE_HEIGHT, Prepared};
use crate::scale::Domain;
use crate::style::Look;
use crate::svg::{Surface, alarm_frame, arrow, document, dot, px, segment, text};
use crate::table::Table;
use crate::words::{FIGURE_WIDTH, clean, harmless, shortened, width, wrapped};

/// Room left and right of running text.
const MARGIN: f64 = 8.0;

/// Running text may be this wide; a box needs a little more room.
const TEXT_WIDTH: f64 = FIGURE_WIDTH - 2.0 * MARGIN;

/// One figure: its drawing for a file and for a page, and its numbers as tables.
///
/// The drawing is 480 units wide and scales; its text is 12 px high where it is shown 360 px wide.
#[derive(Debug, Clone, Default)]
pub struct Figure {
    pub(crate) title: String,
    /// Lines of running text below the title.
    pub(crate) remarks: Vec<String>,
    /// Why there is no number: a heading and its reasons, shown in a box.
    pub(crate) refusal: Option<(&'static str, Vec<String>)>,
    pub(crate) plots: Vec<Plot>,
    /// Bars instead of plots.
    pub(crate) budget: Option<BudgetBars>,
    pub(crate) key: Vec<KeyEntry>,
    /// For those who do not see the picture.
    pub(crate) description: String,
    pub(crate) tables: Vec<Table>,
}

impl Figure {
    /// An SVG file: the style sheet inside, for light, dark and print.
    pub fn standalone(&self) -> String {
        self.laid_out(Surface::File)
    }

    /// An `svg` element for a page that links [`figure_stylesheet`](crate::figure_stylesheet): classes only, so that it stands under a
    /// Content-Security-Policy without inline style.
    ///
    /// `place` is a name that no other figure of the page has; the ids in the element differ with it. The element also carries
    /// data attributes for the page's script: see the module [`page_script`](crate::page_script).
    pub fn inline(&self, place: &str) -> String {
        self.laid_out(Surface::Page(place))
    }

    /// What the figure shows; a stranger's names in it are not escaped.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The same in sentences, for those who do not see it; a stranger's names in it are not escaped.
    pub fn description(&self) -> &str {
        &self.description
    }

    /// The numbers of the figure; none where there was nothing to draw.
    pub fn tables(&self) -> &[Table] {
        &self.tables
    }

    fn laid_out(&self, surface: Surface<'_>) -> String {
        let mut parts: Vec<Markup> = Vec::new();
        let mut y = 10.0;
        // The title's letters are a fifth wider than running text.
        for line in wrapped(&harmless(&self.title), TEXT_WIDTH / 1.25, 2) {
            y += 23.0;
            parts.push(text("title", (MARGIN, y), &line));
        }
        for line in self.remarks.iter().flat_map(|remark| wrapped(&harmless(remark), TEXT_WIDTH, 3)) {
            y += LINE_HEIGHT;
            parts.push(text("soft", (MARGIN, y), &line));
        }
        y += 8.0;
        if let Some((heading, reasons)) = &self.refusal {
            parts.push(refusal_box(heading, reasons, &mut y));
        }
        if let Some(budget) = &self.budget {
            parts.push(budget.drawn(&mut y));
        }
        parts.push(self.plots_drawn(surface, &mut y));
        parts.push(self.key_drawn(&mut y));
        document(surface, &self.title, &self.description, y + 12.0, &html! { @for part in &parts { (part) } })
    }

    fn plots_drawn(&self, surface: Surface<'_>, y: &mut f64) -> Markup {
        let along = self.along();
        let prepared: Vec<Prepared<'_>> =
            self.plots.iter().zip(along).map(|(plot, along)| Prepared::new(plot, along)).collect();
        let left =
            prepared.iter().map(Prepared::left_margin).fold(0.0, f64::max).min(0.4 * FIGURE_WIDTH) + 4.0;
        let right = FIGURE_WIDTH - prepared.iter().map(Prepared::right_margin).fold(0.0, f64::max);
        html! {
            @for plot in &prepared {
                @let top = *y;
                @let () = *y += plot.full_height();
                (plot.drawn(surface, left, right, top))
            }
        }
    }

    /// Plots above one another share what their axis covers, unless one has an axis of its own.
    fn along(&self) -> Vec<Domain> {
        self.plots
            .iter()
            .map(|plot| {
                let is_alongside =
                    |other: &&Plot| std::ptr::eq(*other, plot) || (plot.shares_x && other.shares_x);
                let alongside = self.plots.iter().filter(is_alongside);
                let all = alongside.flat_map(|other| other.marks.iter()).flat_map(Mark::along);
                Domain::of(all, plot.x_spacing).padded(0.02, 0.02)
            })
            .collect()
    }

    fn key_drawn(&self, y: &mut f64) -> Markup {
        let mut entries = Vec::new();
        let mut x = MARGIN;
        if !self.key.is_empty() {
            *y += LINE_HEIGHT + 4.0;
        }
        for entry in &self.key {
            let words = shortened(&harmless(entry.words()), TEXT_WIDTH - entry.sign_width());
            let taken = entry.sign_width() + width(&words) + 14.0;
            if x > MARGIN && x + taken - 14.0 > FIGURE_WIDTH - MARGIN {
                x = MARGIN;
                *y += LINE_HEIGHT + 2.0;
            }
            entries.push(entry.drawn(x, *y, &words));
            x += taken;
        }
        html! { @for entry in &entries { (entry) } }
    }
}

fn refusal_box(heading: &str, reasons: &[String], y: &mut f64) -> Markup {
    let top = *y;
    let lines: Vec<String> =
        reasons.iter().flat_map(|text| wrapped(&clean(text), TEXT_WIDTH - 24.0, 5)).collect();
    *y += LINE_HEIGHT * (lines.len() + 1) as f64 + 14.0;
    let height = *y - top - 4.0;
    html! {
        rect class="box mark" x=(px(MARGIN)) y=(px(top)) width=(px(TEXT_WIDTH)) height=(px(height)) rx="3" {}
        rect class="full mark" x=(px(MARGIN)) y=(px(top)) width="6" height=(px(height)) {}
        (text("mark strong", (MARGIN + 16.0, top + LINE_HEIGHT), heading))
        @for (index, line) in lines.iter().enumerate() {
            (text("", (MARGIN + 16.0, top + LINE_HEIGHT * (index + 2) as f64), line))
        }
    }
}

impl KeyEntry {
    fn words(&self) -> &str {
        match self {
            Self::Shade(_, words)
            | Self::Stroke(_, words)
            | Self::Dot(_, _, words)
            | Self::Ring(words)
            | Self::Arrow(_, _, words)
            | Self::Alarm(_, words) => words,
        }
    }

    /// Room for the sign before the words; a line needs some length to show its dashes.
    fn sign_width(&self) -> f64 {
        match self {
            Self::Stroke(..) | Self::Alarm(..) => 44.0,
            _ => 26.0,
        }
    }

    fn drawn(&self, x: f64, y: f64, words: &str) -> Markup {
        let middle = (x + 10.0, y - 5.5);
        html! {
            @match self {
                Self::Shade(class, _) => {
                    rect class=(class) x=(px(x)) y=(px(y - 13.0)) width="20" height="15" {}
                    rect class="box quiet" x=(px(x)) y=(px(y - 13.0)) width="20" height="15" {}
                }
                Self::Stroke(class, _) => {
                    path class=(class) d=(segment((x, y - 5.5), (x + 38.0, y - 5.5))) {}
                }
                Self::Dot(shape, look, _) => { (dot(*shape, *look, middle)) }
                Self::Ring(_) => { circle class={ "box " (Look::Quiet.class()) } cx=(px(middle.0)) cy=(px(middle.1)) r="6" {} }
                Self::Arrow(look, is_up, _) => {
                    (arrow(*look, (middle.0, middle.1 + if *is_up { 7.5 } else { -7.5 }), *is_up))
                }
                Self::Alarm(letter, _) => { (alarm_frame(middle)) (text("mark strong", (x + 24.0, y), letter)) }
            }
            (text("soft", (x + self.sign_width(), y), words))
        }
    }
}

//! The sheet of labels: ready to print and to cut, one code for each well and each box, and where it is wished for each strip, with
//! its plain words beside it. One document with everything inside; no script.

use std::fmt::Write as _;

use maud::{DOCTYPE, Markup, PreEscaped, html};
use qrcode::{Color, EcLevel, QrCode};
use stillwell_field::{Field, Label, Language, Lot, Strip, Texts, Well};
use stillwell_study::Study;

use crate::error::ServeError;

/// Paper is white whatever the screen does.
const STYLE: &str = include_str!("../../assets/labels.css");

/// Which labels, and in which words.
#[derive(Debug, Clone, Copy)]
pub struct SheetWanted<'a> {
    /// The campaign; the last one recorded where none is named.
    pub campaign: Option<&'a str>,
    /// The language of the words.
    pub language: Language,
    /// Whether each strip gets a label of its own.
    pub strips: bool,
}

/// A sheet of labels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LabelSheet {
    /// The document, HTML.
    pub document: String,
    /// The campaign's name.
    pub campaign: String,
    /// Wells, boxes and strips with a label.
    pub counts: [usize; 3],
}

/// The sheet of a study's campaign.
///
/// # Errors
/// No such campaign, or a label that fits into no code.
pub fn label_sheet(study: &Study, wanted: &SheetWanted<'_>) -> Result<LabelSheet, ServeError> {
    let campaign = match wanted.campaign {
        Some(name) => study.campaign(name)?.record.hash,
        None => study.campaigns()?.last().ok_or(ServeError::NoCampaign)?.record.hash,
    };
    let field = Field::open(study, &campaign.to_string())?;
    let texts = Texts::of(wanted.language)?;
    let mut labels = field.labels();
    if !wanted.strips {
        labels.strips.clear();
    }
    let say = |key: &str| texts.say(key, &[]);
    let of_wells = labels.wells.iter().map(|(label, well)| of_well(&texts, label, well));
    let of_boxes = labels.boxes.iter().map(|(label, lot)| of_box(&texts, label, lot));
    let of_strips = labels.strips.iter().map(|(label, strip)| of_strip(&texts, label, strip));
    let parts = [
        ("page-sheet-wells", "wells", of_wells.collect::<Result<Vec<_>, _>>()?),
        ("page-sheet-boxes", "boxes", of_boxes.collect::<Result<Vec<_>, _>>()?),
        ("page-sheet-strips", "strips", of_strips.collect::<Result<Vec<_>, _>>()?),
    ];
    let name = field.campaign().name.clone();
    let document = html! {
        (DOCTYPE)
        html lang=(wanted.language.tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light";
                title { (say("page-sheet-title")) " · " (name) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (say("page-sheet-title")) " · " span dir="auto" { (name) } }
                    p { (say("page-sheet-how")) }
                }
                @for (key, class, cards) in &parts {
                    @if !cards.is_empty() {
                        section class=(class) {
                            h2 { (say(key)) }
                            ul { @for card in cards { li { (card) } } }
                        }
                    }
                }
            }
        }
    };
    Ok(LabelSheet {
        document: document.into_string(),
        campaign: name,
        counts: [labels.wells.len(), labels.boxes.len(), labels.strips.len()],
    })
}

fn of_well(texts: &Texts, label: &Label, well: &Well) -> Result<Markup, ServeError> {
    let kind = texts.say("page-sheet-well", &[]);
    Ok(html! {
        (code(label, &format!("{kind} {}", well.code))?)
        div { p { (kind) } p class="code" { (well.code) } p class="place" dir="auto" { (well.place) } }
    })
}

fn of_box(texts: &Texts, label: &Label, lot: &Lot) -> Result<Markup, ServeError> {
    let with = |key: &str, pairs: &[(&str, String)]| {
        let pairs: Vec<_> = pairs.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect();
        texts.say(key, &pairs)
    };
    let kind = texts.say("page-sheet-box", &[]);
    let [first, last] = lot.numbers.map(|number| number.to_string());
    let recalled: Vec<String> = lot.recalled.iter().map(u32::to_string).collect();
    Ok(html! {
        (code(label, &format!("{kind} {}", lot.code))?)
        div {
            p { (kind) }
            p class="code" { (lot.code) }
            p { (with("page-sheet-numbers", &[("first", first), ("last", last)])) }
            p { (with("page-sheet-until", &[("day", lot.last_day.clone())])) }
            @if !recalled.is_empty() { p { (with("page-sheet-recalled", &[("numbers", recalled.join(", "))])) } }
        }
    })
}

fn of_strip(texts: &Texts, label: &Label, strip: &Strip) -> Result<Markup, ServeError> {
    let kind = texts.say("page-sheet-strip", &[]);
    Ok(html! {
        (code(label, &format!("{kind} {}", strip.code()))?)
        div { p { (kind) } p class="code" { (strip.code()) } }
    })
}

/// The picture of a label. A blot in its middle does no harm (level Q, ISO/IEC 18004); four modules around it stay white, as a
/// reader needs.
fn code(label: &Label, words: &str) -> Result<Markup, ServeError> {
    let made = QrCode::with_error_correction_level(label.text(), EcLevel::Q);
    let made = made.map_err(|error| ServeError::System { found: format!("{words}: {error}") })?;
    let side = made.width();
    let mut path = String::new();
    for (y, row) in made.to_colors().chunks(side).enumerate() {
        for (x, _) in row.iter().enumerate().filter(|(_, colour)| **colour == Color::Dark) {
            // Writing into a string does not fail.
            write!(path, "M{} {}h1v1h-1z", x + 4, y + 4).ok();
        }
    }
    Ok(html! {
        svg role="img" aria-label=(words) viewBox={ "0 0 " (side + 8) " " (side + 8) } shape-rendering="crispEdges" {
            rect width=(side + 8) height=(side + 8) fill="#fff" {}
            path d=(path) fill="#000" {}
        }
    })
}

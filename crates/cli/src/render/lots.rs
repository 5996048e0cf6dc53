//! `lot` for people: one line a lot, then each in words with its adjustment, then what strips scatter by.

use stillwell_assure::lots::PartVerdict;
use stillwell_method::{LotFound, LotReview, Method};

use super::numbers::counted;
use super::table::table;
use super::{method_line, wrapped};

/// `reference` says what the lots are held against, and who approved it.
pub(crate) fn text(method: &Method, review: &LotReview, reference: &str) -> String {
    let mut text = method_line(method);
    let rule = &review.rule;
    let zero = rule.zero_margin.map_or_else(
        || ", zeros not asked for".to_owned(),
        |margin| format!(", zeros within ±{margin} {}", review.unit),
    );
    let words = format!(
        "reference: {reference}; margin ±{} %{zero}, risk {} %, two one-sided tests",
        rule.margin_percent,
        100.0 * rule.risk
    );
    line!(text, "{}\n", wrapped("", &words));
    let header = ["lot", ">strips", ">difference / %", ">interval / %", ">margin / %", ""];
    let rows: Vec<Vec<String>> = review.lots.iter().map(row).collect();
    text.push_str(&table(&header, &rows));
    for lot in &review.lots {
        text.push_str(&in_words(lot, review));
    }
    text + &scatter(review)
}

fn row(found: &LotFound) -> Vec<String> {
    let none = || "–".to_owned();
    let Some(Ok(verdict)) = &found.verdict else {
        return vec![found.lot.clone(), none(), none(), none(), none(), "CANNOT SAY".to_owned()];
    };
    let part = &verdict.sensitivity;
    let [low, high] = part.interval;
    let word = match verdict.verdict {
        PartVerdict::Equivalent => "equivalent",
        PartVerdict::NotEquivalent => "NOT EQUIVALENT",
        PartVerdict::CannotSay(_) => "CANNOT SAY",
    };
    vec![
        found.lot.clone(),
        part.n.to_string(),
        format!("{:+.2}", part.difference),
        format!("{low:+.2} to {high:+.2}"),
        format!("±{}", part.margin),
        word.to_owned(),
    ]
}

fn in_words(found: &LotFound, review: &LotReview) -> String {
    let mut text = format!("\nlot {}\n", found.lot);
    match &found.verdict {
        None => line!(
            text,
            "{}",
            wrapped(
                "  ",
                "no strip of this lot could be read at a known level; measure strips of it with the standards of the approved calibration"
            )
        ),
        Some(Err(error)) => line!(text, "{}", wrapped("  ", &error.to_string())),
        Some(Ok(verdict)) => line!(text, "{}", wrapped("  ", &verdict.words())),
    }
    if let Some(read) = found.reading.as_ref().filter(|read| read.n_unread > 0) {
        let strips = counted(read.n_unread, "strip");
        line!(
            text,
            "{}",
            wrapped(
                "  note: ",
                &format!("{strips} could not be read: above the calibrated range, or refused")
            )
        );
    }
    match &found.adjustment {
        None => {}
        Some(Ok(adjustment)) => {
            let before = found.reading.as_ref().map_or(0.0, |read| read.shared.relative);
            line!(text, "{}", wrapped("  one-point adjustment: ", &adjustment.words(before, &review.unit)));
        }
        Some(Err(reasons)) => {
            for why in reasons {
                line!(text, "{}", wrapped("  ", &why.words(&review.unit)));
            }
        }
    }
    text
}

fn scatter(review: &LotReview) -> String {
    let (Some(scans), Some(found)) = (&review.scans, &review.scatter) else { return String::new() };
    let lots = counted(scans.names.len(), "lot");
    let mut text =
        format!("\nscatter at {} {}, {lots} ({})\n", scans.level, review.unit, scans.names.join(", "));
    match found {
        Ok(scatter) => {
            for words in scatter.words() {
                line!(text, "{}", wrapped("  ", &words));
            }
        }
        Err(error) => line!(text, "{}", wrapped("  not estimable: ", &error.to_string())),
    }
    text
}

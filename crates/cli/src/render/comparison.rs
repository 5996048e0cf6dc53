//! `compare` for people: pair by pair, then the verdict, then what to do.

use stillwell_assure::compare::{PairedResult, Reported};
use stillwell_method::{ComparisonReview, Method, three_digits};
use stillwell_quantity::{round_down, round_to_uncertainty, round_up};

use super::numbers::counted;
use super::table::table;
use super::{method_line, wrapped};

/// `from` says where the laboratory's results came from.
pub(crate) fn text(method: &Method, review: &ComparisonReview, from: &str) -> String {
    let mut text = method_line(method);
    line!(text, "{}", wrapped("laboratory: ", from));
    let limit = review.limit_id.as_ref().map_or_else(String::new, |id| format!("; limit {id}"));
    let words = format!(
        "{} with the laboratory; allowed bias ±{} %, or ±{} {} where differences do not grow with the level{limit}",
        counted(review.pairs.len(), "pair"),
        review.rule.largest_bias_percent,
        three_digits(review.rule.largest_bias),
        review.unit
    );
    line!(text, "{}\n", wrapped("", &words));
    text.push_str(&pairs(review));
    text.push_str(&verdict(review));
    text + &without_partner(review)
}

fn pairs(review: &ComparisonReview) -> String {
    if review.pairs.is_empty() {
        return "no pair\n".to_owned();
    }
    let unit = &review.unit;
    let header = ["sample", ">ours", ">laboratory", ">difference", ">zeta", ""];
    let rows: Vec<Vec<String>> = review.pairs.iter().map(row).collect();
    format!("{}in {unit}; ± twice the standard uncertainty\n", table(&header, &rows))
}

fn row(pair: &PairedResult) -> Vec<String> {
    let score = pair.score();
    let none = || "–".to_owned();
    vec![
        pair.sample.clone(),
        side(pair.ours),
        side(pair.reference),
        score.as_ref().map_or_else(none, |score| format!("{:+.1}", score.difference)),
        score.as_ref().map_or_else(none, |score| format!("{:+.1}", score.zeta)),
        pair.word().to_owned(),
    ]
}

fn side(reported: Reported) -> String {
    match reported {
        Reported::Found { value, standard_u } => {
            let rounded = round_to_uncertainty(value, 2.0 * standard_u);
            format!("{} ± {}", rounded.value, rounded.expanded_u)
        }
        Reported::LessThan(bound) => format!("< {}", round_up(bound, 3)),
        Reported::MoreThan(bound) => format!("> {}", round_down(bound, 3)),
    }
}

fn verdict(review: &ComparisonReview) -> String {
    let mut text = String::from("\n");
    match &review.comparison {
        Err(error) => line!(text, "{}", wrapped("no comparison: ", &error.to_string())),
        Ok(found) => {
            for words in found.words() {
                line!(text, "{}", wrapped("", &words));
            }
            for advice in found.advice() {
                line!(text, "{}", wrapped("do: ", &advice));
            }
        }
    }
    text
}

fn without_partner(review: &ComparisonReview) -> String {
    let mut text = String::new();
    if !review.alone.is_empty() {
        line!(text, "\nresults of the laboratory without a partner: {}", review.alone.len());
        for one in &review.alone {
            line!(text, "{}", wrapped(&format!("  {}: ", one.sample), &one.why));
        }
    }
    if !review.unreported.is_empty() {
        line!(
            text,
            "\n{}",
            wrapped("ours that the laboratory did not report: ", &review.unreported.join(", "))
        );
    }
    text
}

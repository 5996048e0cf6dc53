//! Every sentence about the comparison with a laboratory, side by side. Rules as in the room's `wording.rs`.

use super::agreement::{Agreement, Scale};
use super::comparison::{BiasVerdict, MethodComparison};
use super::pair::{BoundVerdict, ScoreGrade};

/// The comparison, the verdict first.
pub(super) fn comparison(found: &MethodComparison) -> Vec<String> {
    let mut words = vec![verdict(found)];
    if let Some(agreement) = &found.agreement {
        words.push(limits(agreement, &found.unit));
    }
    words.extend(line(found));
    words.extend(scores(found));
    words.extend(bounds(found));
    words.extend(calls(found));
    words
}

/// A pair in a few words; those in capitals ask for somebody to look.
pub(super) fn pair(grade: Option<ScoreGrade>, bound: Option<BoundVerdict>) -> &'static str {
    match (grade, bound) {
        (Some(ScoreGrade::Satisfactory), _) => "fits",
        (Some(ScoreGrade::Questionable), _) => "questionable",
        (Some(ScoreGrade::Unsatisfactory), _) => "DOES NOT FIT",
        (None, Some(BoundVerdict::Contradicts)) => "CONTRADICTS",
        (None, Some(BoundVerdict::Consistent)) => "a bound, both can be true",
        (None, _) => "a bound, says nothing",
    }
}

fn scale_unit(scale: Scale, unit: &str) -> &str {
    match scale {
        Scale::Absolute => unit,
        Scale::Percent => "%",
    }
}

fn verdict(found: &MethodComparison) -> String {
    let bias = found.agreement.as_ref().map_or_else(String::new, |agreement| {
        let unit = scale_unit(agreement.scale, &found.unit);
        let margin = match agreement.scale {
            Scale::Absolute => found.rule.largest_bias,
            Scale::Percent => found.rule.largest_bias_percent,
        };
        let ([low, high], margin) = (agreement.bias_interval, short(margin));
        format!(
            "bias {:+.2} {unit}, interval {low:+.2} to {high:+.2} {unit} from {} pairs, allowed ±{margin} {unit}",
            agreement.bias, agreement.n
        )
    });
    match found.verdict {
        BiasVerdict::WithinMargin => format!("agrees with the laboratory: {bias}"),
        BiasVerdict::BeyondMargin => format!("does not agree with the laboratory: {bias}"),
        BiasVerdict::CannotSay { more_pairs } => {
            let more = more_pairs.map_or_else(
                || "more pairs will hardly show agreement".to_owned(),
                |n| format!("about {n} more pairs would show agreement, if the bias is as it looks now"),
            );
            format!("cannot say yet whether it agrees with the laboratory: {bias}; {more}")
        }
        BiasVerdict::TooFew { found, needed } => format!(
            "too few pairs to say: {found} pairs of numbers, {needed} needed; pairs with \"less than\" do not count among them"
        ),
    }
}

/// At most two decimals, none where they are zeros: a margin or a limit may have been converted.
fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn limits(found: &Agreement, unit: &str) -> String {
    let unit = scale_unit(found.scale, unit);
    let [low, high] = found.limits;
    let why = match found.scale {
        Scale::Absolute => "",
        Scale::Percent => "; in %, because differences grow with the level",
    };
    let depends = if found.p_depends_on_level < 0.05 {
        "; differences depend on the level, so these limits are too wide at one end of the range and too narrow at the other"
    } else {
        ""
    };
    let [of_low, of_high] = found.limit_intervals;
    format!(
        "95 % of single differences lie between {low:+.2} {unit} ({:+.2} to {:+.2}) and {high:+.2} {unit} ({:+.2} to {:+.2}){why}{depends}",
        of_low[0], of_low[1], of_high[0], of_high[1]
    )
}

fn line(found: &MethodComparison) -> Option<String> {
    let line = found.line?;
    let says = |interval: [f64; 2], ideal: f64| {
        if interval[0] <= ideal && ideal <= interval[1] { "none seen" } else { "seen" }
    };
    Some(format!(
        "line with errors in both: slope {:.3} ({:.3} to {:.3}; proportional bias: {}), intercept {:+.2} {} ({:+.2} to {:+.2}; constant bias: {})",
        line.slope,
        line.slope_interval[0],
        line.slope_interval[1],
        says(line.slope_interval, 1.0),
        line.intercept,
        found.unit,
        line.intercept_interval[0],
        line.intercept_interval[1],
        says(line.intercept_interval, 0.0)
    ))
}

fn scores(found: &MethodComparison) -> Option<String> {
    let of = |grade: ScoreGrade| -> Vec<String> {
        let graded = found.scores.iter().filter(|score| score.grade == grade);
        graded.map(|score| format!("{} (ζ {:+.1})", score.sample, score.zeta)).collect()
    };
    let (questionable, bad) = (of(ScoreGrade::Questionable), of(ScoreGrade::Unsatisfactory));
    if found.scores.is_empty() {
        return None;
    }
    let n = found.scores.len();
    Some(if questionable.is_empty() && bad.is_empty() {
        format!("the stated uncertainties cover the differences of all {n} pairs")
    } else {
        let mut parts = Vec::new();
        if !bad.is_empty() {
            parts.push(format!("unsatisfactory: {}", first_few(&bad)));
        }
        if !questionable.is_empty() {
            parts.push(format!("questionable: {}", first_few(&questionable)));
        }
        format!("of {n} pairs, by their stated uncertainties, {}", parts.join("; "))
    })
}

/// The first five by name, the rest by number.
fn first_few(samples: &[String]) -> String {
    let named = samples.iter().take(5).cloned().collect::<Vec<_>>().join(", ");
    match samples.len().saturating_sub(5) {
        0 => named,
        more => format!("{named} and {more} more"),
    }
}

fn bounds(found: &MethodComparison) -> Option<String> {
    let against: Vec<&str> = found.contradictions().collect();
    match (found.bounds.len(), against.is_empty()) {
        (0, _) => None,
        (1, true) => {
            Some("1 pair with a bound contradicts nothing; a bound enters neither bias nor limits".to_owned())
        }
        (n, true) => {
            Some(format!("{n} pairs with a bound contradict nothing; a bound enters neither bias nor limits"))
        }
        (n, false) => Some(format!("of {n} pairs with a bound {} cannot both be true", against.join(", "))),
    }
}

fn calls(found: &MethodComparison) -> Option<String> {
    let (calls, limit) = (found.limit_calls?, short(found.rule.limit?));
    Some(format!(
        "by their values alone both lie on one side of {limit} {} for {} waters, ours low and the laboratory's above for {}, ours above and the laboratory's low for {}",
        found.unit, calls.alike, calls.ours_low_only, calls.ours_high_only
    ))
}

/// What to do.
pub(super) fn advice(found: &MethodComparison) -> Vec<String> {
    let mut advice: Vec<&str> = Vec::new();
    match found.verdict {
        BiasVerdict::WithinMargin => {}
        BiasVerdict::BeyondMargin => {
            advice.push("Report no result until the bias is found: compare standards with the laboratory's, check dilutions and temperature, and look for what in these waters changes the signal (standard addition tells).");
            advice.push(
                "Do not subtract the bias: what is not understood may be another one in the next water.",
            );
        }
        BiasVerdict::CannotSay { .. } | BiasVerdict::TooFew { .. } => {
            advice.push("Send more waters, spread over the whole range, above all near the limit, each split and measured within its holding time.");
        }
    }
    if found.scores.iter().any(|score| score.grade == ScoreGrade::Unsatisfactory) {
        advice.push("Where a single pair does not fit, look at that sample first: swapped bottles, holding time, dilution, matrix. If many do not fit although the bias is small, a stated uncertainty is too small: look at the budget.");
    }
    if found.contradictions().next().is_some() {
        advice.push("Where a bound and a value cannot both be true, measure that water again; look at the detection limit behind the bound.");
    }
    if found.limit_calls.is_some_and(|calls| calls.ours_low_only > 0) {
        advice.push("Some water is low by ours and above the limit by the laboratory: act on the laboratory's result.");
    }
    advice.into_iter().map(str::to_owned).collect()
}

//! All of history under a new revision: what comes out otherwise, and which verdicts change.

use stillwell_quantity::{round_down, round_to_uncertainty, round_up};
use stillwell_report::json::study::revision::Revised;
use stillwell_study::{Brief, Difference};

use super::super::numbers::counted;
use super::super::table::table;
use super::{head, wrapped};

/// Differences that are listed one by one.
const MOST: usize = 200;

pub(crate) fn text(revised: &Revised) -> String {
    let found = &revised.found;
    let mut text = format!(
        "under {}, revision {} ({}): {} looked at\n",
        revised.method.name,
        revised.method.revision,
        revised.method.hash.short(),
        counted(found.n_series, "series")
    );
    let n_changed = found.differences.iter().filter(|one| !one.changed_verdicts.is_empty()).count();
    line!(
        text,
        "{} the same to the last bit, {} otherwise, {} with another verdict",
        counted(found.n_same, "result"),
        found.differences.len(),
        n_changed
    );
    if !found.differences.is_empty() {
        let rows: Vec<Vec<String>> = found.differences.iter().take(MOST).map(row).collect();
        let header = ["series", "sample", "as issued", "under the new revision", "changed verdicts"];
        line!(text, "\n{}", table(&header, &rows).trim_end());
    }
    if found.differences.len() > MOST {
        line!(text, "… and {} more; --format json has them all", found.differences.len() - MOST);
    }
    for one in &found.withdrawn {
        let lead = format!("{} of series {} stays withdrawn by {}: ", one.sample, one.series, one.said.by);
        let why = format!("{}; `stillwell study correct` with a reason issues it anew", one.said.reason);
        line!(text, "{}", wrapped(&lead, &why));
    }
    for (series, why) in &found.unreadable {
        line!(text, "{}", wrapped(&format!("series {series} cannot be read under it: "), why));
    }
    text.push('\n');
    if found.revision.is_some() {
        let words = "the old results are kept, each new one names the one it replaces, and every new one is not approved";
        line!(text, "{}", wrapped("", words));
    } else {
        text.push_str("nothing was recorded: this was a dry run\n");
    }
    text.push_str(&head(&revised.anchor));
    text
}

fn row(one: &Difference) -> Vec<String> {
    let sample =
        if one.role == "sample" { one.sample.clone() } else { format!("{} ({})", one.sample, one.role) };
    let before = one.before.as_ref().map_or_else(|| "not issued".to_owned(), |(_, brief)| number(brief));
    let word = |code: &Option<String>| code.clone().unwrap_or_else(|| "none".to_owned());
    let verdicts: Vec<String> = one
        .changed_verdicts
        .iter()
        .map(|(limit, before, now)| format!("{limit}: {} → {}", word(before), word(now)))
        .collect();
    vec![
        one.series.clone(),
        sample,
        before,
        number(&one.now),
        if verdicts.is_empty() { "–".to_owned() } else { verdicts.join(", ") },
    ]
}

fn number(brief: &Brief) -> String {
    let Some(value) = brief.value else { return "refused".to_owned() };
    let text = match (brief.outcome.as_str(), brief.expanded_u()) {
        ("quantified", Some(expanded_u)) => {
            let rounded = round_to_uncertainty(value, expanded_u);
            format!("{} ± {}", rounded.value, rounded.expanded_u)
        }
        ("above-range", _) => format!("above {}", round_down(value, 2)),
        _ => format!("< {}", round_up(value, 2)),
    };
    format!("{text} {}", brief.unit)
}

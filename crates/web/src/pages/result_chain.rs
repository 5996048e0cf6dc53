//! The chain of one number, link by link, with the evidence of each.

use maud::{Markup, html};
use stillwell_method::{CalibrationLink, Effect, Outcome, Report, ScanLink, si, three_digits};
use stillwell_quantity::round_up;
use stillwell_study::Numbered;
use stillwell_study::Series;

use super::result::Told;
use super::scan_words::{electrode, peak_words, state_of_scan};
use super::study_spine::{CALIBRATION, CONCENTRATION, SCAN, SIGNAL, VERDICT};
use crate::layout::{Link, LinkState, Spine, sign};
use crate::wording::{Said, counted, number, sample};

/// The five links of one result, with their states.
pub(super) fn result_spine(told: &Told<'_>) -> Spine {
    let links = [
        scan_state(told),
        signal_state(told),
        calibration_state(told),
        number_state(told),
        verdict_state(told),
    ];
    let anchors = [
        (SCAN, "#scan"),
        (SIGNAL, "#signal"),
        (CALIBRATION, "#calibration"),
        (CONCENTRATION, "#concentration"),
        (VERDICT, "#verdict"),
    ];
    Spine {
        of: format!("The chain of {}", sample(&told.shown.one.act.result)),
        links: links
            .into_iter()
            .zip(anchors)
            .map(|((state, words), (name, anchor))| Link { name, state, words, evidence: anchor.to_owned() })
            .collect(),
        here: None,
    }
}

type State = (LinkState, String);

fn scans<'a>(told: &'a Told<'_>) -> impl Iterator<Item = (usize, &'a ScanLink)> {
    let report = &told.issued.report;
    told.found.scans.iter().filter_map(|place| Some((*place, report.scans.get(*place)?)))
}

fn scan_state(told: &Told<'_>) -> State {
    let n = scans(told).count();
    let n_out = scans(told).filter(|(_, scan)| !scan.counts()).count();
    let n_refused = scans(told).filter(|(_, scan)| scan.counts() && scan.is_refused()).count();
    let n_electrodes =
        scans(told).map(|(_, scan)| &scan.row.electrode).collect::<std::collections::BTreeSet<_>>().len();
    let mut words = vec![format!("{} on {}", counted(n, "scan"), counted(n_electrodes, "electrode"))];
    if n_out > 0 {
        words.push(format!("{n_out} left out"));
    }
    if n_refused > 0 {
        words.push(format!("{n_refused} refused by a check"));
    }
    let state = match (n, n_refused + n_out) {
        (0, _) => LinkState::Open,
        (n, gone) if n == gone => LinkState::Stops,
        (_, 0) => LinkState::Holds,
        _ => LinkState::Attention,
    };
    (state, words.join(", "))
}

fn signal_state(told: &Told<'_>) -> State {
    let counting: Vec<&ScanLink> = scans(told).map(|(_, scan)| scan).filter(|scan| scan.counts()).collect();
    let with: Vec<f64> = counting.iter().filter_map(|scan| Some(scan.signal.as_ref()?.signal)).collect();
    let (low, high) = with
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| (low.min(*one), high.max(*one)));
    match (with.len(), counting.len()) {
        (0, _) => (LinkState::Stops, "no scan gave a signal".to_owned()),
        (1, _) => (LinkState::Attention, format!("one signal, {}", si(low, "A"))),
        (n, all) => {
            let state = if n == all { LinkState::Holds } else { LinkState::Attention };
            (state, format!("{n} of {all} with a signal, {} to {}", si(low, "A"), si(high, "A")))
        }
    }
}

fn calibration_link<'a>(told: &'a Told<'_>) -> Option<&'a CalibrationLink> {
    told.issued.report.calibrations.get(told.found.calibration?)
}

/// The calibration on record that the result was read off.
fn on_record<'a>(told: &'a Told<'_>) -> Option<&'a Numbered<stillwell_study::CalibrationAct>> {
    let hash = told.shown.one.act.calibration?;
    told.view.overview.calibrations.iter().find(|one| one.record.hash == hash)
}

fn calibration_state(told: &Told<'_>) -> State {
    let Some(link) = calibration_link(told) else {
        return (LinkState::Stops, "none for this lot and channel".to_owned());
    };
    let standing = on_record(told).map_or("not on record", |one| one.standing.word());
    let accepted = if link.is_accepted() { "accepted" } else { "not accepted" };
    let is_approved = on_record(told).is_some_and(|one| one.standing.is_approved());
    let counts = on_record(told).is_none_or(|one| one.standing.counts());
    let state = match (link.is_accepted() && counts, is_approved) {
        (false, _) => LinkState::Stops,
        (true, false) => LinkState::Attention,
        (true, true) => LinkState::Holds,
    };
    (state, format!("{}, {accepted}, {standing}", link.key.label()))
}

fn number_state(told: &Told<'_>) -> State {
    let result = &told.shown.one.act.result;
    let words = format!("{} {}", number(result), result.unit).trim_end().to_owned();
    let state = match told.found.outcome {
        Outcome::Refused => LinkState::Stops,
        _ if told.found.findings.iter().any(|one| one.is_in_force(Effect::Warned)) => LinkState::Attention,
        _ => LinkState::Holds,
    };
    (state, words)
}

fn verdict_state(told: &Told<'_>) -> State {
    let said: Vec<Said> = super::results::said_of(told.shown).collect();
    let Some(gravest) = said.iter().min() else {
        return (LinkState::Open, "no limit to judge against".to_owned());
    };
    let words: Vec<String> = told
        .shown
        .one
        .act
        .result
        .decisions
        .iter()
        .map(|one| format!("{} {}", Said::of(told.shown, &one.limit).word(), one.limit))
        .collect();
    let state = match gravest {
        Said::Below => LinkState::Holds,
        Said::Above | Said::TooClose => LinkState::Attention,
        Said::Nothing => LinkState::Open,
        Said::Refused | Said::Withheld | Said::Undecided => LinkState::Stops,
    };
    let standing = told.shown.one.standing.word();
    (state, format!("{}; {standing}", words.join(", ")))
}

/// Every link with its evidence.
pub(super) fn chain(told: &Told<'_>) -> Markup {
    let series = told.view.series_of(&told.shown.one.act.series);
    html! {
        ol class="chain" {
            (step("scan", SCAN, &scan_state(told), &scan_evidence(told, series)))
            (step("signal", SIGNAL, &signal_state(told), &signal_evidence(told)))
            (step("calibration", CALIBRATION, &calibration_state(told), &calibration_evidence(told)))
            (step("concentration", CONCENTRATION, &number_state(told), &number_evidence(told)))
            (step("verdict", VERDICT, &verdict_state(told), &verdict_evidence(told)))
        }
    }
}

fn step(id: &str, name: &str, (state, words): &State, evidence: &Markup) -> Markup {
    html! {
        li id=(id) {
            h2 { (sign(*state)) (name) }
            p class="soft" { (words) }
            (evidence)
        }
    }
}

fn scan_address(series: Option<&Numbered<Series>>, told: &Told<'_>, place: usize) -> Option<String> {
    // Borrowed scans stand behind those of the series and have their page in their own.
    let series = series?;
    (place < series.act.n_scans).then(|| format!("/results/{}/scans/{}", told.shown.one.label, place + 1))
}

fn scan_evidence(told: &Told<'_>, series: Option<&Numbered<Series>>) -> Markup {
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Scans" {
            table class="dense" {
                thead { tr {
                    th scope="col" { "Scan" } th scope="col" { "Electrode" } th scope="col" class="num" { "Lines" }
                    th scope="col" { "Blank" } th scope="col" { "Checks" }
                } }
                tbody {
                    @for (place, scan) in scans(told) {
                        tr {
                            th scope="row" dir="auto" {
                                @match scan_address(series, told, place) {
                                    Some(address) => { a href=(address) { (scan.raw.label()) } }
                                    None => { (scan.raw.label()) }
                                }
                            }
                            td dir="auto" { (electrode(scan)) }
                            td class="num" { (scan.raw.first_line) "–" (scan.raw.last_line) }
                            td dir="auto" { (blank_words(scan)) }
                            td { @let (state, words) = state_of_scan(scan); (sign(state)) " " (words) }
                        }
                    }
                }
            }
        }
        p class="soft" { "Raw files are kept whole; each is known by its hash. Read as: "
            @if let Some((_, scan)) = scans(told).next() { span dir="auto" { (scan.raw.reading) } } }
    }
}

/// The blanks that were subtracted, by file.
fn blank_words(scan: &ScanLink) -> String {
    let Some(first) = scan.blanks.first() else { return "none".to_owned() };
    match scan.blanks.len() {
        1 => first.label(),
        n => format!("mean of {n}, from {}", first.file),
    }
}

fn signal_evidence(told: &Told<'_>) -> Markup {
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Signals" {
            table class="dense" {
                thead { tr {
                    th scope="col" { "Scan" } th scope="col" class="num" { "Signal" } th scope="col" class="num" { "Peak / V" }
                    th scope="col" class="num" { "Width / mV" } th scope="col" class="num" { "Noise" } th scope="col" class="num" { "Signal / noise" }
                } }
                tbody {
                    @for (_, scan) in scans(told) {
                        tr { th scope="row" dir="auto" { (scan.raw.label()) } (peak_words(scan)) }
                    }
                }
            }
        }
        @if let Some(figure) = first_figure(told) { (figure) }
    }
}

/// The first scan that says most: a refused one, else the first.
fn first_figure(told: &Told<'_>) -> Option<Markup> {
    let refused = scans(told).find(|(_, scan)| scan.counts() && scan.is_refused());
    let (place, _) = refused.or_else(|| scans(told).next())?;
    let address = format!("/results/{}/scans/{}/figure.svg", told.shown.one.label, place + 1);
    Some(html! {
        (super::figures::scan(&told.issued.input, &told.issued.report, place)?.on_page("scan", &address))
    })
}

fn calibration_evidence(told: &Told<'_>) -> Markup {
    let (Some(link), Some(one)) = (calibration_link(told), on_record(told)) else {
        return html! { p { "There is nothing to read this sample off." } };
    };
    let figure = super::figures::calibration(&told.issued.input, link);
    html! {
        p { a href={ "/calibrations/" (one.label) } { "Calibration " (one.label) } ": bands, residuals, limits, acceptance." }
        (figure.on_page("calibration", &format!("/calibrations/{}/figure.svg", one.label)))
    }
}

fn number_evidence(told: &Told<'_>) -> Markup {
    let unit = &told.shown.one.act.result.unit;
    let dilution = scans(told).find_map(|(_, scan)| scan.row.dilution);
    html! {
        @match &told.found.outcome {
            Outcome::Quantified(estimate) => {
                p { (three_digits(100.0 * estimate.coverage)) " % interval: " (three_digits(estimate.low)) " to " (three_digits(estimate.high)) " " (unit)
                    ", on " (counted(estimate.electrodes, "electrode")) }
                (budget(&estimate.parts, unit))
                p { a href={ "/results/" (told.shown.one.label) "/budget" } { "The whole budget" } ": where each part comes from, how to shrink it, Monte Carlo and check standards beside it." }
            }
            Outcome::AboveRange(above) => {
                p { "The calibrated range ends at " (three_digits(above.range_end)) " " (unit) ". Dilute " (three_digits(above.dilute)) " times more to get a number." }
            }
            Outcome::BelowQuantification(_) | Outcome::NotDetected(_) => {
                p { "Only a bound: what lies behind it is too small to be told from the blank, or to be quantified." }
            }
            Outcome::Refused => { p { "No number is issued. The findings above say why, and what to do." } }
        }
        @if let Some(dilution) = dilution {
            p { "The scans saw it diluted: times " (dilution.factor) ", standard uncertainty " (round_up(dilution.standard_u, 2)) }
        }
    }
}

/// Parts of the interval, the largest first, as bars of their half width.
fn budget(parts: &[stillwell_method::Part], unit: &str) -> Markup {
    let size = |part: &stillwell_method::Part| part.below.abs().max(part.above.abs());
    let mut ranked: Vec<_> = parts.iter().collect();
    ranked.sort_by(|a, b| size(b).total_cmp(&size(a)));
    let most = ranked.first().map_or(0.0, |part| size(part));
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Budget" {
            table {
                caption { "What the interval is made of: the half width that each part alone would give" }
                thead { tr { th scope="col" { "From" } th scope="col" class="num" { "− / " (unit) } th scope="col" class="num" { "+ / " (unit) } th scope="col" { "Ranked" } } }
                tbody {
                    @for part in ranked {
                        tr {
                            th scope="row" { (part.name) }
                            td class="num" { (round_up(part.below.abs(), 2)) }
                            td class="num" { (round_up(part.above.abs(), 2)) }
                            td class="bar-cell" { (bar(size(part), most)) }
                        }
                    }
                }
            }
        }
    }
}

/// A bar as long as its share of the longest.
pub(super) fn bar(size: f64, most: f64) -> Markup {
    let length = if most > 0.0 && size.is_finite() { (100.0 * size / most).clamp(0.0, 100.0) } else { 0.0 };
    html! {
        svg class="bar" viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true" {
            rect x="0" y="0" width=(format!("{length:.1}")) height="8" {}
        }
    }
}

fn verdict_evidence(told: &Told<'_>) -> Markup {
    let report: &Report = &told.issued.report;
    html! {
        p { "By method " strong dir="auto" { (report.method.name) } ", revision " (report.method.revision)
            ", decision by " (told.found.decisions.first().map_or("no limit", |decision| decision.rule)) ". "
            a href="#content" { "The verdicts stand at the top." } }
    }
}

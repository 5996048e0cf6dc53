//! The whole chain of one number, down to file, line and hash of the raw scans.

use stillwell_method::{
    CalibrationLink, Determination, Finding, Found, Outcome, RawLink, Report, ScanLink, SignalLink, si,
    three_digits,
};

use super::numbers::{current, potential, result};
use super::{findings, wrapped};

pub(crate) fn text(report: &Report, determination: &Determination) -> String {
    let mut text = format!("chain of {} ({})\n", determination.sample, determination.role.word());
    line!(
        text,
        "\nmethod      {}, revision {}\n            blake3 {}",
        report.method.name,
        report.method.revision,
        report.method.hash
    );
    for scan in determination.scans.iter().filter_map(|place| report.scans.get(*place)) {
        text.push_str(&scan_links(scan));
    }
    match determination.calibration.and_then(|place| report.calibrations.get(place)) {
        Some(link) => text.push_str(&calibration(report, link)),
        None => text.push_str("\ncalibration none for this lot and channel\n"),
    }
    text.push_str(&concentration(report, determination));
    text.push_str(&verdict(determination));
    text.push_str(&checks(determination));
    text
}

fn raw(link: &RawLink) -> String {
    let (potential_column, current_column) = link.columns;
    format!(
        "{}, scan {}, lines {}–{}, columns {potential_column} and {current_column}\n            blake3 {}",
        link.file, link.scan, link.first_line, link.last_line, link.hash
    )
}

fn scan_links(scan: &ScanLink) -> String {
    let mut text = format!("\nscan        {}\n", raw(&scan.raw));
    line!(text, "{}", wrapped("            read as: ", &scan.raw.reading));
    line!(text, "            electrode {}, lot {}", scan.row.electrode, scan.row.lot);
    line!(text, "            run sheet line {}", scan.row.place.line);
    if let Some(reason) = &scan.row.exclude {
        line!(text, "            excluded: {reason}");
        return text;
    }
    line!(text, "            {} raw checks passed", scan.checks_passed);
    for blank in scan.blanks.iter() {
        line!(text, "  blank     {}", raw(blank));
    }
    match &scan.signal {
        Some(signal) => text.push_str(&signal_link(signal)),
        None => text.push_str("  signal    none: refused\n"),
    }
    text
}

fn signal_link(signal: &SignalLink) -> String {
    let mut text = format!("  signal    {}", si(signal.signal, "A"));
    match signal.found {
        Found::ByPeak => line!(
            text,
            ", peak at {} V (point {}), baseline there {}",
            potential(signal.peak_potential_v),
            signal.peak_index + 1,
            si(signal.baseline_at_peak_a, "A")
        ),
        Found::AtFixedPotential => line!(text, ", no peak: measured at the calibration's potential"),
    }
    line!(
        text,
        "            noise {}, without the blank {}, {} point(s) replaced",
        current(signal.noise_a),
        current(signal.without_blank),
        signal.despiked
    );
    text
}

fn calibration(report: &Report, link: &CalibrationLink) -> String {
    let mut text = format!("\ncalibration {}\n            blake3 {}\n", link.key.label(), link.hash);
    let Some(made) = &link.calibration else {
        text.push_str("            could not be made\n");
        return text;
    };
    let [c0, c1, c2] = made.curve.coefficients;
    line!(text, "            {}: c0 = {c0:e} A, c1 = {c1:e}, c2 = {c2:e}", made.settings.model);
    line!(
        text,
        "            s = {:e} A with {} degrees of freedom, t = {}",
        made.curve.residual_sd,
        made.curve.degrees_of_freedom,
        made.curve.t_quantile
    );
    let files: std::collections::BTreeSet<String> = link
        .standards
        .iter()
        .filter_map(|place| report.scans.get(*place))
        .map(|scan| format!("            standards from {}, blake3 {}", scan.raw.file, scan.raw.hash))
        .collect();
    for line in files {
        line!(text, "{line}");
    }
    text
}

fn concentration(report: &Report, determination: &Determination) -> String {
    let unit = &report.method.reported_as;
    let mut text = format!("\nresult      {}", result(&determination.outcome));
    if !matches!(determination.outcome, Outcome::Refused) {
        text.push(' ');
        text.push_str(&unit.to_string());
    }
    text.push('\n');
    let mut scans = determination.scans.iter().filter_map(|place| report.scans.get(*place));
    if let Some(dilution) = scans.find_map(|scan| scan.row.dilution) {
        line!(
            text,
            "            the scans saw it diluted: times {}, standard uncertainty {}",
            dilution.factor,
            dilution.standard_u
        );
    }
    match &determination.outcome {
        Outcome::Quantified(estimate) => {
            line!(
                text,
                "            {} % interval {} to {} on {} electrode(s)",
                100.0 * estimate.coverage,
                three_digits(estimate.low),
                three_digits(estimate.high),
                estimate.electrodes
            );
            for part in &estimate.parts {
                line!(
                    text,
                    "            from {}: −{} +{}",
                    part.name,
                    three_digits(part.below),
                    three_digits(part.above)
                );
            }
        }
        Outcome::AboveRange(above) => {
            line!(text, "            the calibrated range ends at {} {unit}", above.range_end);
        }
        Outcome::BelowQuantification(_) | Outcome::NotDetected(_) | Outcome::Refused => {}
    }
    text
}

fn verdict(determination: &Determination) -> String {
    let mut text = String::new();
    for decision in &determination.decisions {
        let withheld = determination.withheld().next().is_some();
        let words = if withheld { "withheld" } else { decision.words.as_str() };
        line!(text, "\n{}", wrapped("verdict     ", words));
        line!(text, "{}", wrapped("            rule: ", decision.rule));
        if !withheld {
            line!(text, "{}", wrapped("            because: ", &decision.reason));
        }
        line!(text, "{}", wrapped("            limit: ", &decision.limit_source));
    }
    text
}

fn checks(determination: &Determination) -> String {
    let all: Vec<&Finding> = determination.findings.iter().collect();
    if all.is_empty() {
        "\nchecks      all passed\n".to_owned()
    } else {
        format!("\nchecks\n{}", findings(&all, "  "))
    }
}

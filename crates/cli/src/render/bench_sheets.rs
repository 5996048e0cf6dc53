//! `prepare` for people: a sheet to print and fill in.

use stillwell_method::{Preparation, StockPlan, TOLERANCE_SOURCES};
use stillwell_report::json::bench_sheets::Sheet;

use super::numbers::two_digits;
use super::table::table;
use super::wrapped;

pub(crate) fn text(sheet: &Sheet<'_>) -> String {
    let (method, made) = (sheet.method, sheet.preparation);
    let mut text = String::new();
    line!(text, "method   {}, revision {} ({})", method.name, method.revision, method.hash.short());
    line!(text, "bench    {}", sheet.bench_name);
    line!(text, "{}", wrapped("stock    ", &stock(sheet)));
    line!(
        text,
        "need     at least {} mL of each level in {}",
        sheet.plan.volume_ml,
        method.sample.electrolyte
    );
    line!(
        text,
        "date     __________   initials ______   stock lot __________   mass on the balance __________ mg"
    );
    text.push('\n');
    for step in &made.steps {
        line!(text, "{}", wrapped("[ ] ", step));
    }
    line!(text, "\n{}", levels(made).trim_end());
    line!(text, "\n{}", wrapped("", &met(made)));
    line!(text, "{}", wrapped("", &made.correlation));
    text.push('\n');
    for caution in made.cautions {
        line!(text, "{}", wrapped("", caution));
    }
    line!(text, "{}", wrapped("Tolerances: ", TOLERANCE_SOURCES));
    text
}

fn stock(sheet: &Sheet<'_>) -> String {
    match &sheet.plan.stock {
        StockPlan::Salt { formula, purity, purity_half_width, .. } => format!(
            "{formula}, purity {purity} ± {purity_half_width} (rectangular); hold it against the label"
        ),
        StockPlan::Solution { certified_mg_per_l, certified_u_mg_per_l } => format!(
            "a certified solution, {certified_mg_per_l} {} with standard uncertainty {certified_u_mg_per_l}",
            sheet.preparation.unit
        ),
    }
}

fn levels(made: &Preparation) -> String {
    let header = [
        format!(">level / {}", made.unit),
        ">prepared".to_owned(),
        ">standard uncertainty".to_owned(),
        ">/ %".to_owned(),
        "mostly from".to_owned(),
    ];
    let rows: Vec<Vec<String>> = made
        .sheet
        .levels()
        .zip(&made.largest_parts)
        .map(|(level, part)| {
            vec![
                level.level_mg_per_l.map_or_else(String::new, |wanted| wanted.to_string()),
                format!("{:.3}", level.concentration_mg_per_l),
                two_digits(level.relative_u * level.concentration_mg_per_l),
                two_digits(100.0 * level.relative_u),
                part.clone(),
            ]
        })
        .collect();
    table(&header.iter().map(String::as_str).collect::<Vec<_>>(), &rows)
}

fn met(made: &Preparation) -> String {
    let largest = two_digits(100.0 * made.largest_relative_u);
    let stated = 100.0 * made.stated_relative_u;
    if made.stated_relative_u <= 0.0 {
        return format!(
            "The largest is {largest} %; the method states no level_relative_u, so its results do not hold it: \
             state at least that under [calibration]."
        );
    }
    if made.meets_the_method() {
        format!("The largest is {largest} %; the method's level_relative_u is {} %: met.", two_digits(stated))
    } else {
        format!(
            "The largest is {largest} %; the method's level_relative_u is {} %: NOT MET. Results would claim too \
             little uncertainty: prepare better, or state at least {largest} % in a new revision.",
            two_digits(stated)
        )
    }
}

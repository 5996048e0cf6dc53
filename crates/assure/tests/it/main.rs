//! Tests of the room `assure` from outside.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test stops at the first surprise and prints what it compares"
)]

mod budget_coverage;
mod budgets;
mod checks;
mod conformity;
mod control_alarms;
mod control_charts;
mod control_rates;
mod control_words;
mod decisions;
mod gum_examples;
mod laboratory;
mod laboratory_comparison;
mod limits;
mod lot_release;
mod monte_carlo_examples;
mod one_study_every_way;
mod online_sensors;
mod published;
mod quam_examples;
mod release;
mod risks;
mod stations;
mod sum_rule;
mod top_down_examples;
mod validation_table;
mod ways;
mod words;

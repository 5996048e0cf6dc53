//! How often do 95 % intervals of variance components cover the truth? Prints a table for balanced and unbalanced layouts.
//!
//! ```text
//! variance_coverage [STUDIES]        2000 studies a layout unless told otherwise
//! ```
//!
//! Behind each share stands the median upper end of the standard deviation over its true value: what few members cost.

use std::io::Write as _;

mod simulation;

type Failure = Box<dyn std::error::Error + Send + Sync>;

fn main() -> Result<(), Failure> {
    let n = std::env::args().nth(1).map_or(Ok(2000), |text| text.parse::<u64>())?;
    let mut out = std::io::stdout().lock();
    writeln!(out, "{n} studies a layout; share covered in % (median upper end of the sd over its truth)")?;
    write!(out, "{:52}", "layout")?;
    for name in simulation::NAMES {
        write!(out, "{name:>15}")?;
    }
    writeln!(out)?;
    let mut worst = f64::INFINITY;
    for (at, layout) in simulation::layouts().iter().enumerate() {
        let found = simulation::coverage(layout, 7_000 + at as u64, n)?;
        write!(out, "{:52}", layout.name)?;
        for (share, high) in found.shares.iter().zip(found.relative_high) {
            write!(out, "{:>8.1} ({high:4.1})", 100.0 * share)?;
            worst = worst.min(*share);
        }
        writeln!(out)?;
    }
    writeln!(out, "worst: {:.1} %", 100.0 * worst)?;
    Ok(())
}

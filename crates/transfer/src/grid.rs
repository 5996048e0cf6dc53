//! The grid of potentials as a device holds it: whole units where that gives the very same bits, else a table.

/// How a device knows its potentials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Grid {
    /// Point i lies at (start + i × step) / units per volt, one division rounded once.
    Even { units_per_volt: f64, start: i32, step: i32 },
    /// A number a point.
    Table,
}

/// Decimal units that are tried, the coarsest first; a record printed in mV, tenths, … or µV is one of them.
const UNITS_PER_VOLT: [f64; 5] = [1e3, 1e4, 1e5, 1e6, 1e7];

pub(crate) fn grid_of(potential_v: &[f64]) -> Grid {
    UNITS_PER_VOLT.into_iter().find_map(|units| even(potential_v, units)).unwrap_or(Grid::Table)
}

fn even(potential_v: &[f64], units_per_volt: f64) -> Option<Grid> {
    let [first, second, ..] = potential_v else { return None };
    let start = whole(first * units_per_volt)?;
    let step = whole((second - first) * units_per_volt)?;
    // As the kernel's own bounds: no product of index and step leaves 32 bits.
    if step == 0 || step.abs() > 32_767 || start.abs() > 1_000_000_000 {
        return None;
    }
    let is_same = potential_v.iter().enumerate().all(|(i, at_v)| {
        let units = i64::try_from(i).map(|i| i64::from(start) + i * i64::from(step));
        // Below 2^53: exact.
        units.is_ok_and(|units| ((units as f64) / units_per_volt).to_bits() == at_v.to_bits())
    });
    is_same.then_some(Grid::Even { units_per_volt, start, step })
}

fn whole(x: f64) -> Option<i32> {
    let rounded = libm::rint(x);
    if !(-1e9..=1e9).contains(&rounded) {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, reason = "a whole number within ±1e9")]
    let whole = rounded as i32;
    Some(whole)
}

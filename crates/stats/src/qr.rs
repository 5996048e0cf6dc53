//! Householder QR in double-double, always in the same order.
//!
//! Source: Golub & Van Loan, Matrix Computations, 5.2 (Householder QR) and 5.3 (least squares).

use crate::double_double::DoubleDouble;
use crate::error::StatsError;

/// A column counts as dependent when the part that the earlier columns leave over is below this share of it:
/// a few roundings of the `f64` numbers that it was written in.
pub(crate) const DEPENDENT: f64 = 16.0 * f64::EPSILON;

/// The solved triangle of one least-squares problem.
pub(crate) struct Solved {
    pub(crate) coefficients: Vec<DoubleDouble>,
    /// Inverse of the triangle R, by rows; zero below the diagonal.
    pub(crate) inverse_triangle: Vec<Vec<DoubleDouble>>,
}

/// Least squares of `y` on `columns`; every column has the length of `y`, and there are no more columns than rows.
pub(crate) fn solve(
    mut columns: Vec<Vec<DoubleDouble>>,
    mut y: Vec<DoubleDouble>,
) -> Result<Solved, StatsError> {
    let n_columns = columns.len();
    let mut diagonal = Vec::with_capacity(n_columns);
    for k in 0..n_columns {
        let (before, after) = columns.split_at_mut(k + 1);
        let column = &mut before[k];
        let whole = norm(column);
        let rest = norm(&column[k..]);
        let share = if whole.to_f64() > 0.0 { (rest / whole).to_f64() } else { 0.0 };
        if share.is_nan() || share <= DEPENDENT {
            return Err(StatsError::RankDeficient { column: k, independent_part: share });
        }
        let r_kk = if column[k].to_f64() > 0.0 { -rest } else { rest };
        column[k] = column[k] - r_kk; // the column now holds the reflection's vector below its row
        let reflector = &column[k..];
        let length_squared = reflector.iter().map(|v| v.square()).sum();
        for other in after {
            reflect(reflector, length_squared, &mut other[k..]);
        }
        reflect(reflector, length_squared, &mut y[k..]);
        diagonal.push(r_kk);
    }
    let inverse_triangle = invert(&columns, &diagonal);
    let coefficients =
        inverse_triangle.iter().map(|row| row.iter().zip(&y).map(|(&r, &q)| r * q).sum()).collect();
    Ok(Solved { coefficients, inverse_triangle })
}

fn norm(column: &[DoubleDouble]) -> DoubleDouble {
    column.iter().map(|v| v.square()).sum::<DoubleDouble>().sqrt()
}

/// `target -= 2 v (v·target) / (v·v)`.
fn reflect(v: &[DoubleDouble], length_squared: DoubleDouble, target: &mut [DoubleDouble]) {
    let dot: DoubleDouble = v.iter().zip(target.iter()).map(|(&a, &b)| a * b).sum();
    let factor = dot.scale(2.0) / length_squared;
    for (entry, &v_entry) in target.iter_mut().zip(v) {
        *entry = *entry - factor * v_entry;
    }
}

/// Inverse of R, whose strict upper part stands in `columns` and whose diagonal is apart.
fn invert(columns: &[Vec<DoubleDouble>], diagonal: &[DoubleDouble]) -> Vec<Vec<DoubleDouble>> {
    let n = diagonal.len();
    let mut below: Vec<Vec<DoubleDouble>> = Vec::with_capacity(n); // finished rows, the last one first
    for row in (0..n).rev() {
        let entry = |column: usize| {
            if column < row {
                return DoubleDouble::ZERO;
            }
            let start = if row == column { DoubleDouble::ONE } else { DoubleDouble::ZERO };
            let known: DoubleDouble =
                (row + 1..=column).map(|j| columns[j][row] * below[n - 1 - j][column]).sum();
            (start - known) / diagonal[row]
        };
        let finished = (0..n).map(entry).collect();
        below.push(finished);
    }
    below.reverse();
    below
}

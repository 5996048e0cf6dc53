//! Eigenvalues of a symmetric tridiagonal matrix, and how much of its last node is in each.

/// Rounds of the iteration for one eigenvalue; two are usual.
const MAX_ROUNDS: usize = 60;

/// One eigenvector, as its last node sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Line {
    pub(crate) eigenvalue: f64,
    /// Square of the last component of the normalised eigenvector; all shares sum to 1.
    pub(crate) share: f64,
}

/// All eigenvalues with their shares; `diagonal` has one entry more than `coupling`. Small eigenvalues keep their digits
/// where the entries grow from the first node to the last. `None` where the iteration does not end.
///
/// # Source
/// Implicit QL iteration, of the eigenvectors only one component: Golub & Welsch, Math. Comp. 23 (1969) 221 (from memory).
pub(crate) fn spectrum(diagonal: &[f64], coupling: &[f64]) -> Option<Vec<Line>> {
    let n = diagonal.len();
    let mut matrix = Tridiagonal {
        diagonal: diagonal.to_vec(),
        coupling: coupling.iter().copied().chain([0.0]).take(n).collect(),
        last: (0..n).map(|i| f64::from(u8::from(i + 1 == n))).collect(),
    };
    for first in 0..n {
        let mut rounds = 0;
        loop {
            let end = matrix.block_end(first);
            if end == first {
                break;
            }
            rounds += 1;
            if rounds > MAX_ROUNDS {
                return None;
            }
            matrix.chase(first, end);
        }
    }
    let lines = matrix.diagonal.iter().zip(&matrix.last);
    let lines: Vec<Line> = lines.map(|(&eigenvalue, last)| Line { eigenvalue, share: last * last }).collect();
    lines.iter().all(|line| line.eigenvalue.is_finite() && line.share.is_finite()).then_some(lines)
}

struct Tridiagonal {
    diagonal: Vec<f64>,
    /// Between each node and the next; the last entry is 0.
    coupling: Vec<f64>,
    /// Last component of each eigenvector.
    last: Vec<f64>,
}

impl Tridiagonal {
    /// The last node that is still coupled to `first`.
    fn block_end(&self, first: usize) -> usize {
        let is_apart = |i: &usize| {
            let size = self.diagonal[*i].abs() + self.diagonal[*i + 1].abs();
            self.coupling[*i].abs() <= f64::EPSILON * size
        };
        let last = self.diagonal.len() - 1;
        (first..last).find(is_apart).unwrap_or(last)
    }

    /// One round: a shift towards the eigenvalue at `first`, then rotations from `end` back to it.
    fn chase(&mut self, first: usize, end: usize) {
        let (d, e) = (&mut self.diagonal, &mut self.coupling);
        let half = (d[first + 1] - d[first]) / (2.0 * e[first]);
        let root = libm::copysign(libm::sqrt(half * half + 1.0), half);
        let mut bulge = d[end] - d[first] + e[first] / (half + root);
        let (mut sine, mut cosine, mut moved) = (1.0, 1.0, 0.0);
        for i in (first..end).rev() {
            let (out, inner) = (sine * e[i], cosine * e[i]);
            let length = libm::sqrt(out * out + bulge * bulge);
            e[i + 1] = length;
            if length <= 0.0 {
                d[i + 1] -= moved;
                e[end] = 0.0;
                return;
            }
            (sine, cosine) = (out / length, bulge / length);
            let rest = d[i + 1] - moved;
            let turned = (d[i] - rest) * sine + 2.0 * cosine * inner;
            moved = sine * turned;
            d[i + 1] = rest + moved;
            bulge = cosine * turned - inner;
            let (near, far) = (self.last[i], self.last[i + 1]);
            self.last[i + 1] = sine * near + cosine * far;
            self.last[i] = cosine * near - sine * far;
        }
        d[first] -= moved;
        e[first] = bulge;
        e[end] = 0.0;
    }
}

#[cfg(test)]
mod tests {
    use core::f64::consts::PI;

    use super::spectrum;

    #[test]
    fn chain_of_equal_springs_has_its_known_lines() {
        // Eigenvalues 2 − 2 cos(kπ/(n + 1)), components √(2/(n + 1)) sin(ikπ/(n + 1)).
        let n = 9;
        let mut lines = spectrum(&vec![2.0; n], &vec![-1.0; n - 1]).unwrap();
        lines.sort_by(|a, b| a.eigenvalue.total_cmp(&b.eigenvalue));
        for (k, line) in (1_u32..).zip(lines) {
            let angle = f64::from(k) * PI / 10.0;
            assert!((line.eigenvalue - (2.0 - 2.0 * libm::cos(angle))).abs() < 1e-14, "{line:?}");
            let last = libm::sqrt(0.2) * libm::sin(9.0 * angle);
            assert!((line.share - last * last).abs() < 1e-14, "{line:?}");
        }
    }

    #[test]
    fn entries_over_thirty_decades_keep_their_trace_and_shares() {
        let diagonal: Vec<f64> = (0..16).map(|i| libm::pow(100.0, f64::from(i) - 8.0)).collect();
        let coupling: Vec<f64> =
            diagonal.windows(2).map(|pair| 0.4 * libm::sqrt(pair[0] * pair[1])).collect();
        let lines = spectrum(&diagonal, &coupling).unwrap();
        let trace: f64 = lines.iter().map(|line| line.eigenvalue).sum();
        let shares: f64 = lines.iter().map(|line| line.share).sum();
        assert!((trace / diagonal.iter().sum::<f64>() - 1.0).abs() < 1e-14 && (shares - 1.0).abs() < 1e-14);
        assert!(lines.iter().all(|line| line.eigenvalue > 0.0), "{lines:?}");
    }
}

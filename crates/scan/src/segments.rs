//! The straight parts of a sweep: a cyclic sweep passes one potential twice, a segment only once.

use std::ops::Range;

use crate::scan::Scan;

/// Which way a potential goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SweepDirection {
    /// To more positive potentials.
    Rising,
    /// To more negative potentials.
    Falling,
}

/// A run of points in which the potential goes one way. Neighbouring segments share their turning point.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Segment {
    /// Indices of its points.
    pub points: Range<usize>,
    /// Which way it goes.
    pub direction: SweepDirection,
}

impl Scan {
    /// The straight parts of the sweep in order of recording: one for a linear sweep, two or more for a cyclic one,
    /// none where the potential never changes. Points that repeat a potential stay in the running segment.
    ///
    /// # Example
    ///
    /// ```
    /// let text = "E/V,I/uA\n0.0,1\n0.1,2\n0.2,3\n0.1,2\n0.0,1\n";
    /// let read = stillwell_scan::read(text.as_bytes(), "cyclic.csv", &Default::default())?;
    /// let segments = read.scans[0].segments();
    /// assert_eq!((segments[0].points.clone(), segments[1].points.clone()), (0..3, 2..5));
    /// # Ok::<(), stillwell_scan::ReadError>(())
    /// ```
    pub fn segments(&self) -> Vec<Segment> {
        if let Some(direction) = self.only_direction() {
            return vec![Segment { points: 0..self.potential_v.len(), direction }];
        }
        let mut segments: Vec<Segment> = Vec::new();
        let mut start = 0;
        let mut running: Option<SweepDirection> = None;
        let steps = self.potential_v.iter().zip(self.potential_v.iter().skip(1));
        for (index, (before, after)) in steps.enumerate() {
            let direction = if after > before {
                SweepDirection::Rising
            } else if after < before {
                SweepDirection::Falling
            } else {
                continue;
            };
            if let Some(earlier) = running
                && earlier != direction
            {
                segments.push(Segment { points: start..index + 1, direction: earlier });
                start = index;
            }
            running = Some(direction);
        }
        if let Some(direction) = running {
            segments.push(Segment { points: start..self.n_points(), direction });
        }
        segments
    }

    /// The direction of a sweep that never turns: the usual case, found without a branch a point.
    fn only_direction(&self) -> Option<SweepDirection> {
        let steps = self.potential_v.iter().zip(self.potential_v.iter().skip(1));
        let (n_rising, n_falling) = steps.fold((0_usize, 0_usize), |(rising, falling), (before, after)| {
            (rising + usize::from(after > before), falling + usize::from(after < before))
        });
        match (n_rising, n_falling) {
            (1.., 0) => Some(SweepDirection::Rising),
            (0, 1..) => Some(SweepDirection::Falling),
            _ => None,
        }
    }
}

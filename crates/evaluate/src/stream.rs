//! One scan point by point, as a device records it: begin, push, finish.

use crate::evaluator::Evaluator;
use crate::refusal::Refusal;
use crate::signal::Signal;
use crate::workspace::Workspace;

/// A scan in the making.
#[derive(Debug)]
pub struct Stream<'e, 'w, 's> {
    evaluator: &'e Evaluator<'e>,
    blank_a: Option<&'e [f64]>,
    workspace: &'w mut Workspace<'s>,
    n_pushed: usize,
}

impl<'e> Evaluator<'e> {
    /// Begins a scan whose points will be pushed one by one; the signal has the bits of
    /// [`Evaluator::evaluate`].
    ///
    /// # Units
    /// A; the blank has the grid's length.
    ///
    /// # Errors
    /// [`Refusal::LengthsDiffer`].
    ///
    /// # Example
    /// ```
    /// # use stillwell_evaluate::*;
    /// # fn device(evaluator: &Evaluator<'_>, workspace: &mut Workspace<'_>, adc: &[f64]) -> Result<Signal, Refusal> {
    /// let mut stream = evaluator.begin(None, workspace)?;
    /// for current_a in adc {
    ///     stream.push(*current_a)?;
    /// }
    /// stream.finish()
    /// # }
    /// ```
    pub fn begin<'w, 's>(
        &'e self,
        blank_a: Option<&'e [f64]>,
        workspace: &'w mut Workspace<'s>,
    ) -> Result<Stream<'e, 'w, 's>, Refusal> {
        let expected = self.n_points();
        for found in [blank_a.map_or(expected, <[f64]>::len), workspace.n_points()] {
            if found != expected {
                return Err(Refusal::LengthsDiffer { expected, found });
            }
        }
        Ok(Stream { evaluator: self, blank_a, workspace, n_pushed: 0 })
    }
}

impl Stream<'_, '_, '_> {
    /// Takes the next point (A).
    ///
    /// # Errors
    /// [`Refusal::NotFinite`] at once; [`Refusal::LengthsDiffer`] for a point too many.
    ///
    /// # Example
    /// See [`Evaluator::begin`].
    pub fn push(&mut self, current_a: f64) -> Result<(), Refusal> {
        let index = self.n_pushed;
        let expected = self.evaluator.n_points();
        let Some(place) = self.workspace.raw.get_mut(index) else {
            return Err(Refusal::LengthsDiffer { expected, found: index + 1 });
        };
        let blank_a = self.blank_a.and_then(|blank| blank.get(index)).copied().unwrap_or(0.0);
        if !(current_a - blank_a).is_finite() {
            return Err(Refusal::NotFinite { index });
        }
        *place = current_a;
        self.n_pushed += 1;
        Ok(())
    }

    /// Evaluates the finished scan.
    ///
    /// # Errors
    /// [`Refusal::LengthsDiffer`] when points are missing, else as [`Evaluator::evaluate`].
    ///
    /// # Example
    /// See [`Evaluator::begin`].
    pub fn finish(self) -> Result<Signal, Refusal> {
        let Workspace { raw, subtracted, smoothed, baseline, corrected, scratch } = self.workspace;
        let expected = self.evaluator.n_points();
        if self.n_pushed != expected {
            return Err(Refusal::LengthsDiffer { expected, found: self.n_pushed });
        }
        let mut rest = Workspace { raw: &mut [], subtracted, smoothed, baseline, corrected, scratch };
        self.evaluator.evaluate_checked(raw, self.blank_a, &mut rest)
    }
}

//! The three-way decision of an interval against a limit.

/// What an interval says about a limit, as a code; the wording is made elsewhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum VerdictCode {
    /// The whole interval is at or below the limit.
    Below,
    /// The whole interval is above the limit.
    Above,
    /// The limit lies inside the interval.
    TooCloseToCall,
    /// The numbers do not form an interval and a limit: nothing was decided.
    NotDecidable,
}

/// Guarded decision: below, above, or too close to call.
///
/// `high <= limit` is below, `low > limit` is above, anything else too close to call: the interval itself is the guard band on both
/// sides. A level equal to the limit meets it, as limits are worded "not more than". The lower end may be `-∞` and the upper end
/// `+∞` (open intervals); a NaN, a limit that is not finite, or ends out of order give [`VerdictCode::NotDecidable`], never
/// [`VerdictCode::Below`].
///
/// # Units
/// All three in the same unit and species; the caller has converted.
///
/// # Source
/// JCGM 106:2012, clause 8.3 (guarded acceptance and guarded rejection, here used together); ILAC-G8:09/2019, clause 4.2.3
/// (non-binary statement with guard band); from memory.
///
/// # Example
/// ```
/// use stillwell_evaluate::{VerdictCode, verdict};
/// assert_eq!(verdict(41.0, 50.0, 50.0), VerdictCode::Below);
/// assert_eq!(verdict(50.0, 55.0, 50.0), VerdictCode::TooCloseToCall);
/// assert_eq!(verdict(50.1, f64::INFINITY, 50.0), VerdictCode::Above);
/// assert_eq!(verdict(f64::NAN, 1.0, 50.0), VerdictCode::NotDecidable);
/// ```
pub fn verdict(low: f64, high: f64, limit: f64) -> VerdictCode {
    let in_order = low <= high;
    if !in_order || !limit.is_finite() || low == f64::INFINITY || high == f64::NEG_INFINITY {
        VerdictCode::NotDecidable
    } else if high <= limit {
        VerdictCode::Below
    } else if low > limit {
        VerdictCode::Above
    } else {
        VerdictCode::TooCloseToCall
    }
}

//! The three-way decision, its edges, and what is not decidable.

use proptest::prelude::{any, prop_assert, prop_assert_eq, proptest};
use stillwell_evaluate::{VerdictCode, verdict};

#[test]
fn equality_meets_the_limit() {
    assert_eq!(verdict(40.0, 50.0, 50.0), VerdictCode::Below);
    assert_eq!(verdict(40.0, 50.0_f64.next_up(), 50.0), VerdictCode::TooCloseToCall);
    assert_eq!(verdict(50.0, 60.0, 50.0), VerdictCode::TooCloseToCall);
    assert_eq!(verdict(50.0_f64.next_up(), 60.0, 50.0), VerdictCode::Above);
    assert_eq!(verdict(50.0, 50.0, 50.0), VerdictCode::Below);
}

#[test]
fn open_intervals_decide_on_their_closed_side() {
    assert_eq!(verdict(51.0, f64::INFINITY, 50.0), VerdictCode::Above);
    assert_eq!(verdict(49.0, f64::INFINITY, 50.0), VerdictCode::TooCloseToCall);
    assert_eq!(verdict(f64::NEG_INFINITY, 3.0, 50.0), VerdictCode::Below);
}

#[test]
fn what_is_no_interval_is_not_decided() {
    for (low, high, limit) in [
        (f64::NAN, 1.0, 50.0),
        (0.0, f64::NAN, 50.0),
        (0.0, 1.0, f64::NAN),
        (0.0, 1.0, f64::INFINITY),
        (2.0, 1.0, 50.0),
        (f64::INFINITY, f64::INFINITY, 50.0),
        (f64::NEG_INFINITY, f64::NEG_INFINITY, 50.0),
    ] {
        assert_eq!(verdict(low, high, limit), VerdictCode::NotDecidable, "{low} {high} {limit}");
    }
}

proptest! {
    #[test]
    fn any_bits_give_a_code_that_can_be_defended(low: u64, high: u64, limit in any::<u64>()) {
        let (low, high, limit) = (f64::from_bits(low), f64::from_bits(high), f64::from_bits(limit));
        match verdict(low, high, limit) {
            VerdictCode::Below => prop_assert!(low <= high && high <= limit),
            VerdictCode::Above => prop_assert!(limit < low && low <= high),
            VerdictCode::TooCloseToCall => prop_assert!(low <= limit && limit < high),
            VerdictCode::NotDecidable => prop_assert!(
                low.is_nan() || high.is_nan() || !limit.is_finite() || low > high || (low.is_infinite() && low.to_bits() == high.to_bits())
            ),
        }
    }

    #[test]
    fn a_wider_interval_never_turns_one_verdict_into_the_other(
        low in -10.0..100.0, width in 0.0..50.0, more in 0.0..50.0, limit in 0.0..100.0
    ) {
        let narrow = verdict(low, low + width, limit);
        let wide = verdict(low - more, low + width + more, limit);
        prop_assert!(wide == narrow || wide == VerdictCode::TooCloseToCall);
        prop_assert_eq!(wide == VerdictCode::NotDecidable, false);
    }
}

//! The clock that dates records. It arrives as an argument, so that a test can set it back.

use std::fmt;
use std::sync::Arc;

use jiff::Timestamp;

/// Where the time comes from.
#[derive(Clone)]
pub struct Clock(Arc<dyn Fn() -> Timestamp + Send + Sync>);

impl Clock {
    /// The computer's clock.
    pub fn system() -> Self {
        Self::of(Timestamp::now)
    }

    /// Any other source of time.
    pub fn of(now: impl Fn() -> Timestamp + Send + Sync + 'static) -> Self {
        Self(Arc::new(now))
    }

    /// The time, to the microsecond.
    pub fn now(&self) -> Timestamp {
        let now = (self.0)();
        Timestamp::from_microsecond(now.as_microsecond()).unwrap_or(now)
    }
}

impl fmt::Debug for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Clock")
    }
}

/// `2026-05-12T08:30:00.000000Z`: one width, so that text sorts as time.
pub(crate) fn stamp(time: Timestamp) -> String {
    format!("{time:.6}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stamps_have_one_width() {
        let time: Timestamp = "2026-05-12T08:30:00Z".parse().unwrap();
        assert_eq!(stamp(time), "2026-05-12T08:30:00.000000Z");
        assert_eq!(stamp(time).parse::<Timestamp>().unwrap(), time);
    }
}

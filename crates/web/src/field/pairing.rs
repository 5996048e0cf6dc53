//! A code for one phone: printed in the terminal, good once and for ten minutes, and not to be guessed.
//!
//! Tries are counted for all devices together: behind one proxy they all look the same.

/// How long a code is good, ms.
const GOOD_MS: i64 = 10 * 60_000;
/// Wrong tries that are answered in one minute.
const WRONG_PER_MINUTE: usize = 5;
/// Wrong tries after which a code is void.
const WRONG_PER_CODE: u32 = 10;
/// Nothing that is taken for another: no 0 and O, no 1 and I.
const ALPHABET: &[u8; 32] = b"23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
/// 32 to the power of 8 codes: ten tries find one in a hundred thousand million.
const LENGTH: usize = 8;

/// The code that is open, and the wrong tries of the last minute.
#[derive(Debug, Default)]
pub(super) struct Pairing {
    open: Option<Open>,
    wrong_ms: Vec<i64>,
}

struct Open {
    code: String,
    until_ms: i64,
    wrong: u32,
}

impl std::fmt::Debug for Open {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "a code until {}", self.until_ms)
    }
}

/// What became of a try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tried {
    /// It was the code, which is used up now.
    Right,
    /// It was not.
    Wrong,
    /// It was not even looked at: too many wrong ones before.
    TooMany,
    /// No code is open.
    NoneOpen,
}

impl Pairing {
    /// Opens a new code; one that was open is void.
    pub(super) fn offer(&mut self, now_ms: i64, random: [u8; LENGTH]) -> String {
        let letter =
            |byte: u8| ALPHABET.get(usize::from(byte % 32)).map_or('2', |letter| char::from(*letter));
        let code: String = random.into_iter().map(letter).collect();
        self.open = Some(Open { code: code.clone(), until_ms: now_ms + GOOD_MS, wrong: 0 });
        let (one, other) = code.split_at(LENGTH / 2);
        format!("{one}-{other}")
    }

    /// Somebody tries a code.
    pub(super) fn attempt(&mut self, given: &str, now_ms: i64) -> Tried {
        self.wrong_ms.retain(|wrong| (0..60_000).contains(&(now_ms - wrong)));
        if self.wrong_ms.len() >= WRONG_PER_MINUTE {
            return Tried::TooMany;
        }
        let Some(open) = self.open.as_mut().filter(|open| now_ms <= open.until_ms) else {
            self.open = None;
            self.wrong_ms.push(now_ms);
            return Tried::NoneOpen;
        };
        let given: String =
            given.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_uppercase()).collect();
        // Compared by their hashes, so that the time it takes tells nothing.
        if blake3::hash(given.as_bytes()) == blake3::hash(open.code.as_bytes()) {
            self.open = None;
            return Tried::Right;
        }
        self.wrong_ms.push(now_ms);
        open.wrong += 1;
        if open.wrong >= WRONG_PER_CODE {
            self.open = None;
        }
        Tried::Wrong
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_good_once_and_for_ten_minutes() {
        let mut pairing = Pairing::default();
        let code = pairing.offer(0, [1, 2, 3, 4, 5, 6, 7, 255]);
        assert_eq!(code, "3456-789Z");
        assert_eq!(pairing.attempt("3456 789z", GOOD_MS), Tried::Right);
        assert_eq!(pairing.attempt(&code, GOOD_MS), Tried::NoneOpen);
        let code = pairing.offer(0, [9; 8]);
        assert_eq!(pairing.attempt(&code, GOOD_MS + 1), Tried::NoneOpen);
    }

    #[test]
    fn five_wrong_tries_a_minute_and_ten_a_code() {
        let mut pairing = Pairing::default();
        let code = pairing.offer(0, [9; 8]);
        for now in 0..5 {
            assert_eq!(pairing.attempt("guess", now), Tried::Wrong);
        }
        assert_eq!(pairing.attempt(&code, 5), Tried::TooMany, "not even the right one");
        for now in 0..5 {
            assert_eq!(pairing.attempt("guess", 61_000 + now), Tried::Wrong);
        }
        assert_eq!(pairing.attempt(&code, 200_000), Tried::NoneOpen, "ten wrong tries make it void");
    }
}

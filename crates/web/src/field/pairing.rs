//! A code for one phone: printed in the terminal, good once and for ten minutes, and not to be guessed.
//!
//! Wrong tries are counted for each address they come from, so that a stranger locks out nobody but himself, and for all together,
//! so that many addresses do not make many guesses.

use std::net::{IpAddr, Ipv6Addr};

/// How long a code is good, ms.
const GOOD_MS: i64 = 10 * 60_000;
/// Wrong tries from one address that are answered in one minute.
const WRONG_PER_MINUTE: usize = 5;
/// Wrong tries from all addresses together that are answered in one minute: 600 while a code is good.
const WRONG_OF_ALL_PER_MINUTE: usize = 60;
/// Nothing that is taken for another: no 0 and O, no 1 and I.
const ALPHABET: &[u8; 32] = b"23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
/// 32 to the power of 8 codes: 600 tries find one in a thousand million and more.
const LENGTH: usize = 8;

/// Where a try comes from: an address, or the network of one household where those are handed out by the million.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Peer(IpAddr);

impl Peer {
    /// Who asks at this address. A proxy of this computer says in `forwarded` for whom it asks: the last address is its own word,
    /// those before it anybody's.
    pub(super) fn of(address: IpAddr, forwarded: Option<&str>) -> Self {
        let named =
            forwarded.and_then(|all| all.rsplit(',').next()).and_then(|last| last.trim().parse().ok());
        let address = if address.to_canonical().is_loopback() { named.unwrap_or(address) } else { address };
        Self(match address.to_canonical() {
            IpAddr::V6(one) => {
                let [a, b, c, d, ..] = one.segments();
                IpAddr::V6(Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0))
            }
            four @ IpAddr::V4(_) => four,
        })
    }
}

/// The code that is open, and the wrong tries of the last minute.
#[derive(Debug, Default)]
pub(super) struct Pairing {
    open: Option<Open>,
    wrong: Vec<(Peer, i64)>,
}

struct Open {
    code: String,
    until_ms: i64,
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
        self.open = Some(Open { code: code.clone(), until_ms: now_ms + GOOD_MS });
        let (one, other) = code.split_at(LENGTH / 2);
        format!("{one}-{other}")
    }

    /// Somebody tries a code.
    pub(super) fn attempt(&mut self, given: &str, peer: Peer, now_ms: i64) -> Tried {
        self.wrong.retain(|(_, wrong_ms)| (0..60_000).contains(&(now_ms - wrong_ms)));
        let n_own = self.wrong.iter().filter(|(from, _)| *from == peer).count();
        if n_own >= WRONG_PER_MINUTE || self.wrong.len() >= WRONG_OF_ALL_PER_MINUTE {
            return Tried::TooMany;
        }
        let Some(open) = self.open.as_ref().filter(|open| now_ms <= open.until_ms) else {
            self.open = None;
            self.wrong.push((peer, now_ms));
            return Tried::NoneOpen;
        };
        let given: String =
            given.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_uppercase()).collect();
        // Compared by their hashes, so that the time it takes tells nothing.
        if blake3::hash(given.as_bytes()) == blake3::hash(open.code.as_bytes()) {
            self.open = None;
            return Tried::Right;
        }
        self.wrong.push((peer, now_ms));
        Tried::Wrong
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn peer(last: u8) -> Peer {
        Peer::of(IpAddr::from([192, 0, 2, last]), None)
    }

    #[test]
    fn a_code_is_good_once_and_for_ten_minutes() {
        let mut pairing = Pairing::default();
        let code = pairing.offer(0, [1, 2, 3, 4, 5, 6, 7, 255]);
        assert_eq!(code, "3456-789Z");
        assert_eq!(pairing.attempt("3456 789z", peer(1), GOOD_MS), Tried::Right);
        assert_eq!(pairing.attempt(&code, peer(1), GOOD_MS), Tried::NoneOpen);
        let code = pairing.offer(0, [9; 8]);
        assert_eq!(pairing.attempt(&code, peer(1), GOOD_MS + 1), Tried::NoneOpen);
    }

    #[test]
    fn a_stranger_locks_out_nobody_but_himself() {
        let mut pairing = Pairing::default();
        let code = pairing.offer(0, [9; 8]);
        for minute in 0..9 {
            for now in 0..5 {
                assert_eq!(pairing.attempt("guess", peer(7), 60_000 * minute + now), Tried::Wrong);
            }
            assert_eq!(
                pairing.attempt(&code, peer(7), 60_000 * minute + 6),
                Tried::TooMany,
                "not even the right one"
            );
        }
        assert_eq!(pairing.attempt(&code, peer(8), 60_000 * 9), Tried::Right);
    }

    #[test]
    fn all_addresses_together_have_sixty_tries_a_minute() {
        let mut pairing = Pairing::default();
        let code = pairing.offer(0, [9; 8]);
        let tried = (0..100).map(|n| pairing.attempt("guess", peer(n), 0));
        assert_eq!(tried.filter(|tried| *tried == Tried::Wrong).count(), WRONG_OF_ALL_PER_MINUTE);
        assert_eq!(pairing.attempt(&code, peer(200), 1), Tried::TooMany);
        assert_eq!(pairing.attempt(&code, peer(200), 60_000), Tried::Right, "the code outlives it");
    }

    #[test]
    fn who_asks_behind_a_proxy_of_this_computer() {
        let of = |address: &str, forwarded: Option<&str>| Peer::of(address.parse().unwrap(), forwarded);
        assert_eq!(of("127.0.0.1", Some("198.51.100.9, 192.0.2.4")), of("192.0.2.4", None));
        assert_eq!(of("127.0.0.1", Some("who knows")), of("127.0.0.1", None));
        assert_eq!(of("::1", Some("192.0.2.4")), of("192.0.2.4", None));
        assert_eq!(of("192.0.2.4", Some("192.0.2.5")), of("192.0.2.4", None), "others' word is not taken");
        assert_eq!(of("2001:db8:1:2::3", None), of("2001:db8:1:2:ffff::9", None), "one household");
        assert_ne!(of("2001:db8:1:2::3", None), of("2001:db8:1:3::3", None));
        assert_eq!(of("::ffff:192.0.2.4", None), of("192.0.2.4", None));
    }
}

//! Paired phones: a file beside the study that holds a hash of each phone's token, so that a pairing outlives the server and who
//! steals the file has no phone.
//!
//! A phone that is paired again keeps its name, and with it the runs that it has open: it shows its old token, whose hash is kept.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use serde::{Deserialize, Serialize};

use crate::error::ServeError;

/// How long a pairing holds, ms.
pub(super) const PAIRED_MS: i64 = 30 * 24 * 3_600_000;
/// Phones that are remembered; the oldest are forgotten.
const MOST: usize = 200;

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Phone {
    device: String,
    token_blake3: String,
    campaign: String,
    until_ms: i64,
}

/// Every phone that was paired with a study.
#[derive(Debug)]
pub(super) struct Phones {
    path: PathBuf,
    known: Mutex<Vec<Phone>>,
}

impl Phones {
    /// Those of a study. A file that cannot be read pairs nobody.
    pub(super) fn beside(study: &Path) -> Self {
        let mut path = study.as_os_str().to_owned();
        path.push(".phones");
        let path = PathBuf::from(path);
        let known = std::fs::read(&path).ok().and_then(|bytes| serde_json::from_slice(&bytes).ok());
        Self { path, known: Mutex::new(known.unwrap_or_default()) }
    }

    fn known(&self) -> MutexGuard<'_, Vec<Phone>> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The device of a token, if it is paired for this campaign.
    pub(super) fn of_token(&self, token: &str, campaign: &str, now_ms: i64) -> Option<String> {
        let hash = hash(token);
        let known = self.known();
        let is_it = |phone: &&Phone| {
            phone.token_blake3 == hash && phone.campaign == campaign && now_ms <= phone.until_ms
        };
        known.iter().find(is_it).map(|phone| phone.device.clone())
    }

    /// Pairs a phone and gives its token. `old` is the token that it showed, if it had one.
    ///
    /// # Errors
    /// No randomness, or a file that cannot be written.
    pub(super) fn pair(&self, old: Option<&str>, campaign: &str, now_ms: i64) -> Result<String, ServeError> {
        let (token, name) = (drawn()?, drawn()?);
        let mut known = self.known();
        let mut all = known.clone();
        let old = old.map(hash).and_then(|old| all.iter().position(|phone| phone.token_blake3 == old));
        let device = match old {
            Some(place) => all.remove(place).device,
            None => format!("phone {}", name.chars().take(8).collect::<String>()),
        };
        let (campaign, until_ms) = (campaign.to_owned(), now_ms.saturating_add(PAIRED_MS));
        all.push(Phone { device, token_blake3: hash(&token), campaign, until_ms });
        let too_many = all.len().saturating_sub(MOST);
        all.drain(..too_many);
        self.keep(&all).map_err(|error| ServeError::System { found: error.to_string() })?;
        *known = all;
        Ok(token)
    }

    /// Written whole beside the old one, then put in its place.
    fn keep(&self, all: &[Phone]) -> std::io::Result<()> {
        let mut beside = self.path.as_os_str().to_owned();
        beside.push(".new");
        let beside = PathBuf::from(beside);
        let mut options = std::fs::OpenOptions::new();
        options.write(true).create(true).truncate(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = options.open(&beside)?;
        file.write_all(&serde_json::to_vec_pretty(all)?)?;
        file.sync_all()?;
        std::fs::rename(&beside, &self.path)
    }
}

fn hash(token: &str) -> String {
    blake3::hash(token.as_bytes()).to_hex().to_string()
}

/// 32 random bytes as digits.
pub(super) fn drawn() -> Result<String, ServeError> {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes).map_err(|error| ServeError::System { found: error.to_string() })?;
    Ok(blake3::hash(&bytes).to_hex().to_string())
}

//! What the pages of the field share: the study's file, one campaign, the addresses they answer to, the phones.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use stillwell_field::{Field, FieldError, Language, Texts};
use stillwell_study::{Clock, Study};
use tokio::sync::Semaphore;

use super::pairing::{Pairing, Peer, Tried};
use super::phones::Phones;
use super::picture::{self, NoCode};
use super::trouble::Trouble;
use crate::error::ServeError;

/// How long a photo may wait for its turn and be read.
const PICTURE_TIME: Duration = Duration::from_secs(20);

/// A study's campaign, served to phones.
#[derive(Clone)]
pub struct FieldSite(Arc<Inside>);

struct Inside {
    study: PathBuf,
    campaign: String,
    origins: Vec<String>,
    clock: Clock,
    pairing: Mutex<Pairing>,
    phones: Phones,
    pictures: Arc<Semaphore>,
    english: Texts,
    german: Texts,
}

impl std::fmt::Debug for FieldSite {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "field site of {}", self.0.study.display())
    }
}

impl FieldSite {
    /// One campaign of a study, by its number or its record's hash; the last one recorded where none is named. `origins` are the
    /// addresses that phones may ask for, such as `https://wells.example`.
    ///
    /// # Errors
    /// A file that is no study, no such campaign, or an address that is no origin.
    pub fn new(
        study: &Path,
        campaign: Option<&str>,
        origins: Vec<String>,
        clock: Clock,
    ) -> Result<Self, ServeError> {
        for origin in &origins {
            let host = origin.strip_prefix("http://").or_else(|| origin.strip_prefix("https://"));
            let is_host =
                |host: &str| !host.is_empty() && host.bytes().all(|b| b.is_ascii_graphic() && b != b'/');
            if !host.is_some_and(is_host) {
                return Err(ServeError::Host { found: origin.clone() });
            }
        }
        let opened = Study::open_to_read(study)?;
        let campaign = match campaign {
            Some(name) => opened.campaign(name)?.record.hash,
            None => opened.campaigns()?.last().ok_or(ServeError::NoCampaign)?.record.hash,
        };
        let campaign = campaign.to_string();
        Field::open(&opened, &campaign)?;
        Ok(Self(Arc::new(Inside {
            study: study.to_owned(),
            campaign,
            origins,
            clock,
            pairing: Mutex::default(),
            phones: Phones::beside(study),
            pictures: Arc::new(Semaphore::new(1)),
            english: Texts::of(Language::English)?,
            german: Texts::of(Language::German)?,
        })))
    }

    /// Opens a code for one phone; the code before is void.
    ///
    /// # Errors
    /// No randomness.
    pub fn new_code(&self) -> Result<String, ServeError> {
        let mut random = [0_u8; 8];
        getrandom::fill(&mut random).map_err(|error| ServeError::System { found: error.to_string() })?;
        let mut pairing = self.0.pairing.lock().unwrap_or_else(PoisonError::into_inner);
        Ok(pairing.offer(self.now_ms(), random))
    }

    /// The address that a phone opens with a code already filled in.
    pub fn address(&self, code: &str) -> String {
        let origin = self.0.origins.first().map_or("", String::as_str);
        format!("{origin}/field/pair?code={code}")
    }

    /// Closes the runs that nobody went on with.
    ///
    /// # Errors
    /// A study that cannot be written.
    pub fn close_overdue(&self) -> Result<usize, ServeError> {
        let mut study = Study::open(&self.0.study, self.0.clock.clone())?;
        let field = Field::open(&study, &self.0.campaign)?;
        Ok(field.close_overdue(&mut study, self.now_ms())?.len())
    }

    pub(super) fn attempt(&self, code: &str, peer: Peer) -> Tried {
        let mut pairing = self.0.pairing.lock().unwrap_or_else(PoisonError::into_inner);
        pairing.attempt(code, peer, self.now_ms())
    }

    /// Today, as the campaign's days are written.
    pub(super) fn today(&self) -> String {
        self.0.clock.now().strftime("%Y-%m-%d").to_string()
    }

    pub(super) fn now_ms(&self) -> i64 {
        self.0.clock.now().as_millisecond()
    }

    pub(super) fn origins(&self) -> &[String] {
        &self.0.origins
    }

    pub(super) fn phones(&self) -> &Phones {
        &self.0.phones
    }

    pub(super) fn campaign(&self) -> &str {
        &self.0.campaign
    }

    pub(super) fn texts(&self, language: Language) -> &Texts {
        match language {
            Language::English => &self.0.english,
            Language::German => &self.0.german,
        }
    }

    /// The cookie's name: two campaigns on one computer share their cookies, whatever their ports.
    pub(super) fn cookie_name(&self) -> String {
        format!("stillwell-phone-{}", self.0.campaign.chars().take(8).collect::<String>())
    }

    /// Reads the codes of a photo, away from the threads that answer, and one photo at a time: each takes its memory.
    pub(super) async fn read_picture(&self, photo: Vec<u8>) -> Result<Result<Vec<String>, NoCode>, Trouble> {
        let turn = self.0.pictures.clone();
        let reading = async {
            let turn = turn.acquire_owned().await.map_err(|_closed| Trouble::Busy)?;
            let read = tokio::task::spawn_blocking(move || {
                // Held until it is read, even where nobody waits for it any more.
                let _turn = turn;
                picture::read(&photo)
            });
            read.await.map_err(|_ended| Trouble::Busy)
        };
        tokio::time::timeout(PICTURE_TIME, reading).await.map_err(|_late| Trouble::Busy)?
    }

    /// Does something with the study and the campaign, away from the threads that answer.
    pub(super) async fn with_study<T: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Study, &Field) -> Result<T, FieldError> + Send + 'static,
    ) -> Result<T, Trouble> {
        let site = self.clone();
        let worked = tokio::task::spawn_blocking(move || {
            let mut study = Study::open(&site.0.study, site.0.clock.clone())?;
            let field = Field::open(&study, &site.0.campaign)?;
            work(&mut study, &field)
        });
        match worked.await {
            Ok(done) => done.map_err(|error| Trouble::of_error(&error)),
            Err(_ended) => Err(Trouble::Busy),
        }
    }
}

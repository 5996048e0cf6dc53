//! What all pages share: the study's file, the secrets of this launch, and what was computed already.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use stillwell_study::{Study, StudyError};

use crate::error::ServeError;
use crate::guard::Visitor;
use crate::intake::{Desk, Readings};
use crate::jobs::Jobs;
use crate::layout::Refusal;
use crate::placing::{Proposals, Trials};
use crate::quality::Judgements;
use crate::view::{Kept, View};

/// The study that is served, and the launch that serves it.
#[derive(Clone)]
pub struct Site(Arc<Inside>);

struct Inside {
    study: PathBuf,
    hosts: Vec<String>,
    launch: Launch,
    key: Option<PathBuf>,
    kept: Kept,
    judged: Judgements,
    trials: Trials,
    proposals: Proposals,
    jobs: Jobs,
    desk: Desk,
    readings: Readings,
}

impl Site {
    /// A study at an address. `key` is the key file of whoever serves it: with it, this person can sign from the page.
    ///
    /// # Errors
    /// A file that is no study, an address that other computers reach, or no randomness.
    pub fn new(study: &Path, address: SocketAddr, key: Option<PathBuf>) -> Result<Self, ServeError> {
        if !address.ip().is_loopback() {
            return Err(ServeError::NotLoopback { found: address });
        }
        Study::open_to_read(study)?;
        let hosts = vec![address.to_string(), format!("localhost:{}", address.port())];
        let launch = Launch::new()?;
        Ok(Self(Arc::new(Inside {
            study: study.to_owned(),
            hosts,
            launch,
            key,
            kept: Kept::default(),
            judged: Judgements::default(),
            trials: Trials::default(),
            proposals: Proposals::default(),
            jobs: Jobs::default(),
            desk: Desk::beside(study),
            readings: Readings::default(),
        })))
    }

    /// The address that leads in, with the launch's token.
    pub fn address(&self) -> String {
        let host = self.0.hosts.first().map_or("", String::as_str);
        format!("http://{host}/enter?token={}", self.0.launch.token())
    }

    /// The secrets of this launch.
    pub fn launch(&self) -> &Launch {
        &self.0.launch
    }

    pub(crate) fn hosts(&self) -> &[String] {
        &self.0.hosts
    }

    pub(crate) fn key(&self) -> Option<&Path> {
        self.0.key.as_deref()
    }

    pub(crate) fn study_path(&self) -> &Path {
        &self.0.study
    }

    pub(crate) fn kept(&self) -> &Kept {
        &self.0.kept
    }

    /// What was found of quality over time.
    pub(crate) fn judged(&self) -> &Judgements {
        &self.0.judged
    }

    pub(crate) fn trials(&self) -> &Trials {
        &self.0.trials
    }

    pub(crate) fn proposals(&self) -> &Proposals {
        &self.0.proposals
    }

    /// Files that wait to be taken in.
    pub(crate) fn desk(&self) -> &Desk {
        &self.0.desk
    }

    pub(crate) fn readings(&self) -> &Readings {
        &self.0.readings
    }

    /// Long work of this launch.
    pub(crate) fn jobs(&self) -> &Jobs {
        &self.0.jobs
    }

    /// Looks at the study as it is now, away from the threads that answer.
    pub(crate) async fn look<T: Send + 'static>(
        &self,
        visitor: Visitor,
        look: impl FnOnce(&View) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let site = self.clone();
        apart(move || look(&View::new(site, visitor)?)).await
    }

    /// Does something to the study under its own lock.
    pub(crate) async fn act<T: Send + 'static>(
        &self,
        act: impl FnOnce(&mut Study) -> Result<T, StudyError> + Send + 'static,
    ) -> Result<T, Refusal> {
        let site = self.clone();
        apart(move || Ok(act(&mut Study::open_now(site.study_path())?)?)).await
    }
}

/// Reading a study blocks; the threads that answer must not.
pub(crate) async fn apart<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Refusal> + Send + 'static,
) -> Result<T, Refusal> {
    tokio::task::spawn_blocking(work)
        .await
        .unwrap_or_else(|_ended| Err(Refusal::failed("the work ended without an answer")))
}

/// The secrets of one launch: gone with the process.
pub struct Launch {
    secret: [u8; 32],
}

impl Launch {
    fn new() -> Result<Self, ServeError> {
        let mut secret = [0_u8; 32];
        getrandom::fill(&mut secret).map_err(|error| ServeError::System { found: error.to_string() })?;
        Ok(Self { secret })
    }

    /// What the printed address holds.
    pub fn token(&self) -> String {
        self.derived("token", "")
    }

    /// What the cookie holds.
    pub fn session(&self) -> String {
        self.derived("session", "")
    }

    /// The cookie's name: two servers on one computer share their cookies, whatever their ports.
    pub fn cookie_name(&self) -> String {
        let name: String = self.derived("cookie", "").chars().take(8).collect();
        format!("stillwell-{name}")
    }

    /// What a form holds that is sent to `path`.
    pub fn form_token(&self, path: &str) -> String {
        self.derived("form", path)
    }

    pub(crate) fn is_token(&self, given: &str) -> bool {
        self.is_same(given, &self.token())
    }

    pub(crate) fn is_session(&self, given: &str) -> bool {
        self.is_same(given, &self.session())
    }

    pub(crate) fn is_form_token(&self, path: &str, given: &str) -> bool {
        self.is_same(given, &self.form_token(path))
    }

    fn derived(&self, purpose: &str, about: &str) -> String {
        let message = format!("stillwell page {purpose}\n{about}");
        blake3::keyed_hash(&self.secret, message.as_bytes()).to_hex().chars().take(43).collect()
    }

    /// Compared by their hashes, so that the time it takes tells nothing.
    fn is_same(&self, given: &str, own: &str) -> bool {
        blake3::keyed_hash(&self.secret, given.as_bytes()) == blake3::keyed_hash(&self.secret, own.as_bytes())
    }
}

impl std::fmt::Debug for Launch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("the secrets of a launch")
    }
}

impl std::fmt::Debug for Site {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "site of {}", self.0.study.display())
    }
}

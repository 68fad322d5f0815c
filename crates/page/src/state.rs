//! What all requests share: the journal, the results of this start, the token.

use crate::Scorer;
use crate::error::PageError;
use crate::jobs::Jobs;
use crate::options::Options;
use crate::trouble::Trouble;
use crate::work::{blocking, lock};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::SystemTime;
use takegauge_drill::Drill;
use takegauge_journal::Journal;
use tokio::sync::Semaphore;

/// Drill files that may be sent in one start; the oldest go first.
const OWN_DRILLS: usize = 50;

/// Recordings whose hash was taken, with size and time at that moment.
pub(crate) type Checked = BTreeMap<PathBuf, (u64, Option<SystemTime>, String)>;

pub(crate) struct App {
    hosts: [String; 2],
    token: String,
    /// Stands in the printed address.
    key: String,
    /// What the key is traded for at the first visit.
    cookie: String,
    cookie_name: String,
    pub(crate) upload_limit: u64,
    pub(crate) player: Option<String>,
    journal_file: Option<PathBuf>,
    /// To read with, and to write with: a writer that waits for another program holds up no reader.
    journal: Mutex<Option<Journal>>,
    writer: Mutex<Option<Journal>>,
    own_drills: Mutex<BTreeMap<u64, Drill>>,
    pub(crate) jobs: Arc<Jobs>,
    pub(crate) sounds: Mutex<Checked>,
    pub(crate) scorer: Arc<dyn Scorer>,
    /// Clicks that are made at a time.
    pub(crate) making: Semaphore,
}

impl std::fmt::Debug for App {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // The token does not belong into any log.
        f.debug_struct("App").field("hosts", &self.hosts).field("journal", &self.journal_file).finish_non_exhaustive()
    }
}

/// 256 bits that nobody can guess, in hexadecimal.
fn secret() -> Result<String, PageError> {
    let mut random = [0u8; 32];
    getrandom::fill(&mut random).map_err(|e| PageError::Start(e.to_string()))?;
    Ok(random.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    }))
}

/// Compares in a time that does not depend on where the first difference is.
fn same(own: &[u8], given: &[u8]) -> bool {
    own.len() == given.len() && own.iter().zip(given).fold(0, |differs, (a, b)| differs | (a ^ b)) == 0
}

impl App {
    pub(crate) fn new(options: &Options, port: u16, scorer: Arc<dyn Scorer>) -> Result<Self, PageError> {
        let there = options.journal.as_deref().filter(|p| p.is_file());
        let journal = there.map(Journal::open).transpose()?;
        Ok(Self {
            hosts: [format!("127.0.0.1:{port}"), format!("localhost:{port}")],
            token: secret()?,
            key: secret()?,
            cookie: secret()?,
            // Cookies know no ports: another page on this machine must not overwrite it.
            cookie_name: format!("takegauge-{port}"),
            upload_limit: options.upload_limit,
            player: options.player.clone(),
            journal_file: options.journal.clone(),
            journal: Mutex::new(journal),
            writer: Mutex::default(),
            own_drills: Mutex::default(),
            jobs: Arc::new(Jobs::new(Arc::clone(&scorer))?),
            scorer,
            making: Semaphore::new(2),
            sounds: Mutex::default(),
        })
    }

    pub(crate) fn is_own_host(&self, host: &str) -> bool {
        self.hosts.iter().any(|own| own.eq_ignore_ascii_case(host))
    }

    pub(crate) fn token(&self) -> &str {
        &self.token
    }

    /// The key of the printed address.
    pub(crate) fn key(&self) -> &str {
        &self.key
    }

    pub(crate) fn is_key(&self, given: &[u8]) -> bool {
        same(self.key.as_bytes(), given)
    }

    pub(crate) fn is_token(&self, given: &[u8]) -> bool {
        same(self.token.as_bytes(), given)
    }

    /// Whether a Cookie header (RFC 6265, section 4.2) carries this start's cookie.
    pub(crate) fn has_cookie(&self, header: &str) -> bool {
        header
            .split(';')
            .filter_map(|pair| pair.trim().split_once('='))
            .any(|(name, value)| name == self.cookie_name && same(self.cookie.as_bytes(), value.as_bytes()))
    }

    /// The header that gives it.
    pub(crate) fn set_cookie(&self) -> String {
        format!("{}={}; Path=/; HttpOnly; SameSite=Strict", self.cookie_name, self.cookie)
    }

    /// Whether a journal is named at all.
    pub(crate) fn may_keep(&self) -> bool {
        self.journal_file.is_some()
    }

    /// Where kept recordings go: beside the journal.
    pub(crate) fn recordings(&self) -> Option<PathBuf> {
        let journal = std::path::absolute(self.journal_file.as_deref()?).ok()?;
        Some(journal.parent()?.join("recordings"))
    }

    /// Reads the journal, on a thread that may wait for the disk. `None` where there is no journal yet.
    pub(crate) async fn journal<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&mut Journal) -> Result<T, Trouble> + Send + 'static,
    ) -> Result<Option<T>, Trouble> {
        let app = Arc::clone(self);
        blocking(move || app.with(&app.journal, false, work)).await
    }

    /// Changes the journal; `None` where there is none yet.
    pub(crate) async fn change<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&mut Journal) -> Result<T, Trouble> + Send + 'static,
    ) -> Result<Option<T>, Trouble> {
        let app = Arc::clone(self);
        blocking(move || app.with(&app.writer, false, work)).await
    }

    /// The same, where a journal that is not there yet is made.
    pub(crate) async fn journal_or_new<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&mut Journal) -> Result<T, Trouble> + Send + 'static,
    ) -> Result<T, Trouble> {
        let app = Arc::clone(self);
        blocking(move || app.with(&app.writer, true, work)?.ok_or_else(no_journal)).await
    }

    /// Works on one of the two connections, opened if need be: at first, and where the file behind the name has become
    /// another one.
    fn with<T>(
        &self,
        which: &Mutex<Option<Journal>>,
        make: bool,
        work: impl FnOnce(&mut Journal) -> Result<T, Trouble>,
    ) -> Result<Option<T>, Trouble> {
        let Some(path) = self.journal_file.as_deref() else {
            return if make { Err(no_journal()) } else { Ok(None) };
        };
        let mut held = lock(which);
        if held.as_ref().is_some_and(|j| !j.is_current()) {
            *held = None;
        }
        if held.is_none() && path.is_file() {
            *held = Some(Journal::open(path)?);
        } else if held.is_none() && make {
            *held = Some(Journal::open_or_create(path)?);
        }
        held.as_mut().map(work).transpose()
    }

    /// Keeps a drill that was sent, for this start; its number.
    pub(crate) fn add_drill(&self, drill: Drill) -> u64 {
        let mut drills = lock(&self.own_drills);
        let number = drills.last_key_value().map_or(1, |(last, _)| last + 1);
        drills.insert(number, drill);
        if drills.len() > OWN_DRILLS {
            drills.pop_first();
        }
        number
    }

    pub(crate) fn own_drill(&self, number: u64) -> Option<Drill> {
        lock(&self.own_drills).get(&number).cloned()
    }

    /// Drills sent in this start.
    pub(crate) fn own_drills(&self) -> Vec<(u64, String)> {
        lock(&self.own_drills).iter().map(|(n, d)| (*n, d.name.clone())).collect()
    }
}

pub(crate) fn no_journal() -> Trouble {
    Trouble::NotFound("There is no journal yet. Keep a take in it first, or name one with --journal-file.".into())
}

//! HTTPS without help from outside: the shop's own certificate authority, or certificate files.
//!
//! Phones give an app offline storage, a camera and a service worker only over HTTPS, and a box in a shop
//! has no name that a public authority would vouch for. So the box is its own authority; every device
//! trusts it once, led by the page in [`onboard`].
//!
//! Invariants: the authority is made once and never replaced by itself, for every device would have to
//! be visited again; what is shown to devices is swapped whole, without a restart; a file that cannot be
//! used leaves the last good one in place. Must not know: the shop, people, the API.

pub mod authority;
pub mod door;
pub mod keep;
pub mod leaf;
pub mod name;
pub mod network;
pub mod onboard;

use std::collections::BTreeSet;
use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, OnceLock, RwLock};
use std::time::SystemTime;

use rustls::ServerConfig;
use rustls::crypto::CryptoProvider;
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use sha2::{Digest, Sha256};

use authority::Authority;
use leaf::Leaf;
use name::{Machine, Name, Reach};

/// Since 1970, UTC, as certificates count. Never the shop's clock: a demo's may be set to another day.
pub type Seconds = i64;
pub const DAY: Seconds = 86_400;

/// Somebody else renews certificate files; this long before they end the log says so.
const FILES_END_DAYS: i64 = 14;

const AUTHORITY_FILE: &str = "authority.pem";
const SERVER_FILE: &str = "server.pem";

#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    #[error("{} cannot be kept or read: {source}", path.display())]
    Io { path: PathBuf, source: std::io::Error },
    #[error("the key or the certificate of the shop's authority is damaged")]
    Authority,
    #[error(
        "the shop's certificate authority in {} was made without {name} and devices would not believe it: \
         give another --address, or certificate files, or move that directory away and let every device trust the new one",
        dir.display()
    )]
    NotPermitted { name: Name, dir: PathBuf },
    #[error("there is no certificate in it")]
    NoCertificate,
    #[error("there is no private key in it")]
    NoKey,
    #[error("the key does not belong to the certificate")]
    Mismatch,
    #[error("the certificate file {} cannot be used: {why}", path.display())]
    Files { path: PathBuf, why: Box<TlsError> },
    #[error("a certificate cannot be made: {0}")]
    Make(#[from] rcgen::Error),
    #[error("the machine's clock is so far off that no certificate can be made")]
    Clock,
    #[error("TLS cannot be set up: {0}")]
    Setup(#[from] rustls::Error),
}

/// Where certificates come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wanted {
    /// No TLS here: this machine alone, or a proxy does it.
    Plain,
    /// The shop's own authority, kept in this directory.
    Own { dir: PathBuf },
    /// Somebody else looks after these.
    Files { certificate: PathBuf, key: PathBuf },
}

/// The same without its places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    Plain,
    Own,
    Files,
}

/// SHA-256 of a certificate, as devices show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fingerprint(pub [u8; 32]);

impl Fingerprint {
    pub fn of(der: &[u8]) -> Self {
        Self(Sha256::digest(der).into())
    }

    /// In lines of four groups of four, to be compared by eye.
    pub fn lines(&self) -> Vec<String> {
        let groups: Vec<String> = self.0.chunks(2).map(hex::encode_upper).collect();
        groups.chunks(4).map(|line| line.join(" ")).collect()
    }
}

impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.lines().join(" "))
    }
}

/// The one provider of cryptography in this process.
pub fn provider() -> Arc<CryptoProvider> {
    if CryptoProvider::get_default().is_none() {
        // Another thread may have been first; it installed the same.
        let _ = rustls::crypto::aws_lc_rs::default_provider().install_default();
    }
    CryptoProvider::get_default()
        .cloned()
        .unwrap_or_else(|| Arc::new(rustls::crypto::aws_lc_rs::default_provider()))
}

pub fn now() -> Seconds {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
    i64::try_from(since.as_secs()).unwrap_or(i64::MAX)
}

enum Source {
    Plain,
    Own { dir: PathBuf, authority: Box<Authority>, reach: Reach },
    Files { certificate: PathBuf, key: PathBuf },
}

/// What this server shows to devices, and how it keeps it good.
pub struct Tls {
    source: Source,
    serving: Arc<Serving>,
    /// The last reason why a check failed, so that it is told once and not every minute.
    trouble: Mutex<String>,
    onboarding: OnceLock<String>,
}

impl Tls {
    /// Makes or reads what is needed. A first certificate that cannot be used is an error; a later one
    /// is only a warning.
    pub fn open(wanted: Wanted, reach: Reach, machine: &Machine, now: Seconds) -> Result<Self, TlsError> {
        let (source, leaf) = match wanted {
            Wanted::Plain => (Source::Plain, None),
            Wanted::Own { dir } => {
                let authority = open_authority(&dir, &reach, machine, now)?;
                if let Some(name) = reach.configured.iter().find(|name| !authority.permits(name)) {
                    return Err(TlsError::NotPermitted { name: name.clone(), dir });
                }
                let left: Vec<_> =
                    reach.addresses(machine).filter(|ip| !authority.permits(&Name::Ip(*ip))).collect();
                if !left.is_empty() {
                    tracing::info!(addresses = ?left, "these are not private, so devices will not believe the shop there");
                }
                let called: Vec<_> = (name::given(machine.host_name.as_deref()).into_iter())
                    .filter(|name| !authority.permits(&Name::Dns(name.clone())))
                    .collect();
                if !called.is_empty() {
                    tracing::warn!(names = ?called, "this machine is called otherwise than when its authority was made, so devices will not believe these; they go on with an address or the name of before");
                }
                let leaf = own_leaf(&dir, &authority, &reach, machine, now)?;
                (Source::Own { dir, authority: Box::new(authority), reach }, Some(leaf))
            }
            Wanted::Files { certificate, key } => {
                let leaf = from_files(&certificate, &key)?;
                (Source::Files { certificate, key }, Some(leaf))
            }
        };
        let serving = Arc::new(Serving(RwLock::new(leaf.map(Arc::new))));
        Ok(Self { source, serving, trouble: Mutex::default(), onboarding: OnceLock::new() })
    }

    pub fn is_on(&self) -> bool {
        !matches!(self.source, Source::Plain)
    }

    /// For the listener: TLS 1.2 and 1.3; HTTP/1.1 is all that is spoken (`front`).
    pub fn config(&self) -> Result<ServerConfig, TlsError> {
        let config = ServerConfig::builder_with_provider(provider())
            .with_protocol_versions(&[&rustls::version::TLS13, &rustls::version::TLS12])?
            .with_no_client_auth()
            .with_cert_resolver(self.serving.clone());
        Ok(config)
    }

    /// Looks whether what is shown is still right: true if it was swapped. Blocks on files.
    pub fn check(&self, machine: &Machine, now: Seconds) -> Result<bool, TlsError> {
        let Some(shown) = self.serving.leaf() else { return Ok(false) };
        let next = match &self.source {
            Source::Plain => return Ok(false),
            Source::Own { dir, authority, reach } => {
                if shown.serves(authority, &vouched(authority, reach, machine), now) {
                    return Ok(false);
                }
                own_leaf(dir, authority, reach, machine, now)?
            }
            Source::Files { certificate, key } => from_files(certificate, key)?,
        };
        let changed = next.shown.cert != shown.shown.cert;
        if changed {
            self.serving.swap(next);
        }
        Ok(changed)
    }

    /// The same, telling the log.
    pub fn keep(&self) {
        let mut trouble = self.trouble.lock().unwrap_or_else(|e| e.into_inner());
        match self.check(&Machine::look(), now()) {
            Ok(true) => tracing::info!("a new certificate is shown to devices"),
            Ok(false)
                if self.mode() == Mode::Files && self.not_after() < Some(now() + FILES_END_DAYS * DAY) =>
            {
                if trouble.is_empty() {
                    tracing::warn!(FILES_END_DAYS, "the certificate file ends soon; renew it");
                    *trouble = "ends soon".into();
                }
                return;
            }
            Ok(false) => {}
            Err(error) if *trouble == error.to_string() => return,
            Err(error) => {
                tracing::warn!(%error, "the certificate stays as it is");
                *trouble = error.to_string();
                return;
            }
        }
        trouble.clear();
    }

    pub fn authority(&self) -> Option<&Authority> {
        match &self.source {
            Source::Own { authority, .. } => Some(authority),
            _ => None,
        }
    }

    /// When what is shown now ends.
    pub fn not_after(&self) -> Option<Seconds> {
        self.serving.leaf().map(|leaf| leaf.not_after)
    }

    /// The names devices believe now.
    pub fn names(&self) -> BTreeSet<Name> {
        self.serving.leaf().map(|leaf| leaf.names.clone()).unwrap_or_default()
    }

    /// The page that leads devices, once it is served.
    pub fn onboarding(&self) -> Option<&str> {
        self.onboarding.get().map(String::as_str)
    }

    pub fn set_onboarding(&self, address: String) {
        let _ = self.onboarding.set(address);
    }

    pub fn mode(&self) -> Mode {
        match self.source {
            Source::Plain => Mode::Plain,
            Source::Own { .. } => Mode::Own,
            Source::Files { .. } => Mode::Files,
        }
    }
}

/// The authority as it is kept in this directory, if it is.
pub fn kept_authority(dir: &Path) -> Result<Option<String>, TlsError> {
    let kept = keep::read(dir, AUTHORITY_FILE);
    let kept = kept.map_err(|source| TlsError::Io { path: dir.join(AUTHORITY_FILE), source })?;
    Ok(kept.and_then(|pem| String::from_utf8(pem).ok()))
}

/// Authority and certificate go: the next start makes new ones.
pub fn forget(dir: &Path) -> Result<(), TlsError> {
    let names = match std::fs::read_dir(dir) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        names => names,
    };
    let remove = |path: PathBuf| std::fs::remove_file(&path).map_err(|source| TlsError::Io { path, source });
    let names = names.map_err(|source| TlsError::Io { path: dir.to_owned(), source })?;
    names.flatten().map(|entry| entry.path()).filter(|path| path.is_file()).try_for_each(remove)
}

/// Puts an authority of a backup where it is looked for.
pub fn put_authority(dir: &Path, pem: &str) -> Result<(), TlsError> {
    keep::write(dir, AUTHORITY_FILE, pem.as_bytes())
        .map_err(|source| TlsError::Io { path: dir.join(AUTHORITY_FILE), source })
}

fn open_authority(dir: &Path, reach: &Reach, machine: &Machine, now: Seconds) -> Result<Authority, TlsError> {
    let io = |source| TlsError::Io { path: dir.join(AUTHORITY_FILE), source };
    match keep::read(dir, AUTHORITY_FILE).map_err(io)? {
        Some(kept) => Authority::read(&kept),
        None => {
            let host = machine.host_name.as_deref();
            let (authority, kept) = Authority::make(host, &reach.configured, now)?;
            keep::write(dir, AUTHORITY_FILE, kept.as_bytes()).map_err(io)?;
            Ok(authority)
        }
    }
}

/// The names that it is reached by and that the authority can speak for.
fn vouched(authority: &Authority, reach: &Reach, machine: &Machine) -> BTreeSet<Name> {
    reach.names(machine).into_iter().filter(|name| authority.permits(name)).collect()
}

/// The one that was kept, if it still serves; else a new one.
fn own_leaf(
    dir: &Path,
    authority: &Authority,
    reach: &Reach,
    machine: &Machine,
    now: Seconds,
) -> Result<Leaf, TlsError> {
    let io = |source| TlsError::Io { path: dir.join(SERVER_FILE), source };
    let names = vouched(authority, reach, machine);
    let kept = keep::read(dir, SERVER_FILE).map_err(io)?.and_then(|pem| Leaf::read(pem).ok());
    match kept {
        Some(leaf) if leaf.serves(authority, &names, now) => Ok(leaf),
        _ => {
            let leaf = authority.issue(&names, now)?;
            keep::write(dir, SERVER_FILE, &leaf.pem).map_err(io)?;
            Ok(leaf)
        }
    }
}

fn from_files(certificate: &Path, key: &Path) -> Result<Leaf, TlsError> {
    let read = |path: &Path| fs::read(path).map_err(|source| TlsError::Io { path: path.to_owned(), source });
    let mut pem = read(certificate)?;
    if key != certificate {
        pem.push(b'\n');
        pem.extend(read(key)?);
    }
    Leaf::read(pem).map_err(|why| TlsError::Files { path: certificate.to_owned(), why: Box::new(why) })
}

/// Answers every greeting with what is shown now, also one that names no host: phones that come by
/// address send no name (RFC 6066 section 3).
#[derive(Default)]
struct Serving(RwLock<Option<Arc<Leaf>>>);

impl Serving {
    fn leaf(&self) -> Option<Arc<Leaf>> {
        self.0.read().unwrap_or_else(|e| e.into_inner()).clone()
    }

    fn swap(&self, leaf: Leaf) {
        *self.0.write().unwrap_or_else(|e| e.into_inner()) = Some(Arc::new(leaf));
    }
}

impl fmt::Debug for Serving {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Serving")
    }
}

impl ResolvesServerCert for Serving {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        self.leaf().map(|leaf| leaf.shown.clone())
    }
}

#[cfg(test)]
mod tests;

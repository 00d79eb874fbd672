//! Where the server listens and what it is called: HTTPS or not, from few words.
//!
//! Invariants: what other machines can reach is HTTPS unless somebody said otherwise; what only this
//! machine reaches is plain, for browsers treat localhost like HTTPS (W3C Secure Contexts section 3.1).

use std::collections::BTreeSet;
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;

use actix_web::http::Uri;

use super::name::{Machine, Name, Reach};
use super::network::Network;
use super::onboard::origin;
use super::{Tls, Wanted};

#[derive(Debug, thiserror::Error)]
pub enum DoorError {
    #[error(
        "{0} is not an address like https://shop.lan:8443; say with --address how people reach this server"
    )]
    Address(String),
    #[error(
        "{0} says http, but this server speaks HTTPS there: write https, or --plain if a proxy in front of it does that"
    )]
    AddressPlain(String),
    #[error(
        "behind a proxy of trusted_proxies this server cannot know how people reach it; say it with --address, like https://shop.lan"
    )]
    ProxyWithoutAddress,
}

#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Https {
    /// Where other machines can reach it.
    #[default]
    Auto,
    Always,
    Never,
    Files {
        certificate: PathBuf,
        key: PathBuf,
        /// Tell browsers to come by HTTPS only, for a year (RFC 6797). Never with the shop's own
        /// authority: a device that lost its trust could not come back to mend it.
        hsts: bool,
    },
}

#[derive(Debug, Clone, Default)]
pub struct Door {
    pub listen: String,
    /// How people reach this server, if it was said.
    pub address: Option<String>,
    pub https: Https,
    /// Where the authority is kept.
    pub dir: PathBuf,
    /// Where the page for new devices is served, if it was said.
    pub onboard: Option<String>,
    /// Whose word about where a request comes from counts.
    pub trusted: Vec<Network>,
}

impl Door {
    /// For this machine alone.
    pub fn plain(listen: &str) -> Self {
        Self { listen: listen.into(), https: Https::Never, ..Self::default() }
    }

    pub fn wanted(&self, local: &SocketAddr) -> Wanted {
        match &self.https {
            Https::Never => Wanted::Plain,
            Https::Auto if local.ip().is_loopback() => Wanted::Plain,
            Https::Auto | Https::Always => Wanted::Own { dir: self.dir.clone() },
            Https::Files { certificate, key, .. } => {
                Wanted::Files { certificate: certificate.clone(), key: key.clone() }
            }
        }
    }

    pub fn hsts(&self) -> bool {
        matches!(self.https, Https::Files { hsts: true, .. })
    }

    /// The names somebody chose: they belong into the authority when it is made.
    pub fn reach(&self, local: &SocketAddr, wanted: &Wanted) -> Result<Reach, DoorError> {
        let mut configured = BTreeSet::new();
        if !self.trusted.is_empty() && self.address.is_none() {
            return Err(DoorError::ProxyWithoutAddress);
        }
        if let Some(address) = &self.address {
            let uri = parsed(address)?;
            if *wanted != Wanted::Plain && uri.scheme_str() != Some("https") {
                return Err(DoorError::AddressPlain(address.clone()));
            }
            let name = uri.host().and_then(Name::of_host);
            if let Wanted::Own { .. } = wanted {
                configured.insert(name.ok_or_else(|| DoorError::Address(address.clone()))?);
            }
        }
        if !local.ip().is_unspecified() {
            configured.insert(Name::Ip(local.ip()));
        }
        Ok(Reach { listen: local.ip(), configured })
    }

    /// What people are told, without a slash at its end.
    pub fn address(&self, local: &SocketAddr, tls: &Tls, machine: &Machine) -> String {
        if let Some(address) = &self.address {
            return address.trim_end_matches('/').to_owned();
        }
        let scheme = if tls.is_on() { "https" } else { "http" };
        origin(scheme, &self.name(local, tls, machine), local.port())
    }

    /// The same for the page for new devices, which is at another port and perhaps on another address.
    pub fn onboarding(&self, app: &str, page: &SocketAddr, local: &SocketAddr) -> String {
        let of_app = app.parse::<Uri>().ok().and_then(|uri| Name::of_host(uri.host()?));
        let own = if page.ip().is_loopback() { localhost() } else { Name::Ip(page.ip()) };
        let same = page.ip().is_unspecified() || page.ip() == local.ip();
        origin("http", &of_app.filter(|_| same).unwrap_or(own), page.port())
    }

    /// The next port, unless somebody said another.
    pub fn onboard_at(&self, local: &SocketAddr) -> Option<String> {
        match &self.onboard {
            Some(onboard) => Some(onboard.clone()),
            None => Some(SocketAddr::new(local.ip(), local.port().checked_add(1)?).to_string()),
        }
    }

    fn name(&self, local: &SocketAddr, tls: &Tls, machine: &Machine) -> Name {
        if local.ip().is_loopback() || !tls.is_on() && local.ip().is_unspecified() {
            return localhost();
        }
        let believed = tls.names();
        if matches!(self.https, Https::Files { .. }) {
            let named = believed.iter().find(|name| matches!(name, Name::Dns(dns) if !dns.contains('*')));
            return named.cloned().unwrap_or_else(localhost);
        }
        if !local.ip().is_unspecified() {
            return Name::Ip(local.ip());
        }
        let reach = Reach { listen: local.ip(), configured: BTreeSet::new() };
        let address = reach
            .addresses(machine)
            .filter(|ip| !ip.is_loopback() && !is_link_local(ip))
            .map(Name::Ip)
            .find(|name| believed.contains(name));
        let own = machine
            .host_name
            .as_deref()
            .and_then(|host| Name::of_host(&format!("{}.local", host.split('.').next().unwrap_or_default())));
        address.or(own.filter(|name| believed.contains(name))).unwrap_or_else(localhost)
    }
}

fn localhost() -> Name {
    Name::Dns("localhost".into())
}

fn is_link_local(ip: &IpAddr) -> bool {
    match ip {
        IpAddr::V4(ip) => ip.is_link_local(),
        IpAddr::V6(ip) => ip.is_unicast_link_local(),
    }
}

fn parsed(address: &str) -> Result<Uri, DoorError> {
    let wrong = || DoorError::Address(address.to_owned());
    let uri: Uri = address.parse().map_err(|_| wrong())?;
    let known = matches!(uri.scheme_str(), Some("http" | "https"));
    let whole = uri.host().is_some_and(|host| !host.is_empty()) && uri.path() == "/" && uri.query().is_none();
    if known && whole { Ok(uri) } else { Err(wrong()) }
}

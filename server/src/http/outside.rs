//! What lies between a browser and this server: under which name people reach the shop, from which address a request
//! comes, whether a page of the shop sent it.
//!
//! Invariants: nobody who asks says what the shop is called; what a proxy adds to a request counts only where the
//! connection comes from a proxy of the configuration, and of a list of addresses only what that proxy wrote
//! (RFC 7239, 8.1). Must not know: the shop, people.

use std::collections::BTreeSet;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::sync::Arc;

use actix_web::HttpRequest;
use actix_web::http::{Uri, header};

use crate::auth::passkey::Site;
use tls::Tls;
use tls::name::{Machine, Name};
use tls::network::Network;

/// Scheme, host and port, as two pages of one origin have them (RFC 6454, 4).
#[derive(Debug, Clone, PartialEq, Eq)]
struct Origin {
    secure: bool,
    host: String,
    port: u16,
}

impl Origin {
    fn parse(text: &str) -> Option<Self> {
        let uri: Uri = text.parse().ok()?;
        let secure = match uri.scheme_str()? {
            "https" => true,
            "http" => false,
            _ => return None,
        };
        Self::of(secure, uri.authority()?.as_str())
    }

    /// Of a scheme and what stands in the header Host.
    fn of(secure: bool, authority: &str) -> Option<Self> {
        let authority: actix_web::http::uri::Authority = authority.parse().ok()?;
        let port = authority.port_u16().unwrap_or(if secure { 443 } else { 80 });
        Some(Self { secure, host: authority.host().to_ascii_lowercase(), port })
    }
}

impl std::fmt::Display for Origin {
    /// As a browser writes it: without the port that goes without saying.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (scheme, usual) = if self.secure { ("https", 443) } else { ("http", 80) };
        write!(f, "{scheme}://{}", self.host)?;
        if self.port == usual { Ok(()) } else { write!(f, ":{}", self.port) }
    }
}

/// Where this server stands, as everybody outside sees it.
pub struct Outside {
    /// What people are told, without a slash at its end.
    address: String,
    said: Option<Origin>,
    trusted: Vec<Network>,
    tls: Arc<Tls>,
    port: u16,
    hosts: BTreeSet<String>,
}

impl Outside {
    /// `said`: the address stands in the configuration, so there is no other.
    pub fn new(
        address: String,
        said: bool,
        trusted: Vec<Network>,
        tls: Arc<Tls>,
        port: u16,
        names: BTreeSet<Name>,
        machine: &Machine,
    ) -> Self {
        let bare = machine.host_name.as_deref().map(str::to_ascii_lowercase);
        let first = bare.as_deref().and_then(|host| host.split('.').next()).map(str::to_owned);
        let hosts = names.iter().map(Name::host).chain(bare).chain(first).collect();
        let said = said.then(|| Origin::parse(&address)).flatten();
        Self { address, said, trusted, tls, port, hosts }
    }

    /// By which address to tell others to come: that of the configuration. Without one, that by which the caller came,
    /// if it is a name or an address of this machine.
    pub fn address(&self, request: &HttpRequest) -> String {
        let host = host_of(request).filter(|_| self.said.is_none());
        match host.filter(|host| self.is_own(host)) {
            Some(host) => format!("{}://{host}", if self.tls.is_on() { "https" } else { "http" }),
            None => self.address.clone(),
        }
    }

    /// As authenticators know it (Web Authentication, level 2, 5.1.3): a name, by HTTPS or on this machine. None: it is
    /// reached by an address of the network, or the page that asks stands under another name.
    pub fn site(&self, request: &HttpRequest) -> Option<Site> {
        let address = self.address(request);
        let origin = Origin::parse(&address)?;
        let Some(Name::Dns(rp)) = Name::of_host(&origin.host) else { return None };
        let local = rp == "localhost" || rp.ends_with(".localhost");
        let same = origin_of(request).is_none_or(|from| Origin::parse(from).as_ref() == Some(&origin));
        ((origin.secure || local) && same).then(|| Site { rp, origin: origin.to_string() })
    }

    fn is_own(&self, host: &str) -> bool {
        let Some(origin) = Origin::of(self.tls.is_on(), host) else { return false };
        let port = origin.port == self.port || !host.ends_with(&format!(":{}", origin.port));
        let believed = self.tls.names();
        let named = |name: &Name| match name {
            Name::Dns(dns) if dns.starts_with("*.") => {
                origin.host.split_once('.').is_some_and(|(_, rest)| rest == &dns[2..])
            }
            name => name.host() == origin.host,
        };
        port && (self.hosts.contains(&origin.host) || believed.iter().any(named))
    }

    /// Whether the browser speaks HTTPS, with this server or with a proxy in front of it.
    pub fn is_secure(&self, request: &HttpRequest) -> bool {
        if self.tls.is_on() {
            return true;
        }
        if self.is_proxied(request)
            && let Some(scheme) = last(request, "x-forwarded-proto")
        {
            return scheme.eq_ignore_ascii_case("https");
        }
        // A proxy that is not in the configuration: the name that it passes on, or the page itself says it.
        self.said.as_ref().filter(|said| said.secure).is_some_and(|said| {
            let host = host_of(request).and_then(|host| Origin::of(true, host));
            host.as_ref() == Some(said) || origin_of(request).and_then(Origin::parse).as_ref() == Some(said)
        })
    }

    /// Whether this comes from a page of the shop, as far as the browser says. Other programs say nothing.
    pub fn is_own_page(&self, request: &HttpRequest) -> bool {
        // Browsers say by themselves who asks (Fetch Metadata); a page of the same host on another port is "same-site".
        let site = request.headers().get("sec-fetch-site").and_then(|site| site.to_str().ok());
        if site.is_some_and(|site| site != "same-origin" && site != "none") {
            return false;
        }
        if !request.headers().contains_key(header::ORIGIN) {
            return true;
        }
        let Some(from) = origin_of(request).and_then(Origin::parse) else { return false };
        let came = host_of(request).and_then(|host| Origin::of(self.is_secure(request), host));
        // A proxy that does TLS and says nothing about it: the browser itself has compared them whole.
        let behind = site == Some("same-origin")
            && from.secure
            && host_of(request).and_then(|host| Origin::of(true, host)).as_ref() == Some(&from);
        came.as_ref() == Some(&from) || self.said.as_ref() == Some(&from) || behind
    }

    fn is_proxied(&self, request: &HttpRequest) -> bool {
        request.peer_addr().is_some_and(|peer| self.trusts(peer.ip()))
    }

    fn trusts(&self, address: IpAddr) -> bool {
        self.trusted.iter().any(|network| network.holds(address))
    }

    /// The address that asks: of those that trusted proxies wrote down, the last that is not a proxy itself.
    pub fn caller(&self, request: &HttpRequest) -> Option<IpAddr> {
        let peer = request.peer_addr()?.ip().to_canonical();
        if !self.trusts(peer) {
            return Some(peer);
        }
        let mut nearest = peer;
        let lines = request.headers().get_all("x-forwarded-for").filter_map(|line| line.to_str().ok());
        let listed: Vec<&str> = lines.flat_map(|line| line.split(',')).map(str::trim).collect();
        for said in listed.iter().rev() {
            let Some(address) = address_in(said) else { break };
            nearest = address;
            if !self.trusts(address) {
                break;
            }
        }
        Some(nearest)
    }

    /// The same as what is counted: of IPv6 the part that one line has (RFC 6177).
    pub fn line(&self, request: &HttpRequest) -> String {
        match self.caller(request) {
            Some(IpAddr::V4(address)) => address.to_string(),
            Some(IpAddr::V6(address)) => {
                let [a, b, c, d, ..] = address.segments();
                format!("{}/64", Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0))
            }
            None => Ipv4Addr::UNSPECIFIED.to_string(),
        }
    }
}

/// Some proxies write the port too.
fn address_in(said: &str) -> Option<IpAddr> {
    let bare = said.strip_prefix('[').and_then(|rest| rest.split(']').next()).unwrap_or(said);
    let with_port = || said.parse::<std::net::SocketAddr>().ok().map(|address| address.ip());
    bare.parse::<IpAddr>().ok().or_else(with_port).map(|address| address.to_canonical())
}

fn host_of(request: &HttpRequest) -> Option<&str> {
    request.headers().get(header::HOST).and_then(|host| host.to_str().ok())
}

fn origin_of(request: &HttpRequest) -> Option<&str> {
    request.headers().get(header::ORIGIN).and_then(|origin| origin.to_str().ok())
}

/// What the nearest proxy wrote.
fn last<'a>(request: &'a HttpRequest, name: &str) -> Option<&'a str> {
    let line = request.headers().get_all(name).last()?.to_str().ok()?;
    line.rsplit(',').next().map(str::trim)
}

/// For this machine alone.
#[cfg(test)]
pub fn here() -> Outside {
    use tls::Wanted;
    use tls::name::Reach;
    let (machine, listen) = (Machine::default(), Ipv4Addr::LOCALHOST.into());
    let reach = Reach { listen, configured: BTreeSet::new() };
    let tls = Tls::open(Wanted::Plain, reach, &machine, 0).expect("nothing is read");
    Outside::new("http://localhost".into(), false, Vec::new(), tls.into(), 80, BTreeSet::new(), &machine)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_origin_is_compared_whole() {
        let of = |text: &str| Origin::parse(text);
        assert_eq!(of("https://Shop.lan"), of("https://shop.lan:443"));
        assert_ne!(of("https://shop.lan"), of("http://shop.lan"));
        assert_ne!(of("https://shop.lan"), of("https://shop.lan:8443"));
        assert_eq!(of("http://[fd00::2]:8080"), Origin::of(false, "[fd00::2]:8080"));
        for none in ["null", "", "shop.lan", "ftp://shop.lan"] {
            assert_eq!(of(none), None, "{none}");
        }
    }
}

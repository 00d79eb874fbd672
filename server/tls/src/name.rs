//! What the server is called by those who reach it: names and addresses.
//!
//! Invariants: a name is lower-case letters, digits, hyphens and dots (RFC 1123 section 2.1), never an
//! address in disguise; looking at the machine sends nothing. Must not know: certificates, HTTP.

use std::collections::BTreeSet;
use std::fmt;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, UdpSocket};

use if_addrs::IfOperStatus;

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Name {
    Dns(String),
    Ip(IpAddr),
}

/// Endings that a router or the machine itself gives, never a registry of the internet: RFC 6762 (local),
/// RFC 8375 (home.arpa), ICANN resolution 2024.07.29.06 (internal), common practice (lan).
pub const PRIVATE_ENDINGS: [&str; 4] = ["local", "lan", "home.arpa", "internal"];

impl Name {
    /// A host as it stands in an address: "shop.lan", "192.168.4.2", "[fd00::2]".
    pub fn of_host(host: &str) -> Option<Self> {
        let bare = host.strip_prefix('[').and_then(|h| h.strip_suffix(']')).unwrap_or(host);
        if let Ok(ip) = bare.parse() {
            return Some(Name::Ip(ip));
        }
        let name = bare.strip_suffix('.').unwrap_or(bare).to_ascii_lowercase();
        let label = |label: &str| {
            (1..=63).contains(&label.len())
                && label.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
                && !label.starts_with('-')
                && !label.ends_with('-')
        };
        // An address with a number too many is not a name.
        let numeric = name.rsplit('.').next().is_some_and(|last| last.bytes().all(|b| b.is_ascii_digit()));
        (name.len() <= 253 && !numeric && name.split('.').all(label)).then_some(Name::Dns(name))
    }

    /// As it stands in an address.
    pub fn host(&self) -> String {
        match self {
            Name::Ip(IpAddr::V6(ip)) => format!("[{ip}]"),
            other => other.to_string(),
        }
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Name::Dns(name) => f.write_str(name),
            Name::Ip(ip) => ip.fmt(f),
        }
    }
}

/// How a router or the machine itself calls one of this name.
pub fn given(host_name: Option<&str>) -> Vec<String> {
    let first = host_name.and_then(|host| host.split('.').next()).unwrap_or_default();
    let named = PRIVATE_ENDINGS.iter().map(|ending| Name::of_host(&format!("{first}.{ending}")));
    named.filter_map(|name| if let Some(Name::Dns(name)) = name { Some(name) } else { None }).collect()
}

/// What the operating system says about this machine.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Machine {
    pub host_name: Option<String>,
    /// Of its interfaces; the one that reaches the rest of the network first.
    pub addresses: Vec<IpAddr>,
}

impl Machine {
    pub fn look() -> Self {
        let host_name = gethostname::gethostname().into_string().ok();
        let mut addresses: Vec<IpAddr> = main_address().into_iter().collect();
        let all = if_addrs::get_if_addrs().unwrap_or_default();
        // Loopback and tunnels do not say whether they are up (RFC 2863: "unknown").
        let up = all.iter().filter(|one| matches!(one.oper_status, IfOperStatus::Up | IfOperStatus::Unknown));
        for ip in up.map(|one| one.ip()) {
            if !addresses.contains(&ip) {
                addresses.push(ip);
            }
        }
        Self { host_name, addresses }
    }
}

/// The address that packets to other networks would leave from. Connecting a datagram socket only looks
/// into the routing table; nothing is sent (and nobody has the address: RFC 5737).
fn main_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    socket.local_addr().ok().map(|local| local.ip()).filter(|ip| !ip.is_unspecified())
}

/// How this server may be reached: where it listens, what it was told it is called, what the machine is.
#[derive(Debug, Clone)]
pub struct Reach {
    pub listen: IpAddr,
    pub configured: BTreeSet<Name>,
}

impl Reach {
    /// Every name, whether or not somebody would vouch for it.
    pub fn names(&self, machine: &Machine) -> BTreeSet<Name> {
        let mut names = self.configured.clone();
        names.insert(Name::Dns("localhost".into()));
        names.insert(Name::Ip(Ipv4Addr::LOCALHOST.into()));
        names.insert(Name::Ip(Ipv6Addr::LOCALHOST.into()));
        names.extend(self.addresses(machine).map(Name::Ip));
        names.extend(given(machine.host_name.as_deref()).into_iter().map(Name::Dns));
        names
    }

    /// The addresses it is reached by, the main one first. Link-local ones of IPv6 mean nothing without
    /// the name of the asker's interface (RFC 4007), which no browser takes in an address.
    pub fn addresses<'a>(&'a self, machine: &'a Machine) -> impl Iterator<Item = IpAddr> + 'a {
        let every = self.listen.is_unspecified();
        let own = (!every).then_some(self.listen);
        let both = self.listen.is_ipv6();
        let found = machine.addresses.iter().copied().filter(move |ip| every && (both || ip.is_ipv4()));
        own.into_iter().chain(found).filter(|ip| !matches!(ip, IpAddr::V6(ip) if ip.is_unicast_link_local()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(listen: &str, machine: &Machine) -> Vec<String> {
        let reach = Reach {
            listen: listen.parse().unwrap(),
            configured: BTreeSet::from([Name::of_host("Shop.Lan").unwrap()]),
        };
        reach.names(machine).iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_host_is_a_name_or_an_address() {
        let of = |host: &str| Name::of_host(host).map(|name| name.host());
        assert_eq!(of("Shop.LAN."), Some("shop.lan".into()));
        assert_eq!(of("[FD00::2]"), Some("[fd00::2]".into()));
        assert_eq!(of("192.168.4.2"), Some("192.168.4.2".into()));
        for wrong in ["", "my box", "box_1", "-box", "192.168.4.2.9", "shop..lan", "taller.ñ", "<b>", "a/b"]
        {
            assert_eq!(of(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn on_every_address_means_all_of_the_machine_and_on_one_means_that_one() {
        let machine = Machine {
            host_name: Some("Box-7.shop.example".into()),
            addresses: ["192.168.4.2", "fd00::2", "fe80::1"].map(|ip| ip.parse().unwrap()).into(),
        };
        let always =
            ["box-7.home.arpa", "box-7.internal", "box-7.lan", "box-7.local", "localhost", "shop.lan"];
        let with = |more: &[&str]| always.iter().chain(more).map(ToString::to_string).collect::<Vec<_>>();
        assert_eq!(names("0.0.0.0", &machine), with(&["127.0.0.1", "192.168.4.2", "::1"]));
        assert_eq!(names("::", &machine), with(&["127.0.0.1", "192.168.4.2", "::1", "fd00::2"]));
        assert_eq!(names("10.0.0.7", &machine), with(&["10.0.0.7", "127.0.0.1", "::1"]));
    }

    #[test]
    fn a_machine_without_a_proper_name_is_reached_by_address() {
        let machine = Machine { host_name: Some("my_box".into()), addresses: Vec::new() };
        assert_eq!(names("127.0.0.1", &machine), ["localhost", "shop.lan", "127.0.0.1", "::1"]);
    }
}

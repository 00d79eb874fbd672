//! Addresses as somebody writes them into a configuration: one, or a network of them.
//!
//! Invariants: an IPv4 address and its IPv6 form are the same address.

use std::net::IpAddr;
use std::str::FromStr;

use serde::Deserialize;

/// An address, or a network: "192.168.4.2", "10.0.0.0/8".
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(try_from = "String")]
pub struct Network {
    address: u128,
    bits: u32,
}

#[derive(Debug, thiserror::Error)]
#[error("{0} is neither an address nor a network like 10.0.0.0/8")]
pub struct NotANetwork(String);

impl FromStr for Network {
    type Err = NotANetwork;

    fn from_str(text: &str) -> Result<Self, NotANetwork> {
        let wrong = || NotANetwork(text.to_owned());
        let (address, bits) = text.split_once('/').map_or((text, None), |(a, bits)| (a, Some(bits)));
        let address: IpAddr = address.trim().parse().map_err(|_| wrong())?;
        let whole = if address.is_ipv4() { 32 } else { 128 };
        let bits: u32 = bits.map_or(Ok(whole), |bits| bits.trim().parse().map_err(|_| wrong()))?;
        if bits > whole {
            return Err(wrong());
        }
        Ok(Self { address: wide(address), bits: bits + 128 - whole })
    }
}

impl TryFrom<String> for Network {
    type Error = NotANetwork;

    fn try_from(text: String) -> Result<Self, NotANetwork> {
        text.parse()
    }
}

impl Network {
    pub fn holds(&self, address: IpAddr) -> bool {
        (wide(address) ^ self.address).leading_zeros() >= self.bits
    }
}

/// IPv4 as IPv6 writes it, so that there is one kind.
fn wide(address: IpAddr) -> u128 {
    match address.to_canonical() {
        IpAddr::V4(v4) => v4.to_ipv6_mapped().to_bits(),
        IpAddr::V6(v6) => v6.to_bits(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_network_holds_its_addresses_and_no_others() {
        let holds = |network: &str, address: &str| {
            network.parse::<Network>().unwrap().holds(address.parse().unwrap())
        };
        assert!(holds("10.0.0.0/8", "10.255.0.1") && !holds("10.0.0.0/8", "11.0.0.1"));
        assert!(holds("192.0.2.7", "::ffff:192.0.2.7") && !holds("192.0.2.7", "192.0.2.8"));
        assert!(holds("2001:db8::/32", "2001:db8:9::1") && !holds("2001:db8::/32", "2001:db9::1"));
        assert!(holds("0.0.0.0/0", "203.0.113.9") && !holds("0.0.0.0/0", "2001:db8::1"));
        for wrong in ["", "shop.lan", "10.0.0.0/33", "10.0.0.0/x", "::/129", "10.0.0/8"] {
            assert!(wrong.parse::<Network>().is_err(), "{wrong}");
        }
    }
}

//! The shop's own certificate authority: made once, kept, and good for nothing but the shop's own box.
//!
//! Invariants: ECDSA P-256, CA:TRUE with no authority below it, signs certificates and nothing else
//! (RFC 5280 sections 4.2.1.3 and 4.2.1.9), of servers (4.2.1.12); a critical name constraint (section 4.2.1.10) holds
//! it to what this machine is called and to private addresses, so a stolen key cannot speak for any other site; time is
//! an argument.
//! Must not know: files, sockets, HTTP.

use std::collections::BTreeSet;
use std::net::IpAddr;

use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DnType, ExtendedKeyUsagePurpose, GeneralSubtree, IsCa,
    Issuer, KeyPair, KeyUsagePurpose, NameConstraints, PKCS_ECDSA_P256_SHA256, SanType,
};
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use sha2::{Digest, Sha256};
use time::OffsetDateTime;
use x509_parser::extensions::GeneralName;
use x509_parser::prelude::{FromDer, X509Certificate};

use super::leaf::Leaf;
use super::name::{Name, PRIVATE_ENDINGS, given};
use super::{DAY, Fingerprint, Seconds, TlsError};

/// Addresses that no stranger on the internet can have.
const PRIVATE_RANGES: [(&str, u8); 8] = [
    ("10.0.0.0", 8),     // RFC 1918
    ("172.16.0.0", 12),  // RFC 1918
    ("192.168.0.0", 16), // RFC 1918
    ("127.0.0.0", 8),    // loopback, RFC 1122 section 3.2.1.3
    ("169.254.0.0", 16), // link-local, RFC 3927
    ("fc00::", 7),       // unique local, RFC 4193
    ("fe80::", 10),      // link-local, RFC 4291 section 2.5.6
    ("::1", 128),        // loopback, RFC 4291 section 2.5.3
];

/// A box without a clock battery may start in 1970; what it signs then must stand when its clock is set.
/// 2026-01-01, in seconds.
const EARLIEST: Seconds = 1_767_225_600;
/// Renewing it means a walk to every phone, so it lasts longer than the box.
const AUTHORITY_DAYS: i64 = 3_650;
/// Some systems refuse more than 398 days (CA/Browser Forum Baseline Requirements 6.3.2), Apple's 825 for
/// private authorities; renewing costs nothing.
pub const LEAF_DAYS: i64 = 300;

pub struct Authority {
    pub der: CertificateDer<'static>,
    /// As devices list it.
    pub name: String,
    pub fingerprint: Fingerprint,
    pub not_after: Seconds,
    issuer: Issuer<'static, KeyPair>,
    /// The subtrees it is held to; none of a kind means any of that kind.
    dns: Vec<String>,
    ranges: Vec<(Vec<u8>, Vec<u8>)>,
}

impl Authority {
    /// A new one, and what to keep of it. It vouches for the names of this machine, private addresses and `configured`.
    pub fn make(
        host_name: Option<&str>,
        configured: &BTreeSet<Name>,
        now: Seconds,
    ) -> Result<(Self, String), TlsError> {
        let key = KeyPair::generate_for(&PKCS_ECDSA_P256_SHA256)?;
        let mut params = CertificateParams::default();
        params.not_before = at(EARLIEST)?;
        params.not_after = at(settled(now) + AUTHORITY_DAYS * DAY)?;
        params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
        params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
        // Of an authority it bounds what stands below it (as systems read it; RFC 5280 leaves it open).
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        params.name_constraints = Some(NameConstraints {
            permitted_subtrees: permitted(host_name, configured),
            excluded_subtrees: Vec::new(),
        });
        // Two authorities of one name confuse trust stores, so a part of the key stands in it.
        let mark = hex::encode_upper(&Sha256::digest(key.public_key_raw())[..4]);
        let place = host_name.map(|host| format!(" on {host}")).unwrap_or_default();
        let mut name = format!("Turnbuckle{place}");
        name.truncate(name.floor_char_boundary(50)); // a common name has 64 at most (RFC 5280 appendix A)
        params.distinguished_name = rcgen::DistinguishedName::new();
        params.distinguished_name.push(DnType::CommonName, format!("{name} {mark}"));
        let certificate = params.self_signed(&key)?;
        let kept = format!("{}{}", key.serialize_pem(), certificate.pem());
        Ok((Self::read(kept.as_bytes())?, kept))
    }

    /// From what was kept: key and certificate in one text, so that they cannot come apart.
    pub fn read(pem: &[u8]) -> Result<Self, TlsError> {
        let der = CertificateDer::from_pem_slice(pem).map_err(|_| TlsError::Authority)?;
        let key = PrivateKeyDer::from_pem_slice(pem).map_err(|_| TlsError::Authority)?;
        let key = KeyPair::try_from(&key).map_err(|_| TlsError::Authority)?;
        let (_, parsed) = X509Certificate::from_der(&der).map_err(|_| TlsError::Authority)?;
        if parsed.public_key().subject_public_key.data.as_ref() != key.public_key_raw() {
            return Err(TlsError::Authority);
        }
        let (mut dns, mut ranges) = (Vec::new(), Vec::new());
        let constraints = parsed.name_constraints().map_err(|_| TlsError::Authority)?;
        for subtree in constraints.iter().filter_map(|c| c.value.permitted_subtrees.as_ref()).flatten() {
            match &subtree.base {
                GeneralName::DNSName(name) => dns.push(name.trim_start_matches('.').to_ascii_lowercase()),
                GeneralName::IPAddress(bytes) => {
                    let (base, mask) = bytes.split_at(bytes.len() / 2);
                    ranges.push((base.to_vec(), mask.to_vec()));
                }
                _ => {}
            }
        }
        let common = parsed.subject().iter_common_name().next();
        let name = common.and_then(|name| name.as_str().ok()).unwrap_or("Turnbuckle").to_owned();
        let not_after = parsed.validity().not_after.timestamp();
        let fingerprint = Fingerprint::of(&der);
        let issuer = Issuer::from_ca_cert_der(&der, key)?;
        Ok(Self { name, fingerprint, not_after, issuer, dns, ranges, der })
    }

    /// Whether devices would believe it about this name.
    pub fn permits(&self, name: &Name) -> bool {
        match name {
            Name::Dns(name) => {
                self.dns.is_empty()
                    || self.dns.iter().any(|end| name == end || name.ends_with(&format!(".{end}")))
            }
            Name::Ip(ip) => {
                let octets = match ip {
                    IpAddr::V4(ip) => ip.octets().to_vec(),
                    IpAddr::V6(ip) => ip.octets().to_vec(),
                };
                let inside = |(base, mask): &(Vec<u8>, Vec<u8>)| {
                    base.len() == octets.len()
                        && octets
                            .iter()
                            .zip(mask)
                            .zip(base)
                            .all(|((octet, mask), base)| octet & mask == *base)
                };
                self.ranges.is_empty() || self.ranges.iter().any(inside)
            }
        }
    }

    /// What it can speak for, for people: endings and single names; of addresses only those of its own.
    pub fn scope(&self) -> String {
        let endings = self.dns.iter().map(|name| {
            if PRIVATE_ENDINGS.contains(&name.as_str()) { format!(".{name}") } else { name.clone() }
        });
        endings.collect::<Vec<_>>().join(", ")
    }

    /// A certificate for the server itself, with a key of its own.
    pub fn issue(&self, names: &BTreeSet<Name>, now: Seconds) -> Result<Leaf, TlsError> {
        let key = KeyPair::generate_for(&PKCS_ECDSA_P256_SHA256)?;
        let now = settled(now);
        let mut params = CertificateParams::default();
        // A phone's clock may be behind.
        params.not_before = at(now - DAY)?;
        params.not_after = at((now + LEAF_DAYS * DAY).min(self.not_after))?;
        params.is_ca = IsCa::ExplicitNoCa;
        params.use_authority_key_identifier_extension = true;
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        params.distinguished_name = rcgen::DistinguishedName::new();
        params.distinguished_name.push(DnType::CommonName, "Turnbuckle server");
        for name in names {
            params.subject_alt_names.push(match name {
                Name::Dns(name) => SanType::DnsName(name.as_str().try_into()?),
                Name::Ip(ip) => SanType::IpAddress(*ip),
            });
        }
        let certificate = params.signed_by(&key, &self.issuer)?;
        Leaf::read(format!("{}{}", key.serialize_pem(), certificate.pem()).into_bytes())
    }

    /// Whether this authority signed it.
    pub fn signed(&self, leaf: &CertificateDer<'_>) -> bool {
        let own = X509Certificate::from_der(&self.der);
        let (Ok((_, own)), Ok((_, leaf))) = (own, X509Certificate::from_der(leaf)) else { return false };
        leaf.issuer() == own.subject() && leaf.verify_signature(Some(own.public_key())).is_ok()
    }
}

/// The time, or the earliest it can be.
pub fn settled(now: Seconds) -> Seconds {
    now.max(EARLIEST + DAY)
}

/// What this machine is called and no other; of addresses all private ones, because a router hands out another one at will.
fn permitted(host_name: Option<&str>, configured: &BTreeSet<Name>) -> Vec<GeneralSubtree> {
    let own = given(host_name);
    let mut dns: BTreeSet<&str> = own.iter().map(String::as_str).chain(["localhost"]).collect();
    let mut ranges: BTreeSet<(IpAddr, u8)> =
        PRIVATE_RANGES.iter().filter_map(|(base, prefix)| Some((base.parse().ok()?, *prefix))).collect();
    for name in configured {
        match name {
            Name::Dns(name) => drop(dns.insert(name)),
            Name::Ip(ip) => drop(ranges.insert((*ip, if ip.is_ipv4() { 32 } else { 128 }))),
        }
    }
    // Without a leading dot: the name itself and whatever stands before it (RFC 5280 section 4.2.1.10).
    let dns = dns.into_iter().map(|name| GeneralSubtree::DnsName(name.to_owned()));
    let ranges = ranges
        .into_iter()
        .map(|(ip, prefix)| GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(ip, prefix)));
    dns.chain(ranges).collect()
}

fn at(seconds: Seconds) -> Result<OffsetDateTime, TlsError> {
    OffsetDateTime::from_unix_timestamp(seconds).map_err(|_| TlsError::Clock)
}

//! The certificate that is shown to devices, with its key: what was kept, and whether it still serves.
//!
//! Invariants: time is an argument; nothing is shown whose key does not belong to it.

use std::collections::BTreeSet;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::sync::Arc;

use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::sign::CertifiedKey;
use x509_parser::extensions::GeneralName;
use x509_parser::prelude::{FromDer, X509Certificate};

use super::authority::{Authority, settled};
use super::name::Name;
use super::{DAY, Seconds, TlsError};

/// Renewed this long before it ends: a box that is started once a month still shows a good one.
const RENEW_DAYS: i64 = 30;

pub struct Leaf {
    pub names: BTreeSet<Name>,
    pub not_before: Seconds,
    pub not_after: Seconds,
    pub shown: Arc<CertifiedKey>,
    /// Key and certificates, as they are kept.
    pub pem: Vec<u8>,
}

impl Leaf {
    /// From one text with the key and the certificates, the server's own first.
    pub fn read(pem: Vec<u8>) -> Result<Self, TlsError> {
        let chain: Vec<_> = CertificateDer::pem_slice_iter(&pem).filter_map(Result::ok).collect();
        let key = PrivateKeyDer::from_pem_slice(&pem).map_err(|_| TlsError::NoKey)?;
        let first = chain.first().ok_or(TlsError::NoCertificate)?.clone();
        let (_, parsed) = X509Certificate::from_der(&first).map_err(|_| TlsError::NoCertificate)?;
        let alternative = parsed.subject_alternative_name().map_err(|_| TlsError::NoCertificate)?;
        let names = alternative.iter().flat_map(|san| &san.value.general_names).filter_map(name).collect();
        let (not_before, not_after) =
            (parsed.validity().not_before.timestamp(), parsed.validity().not_after.timestamp());
        let shown = CertifiedKey::from_der(chain, key, &super::provider()).map_err(|_| TlsError::Mismatch)?;
        Ok(Self { names, not_before, not_after, shown: Arc::new(shown), pem })
    }

    /// Whether it can go on being shown under these names.
    pub fn serves(&self, authority: &Authority, names: &BTreeSet<Name>, now: Seconds) -> bool {
        let now = settled(now);
        let renew_at = (self.not_after - RENEW_DAYS * DAY).max(self.not_before);
        // An authority near its own end cannot give longer; asking it every minute changes nothing.
        let longest = self.not_after >= authority.not_after && now < self.not_after;
        self.names == *names
            && now >= self.not_before
            && (now < renew_at || longest)
            && self.shown.cert.first().is_some_and(|der| authority.signed(der))
    }
}

fn name(general: &GeneralName<'_>) -> Option<Name> {
    match general {
        GeneralName::DNSName(name) => Some(Name::Dns(name.to_ascii_lowercase())),
        GeneralName::IPAddress(bytes) => {
            let v4 = <[u8; 4]>::try_from(*bytes).map(|b| IpAddr::V4(Ipv4Addr::from(b)));
            let v6 = || <[u8; 16]>::try_from(*bytes).map(|b| IpAddr::V6(Ipv6Addr::from(b)));
            v4.or_else(|_| v6()).ok().map(Name::Ip)
        }
        _ => None,
    }
}

//! Certificates are read back by others than who made them: rustls-webpki and x509-parser here, OpenSSL's
//! command outside.

use std::collections::BTreeSet;
use std::fs;
use std::net::SocketAddr;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Duration;

use rustls::RootCertStore;
use rustls::client::WebPkiServerVerifier;
use rustls::client::danger::ServerCertVerifier;
use rustls::pki_types::{CertificateDer, ServerName, UnixTime};
use x509_parser::prelude::{FromDer, GeneralName, X509Certificate};

use super::authority::{Authority, LEAF_DAYS};
use super::door::{Door, DoorError, Https};
use super::leaf::Leaf;
use super::name::{Machine, Name, Reach};
use super::{DAY, Fingerprint, Mode, Seconds, Tls, TlsError, Wanted};

/// 2026-06-01.
const JUNE: Seconds = 1_780_272_000;

fn names(hosts: &[&str]) -> BTreeSet<Name> {
    hosts.iter().map(|host| Name::of_host(host).unwrap()).collect()
}

fn authority(configured: &[&str]) -> (Authority, String) {
    Authority::make(Some("box"), &names(configured), JUNE).unwrap()
}

/// As a browser would: only this root, this name, this time.
fn believes(root: &Authority, leaf: &Leaf, host: &str, at: Seconds) -> Result<(), rustls::Error> {
    let mut roots = RootCertStore::empty();
    roots.add(root.der.clone()).unwrap();
    let verifier = WebPkiServerVerifier::builder_with_provider(Arc::new(roots), super::provider()).build();
    let host = ServerName::try_from(host.to_owned()).unwrap();
    let at = UnixTime::since_unix_epoch(Duration::from_secs(at.try_into().unwrap()));
    let (first, rest) = leaf.shown.cert.split_first().unwrap();
    verifier.unwrap().verify_server_cert(first, rest, &host, &[], at).map(drop)
}

#[test]
fn the_authority_signs_servers_and_only_for_its_own_names() {
    let (authority, kept) = authority(&["taller.example"]);
    let (_, parsed) = X509Certificate::from_der(&authority.der).unwrap();
    let basic = parsed.basic_constraints().unwrap().unwrap();
    assert!(basic.critical && basic.value.ca);
    assert_eq!(basic.value.path_len_constraint, Some(0));
    let usage = parsed.key_usage().unwrap().unwrap();
    assert!(usage.critical && usage.value.key_cert_sign() && usage.value.crl_sign());
    assert!(!usage.value.digital_signature() && !usage.value.key_encipherment());
    let purpose = parsed.extended_key_usage().unwrap().unwrap().value;
    assert!(purpose.server_auth && !purpose.client_auth && !purpose.any, "RFC 5280, 4.2.1.12");
    let constraints = parsed.name_constraints().unwrap().unwrap();
    assert!(constraints.critical);
    let subtrees = constraints.value.permitted_subtrees.as_ref().unwrap();
    let dns: BTreeSet<_> = subtrees
        .iter()
        .filter_map(|subtree| match &subtree.base {
            GeneralName::DNSName(name) => Some(*name),
            _ => None,
        })
        .collect();
    assert_eq!(
        dns,
        BTreeSet::from([
            "box.home.arpa",
            "box.internal",
            "box.lan",
            "box.local",
            "localhost",
            "taller.example"
        ])
    );
    assert_eq!(subtrees.len(), dns.len() + 8, "and eight ranges of addresses");
    // secp256r1, RFC 5480 section 2.1.1.1.
    let curve = parsed.public_key().algorithm.parameters.as_ref().unwrap().as_oid().unwrap();
    assert_eq!(curve.to_id_string(), "1.2.840.10045.3.1.7");
    assert!(authority.name.starts_with("Turnbuckle on box "), "{}", authority.name);
    assert!(kept.contains("PRIVATE KEY") && kept.contains("BEGIN CERTIFICATE"));
    // Kept and read again it is the same one and signs the same.
    let again = Authority::read(kept.as_bytes()).unwrap();
    assert_eq!((again.fingerprint, &again.name), (authority.fingerprint, &authority.name));
    let leaf = again.issue(&names(&["box.local"]), JUNE).unwrap();
    assert!(authority.signed(&leaf.shown.cert[0]));
    believes(&authority, &leaf, "box.local", JUNE).unwrap();
}

#[test]
fn devices_believe_the_server_under_every_name_it_has() {
    let (authority, _) = authority(&["taller.example", "203.0.113.7"]);
    let hosts = [
        "localhost",
        "box.local",
        "box.lan",
        "box.home.arpa",
        "box.internal",
        "taller.example",
        "10.0.0.7",
        "172.31.4.4",
        "192.168.4.2",
        "127.0.0.1",
        "169.254.7.7",
        "203.0.113.7",
        "::1",
        "fd00::2",
    ];
    let leaf = authority.issue(&names(&hosts), JUNE).unwrap();
    for host in hosts {
        assert!(authority.permits(&Name::of_host(host).unwrap()), "{host}");
        believes(&authority, &leaf, host, JUNE).unwrap_or_else(|error| panic!("{host}: {error}"));
    }
    assert!(believes(&authority, &leaf, "other.local", JUNE).is_err(), "not one of its names");
    let (_, parsed) = X509Certificate::from_der(&leaf.shown.cert[0]).unwrap();
    let purpose = parsed.extended_key_usage().unwrap().unwrap().value;
    assert!(purpose.server_auth && !purpose.client_auth && !purpose.any);
    assert!(!parsed.basic_constraints().unwrap().unwrap().value.ca);
    assert!(leaf.not_after - leaf.not_before <= 365 * DAY, "a year at most");
    believes(&authority, &leaf, "box.lan", JUNE + LEAF_DAYS * DAY - 1).unwrap();
    assert!(believes(&authority, &leaf, "box.lan", JUNE + LEAF_DAYS * DAY + 1).is_err());
    let (other, _) = self::authority(&[]);
    assert!(believes(&other, &leaf, "box.lan", JUNE).is_err(), "another shop's authority");
    assert!(!other.signed(&leaf.shown.cert[0]));
}

#[test]
fn a_stolen_key_speaks_for_no_other_site() {
    let (authority, _) = authority(&["taller.example"]);
    for host in [
        "bank.example",
        "example",
        "notlocal",
        "router.lan",
        "local",
        "mybox.local",
        "localhost.example",
        "8.8.8.8",
        "172.32.0.1",
        "2001:db8::1",
    ] {
        assert!(!authority.permits(&Name::of_host(host).unwrap()), "{host}");
        let forged = authority.issue(&names(&[host]), JUNE).unwrap();
        let refused = believes(&authority, &forged, host, JUNE).unwrap_err();
        assert!(format!("{refused:?}").contains("NameConstraintViolation"), "{host}: {refused:?}");
    }
}

/// OpenSSL's own reading of it all: `openssl verify`, of Debian's package openssl.
#[test]
fn openssl_agrees() {
    let dir = tempfile::tempdir().unwrap();
    let (authority, kept) = authority(&[]);
    fs::write(dir.path().join("authority.pem"), kept).unwrap();
    let verify = |leaf: &Leaf, how: &[&str]| {
        let file = dir.path().join("leaf.pem");
        fs::write(&file, &leaf.pem).unwrap();
        let out = Command::new("openssl")
            .args(["verify", "-x509_strict", "-purpose", "sslserver", "-no-CApath", "-no-CAstore", "-CAfile"])
            .arg(dir.path().join("authority.pem"))
            .args(["-attime", &JUNE.to_string()])
            .args(how)
            .arg(&file)
            .output()
            .expect("this test needs the command openssl (apt-get install openssl)");
        let said = String::from_utf8_lossy(&out.stdout) + String::from_utf8_lossy(&out.stderr);
        (out.status.success(), said.into_owned())
    };
    let leaf = authority.issue(&names(&["box.lan", "192.168.4.2", "fd00::2"]), JUNE).unwrap();
    for how in [["-verify_hostname", "box.lan"], ["-verify_ip", "192.168.4.2"], ["-verify_ip", "fd00::2"]] {
        let (good, said) = verify(&leaf, &how);
        assert!(good, "{how:?}: {said}");
    }
    let (good, said) = verify(&leaf, &["-verify_hostname", "other.lan"]);
    assert!(!good && said.contains("hostname mismatch"), "{said}");
    for host in ["bank.example", "8.8.8.8"] {
        let (good, said) = verify(&authority.issue(&names(&[host]), JUNE).unwrap(), &[]);
        assert!(!good && said.contains("permitted subtree violation"), "{host}: {said}");
    }
    // The fingerprint is the one that OpenSSL, and with it every device, shows.
    let out = Command::new("openssl")
        .args(["x509", "-noout", "-fingerprint", "-sha256", "-in"])
        .arg(dir.path().join("authority.pem"))
        .output()
        .unwrap();
    let shown = String::from_utf8(out.stdout).unwrap();
    let shown = shown.trim().split_once('=').unwrap().1.replace(':', "");
    assert_eq!(shown, authority.fingerprint.to_string().replace(' ', ""));
}

#[test]
fn a_box_whose_clock_is_not_set_makes_certificates_that_stand_later() {
    let (authority, _) = Authority::make(None, &BTreeSet::new(), 0).unwrap();
    assert!(authority.not_after > JUNE + 8 * 365 * DAY);
    let here = names(&["localhost"]);
    let leaf = authority.issue(&here, 0).unwrap();
    assert!(leaf.serves(&authority, &here, 0));
    believes(&authority, &leaf, "localhost", 1_767_312_000).unwrap();
    assert!(!leaf.serves(&authority, &here, JUNE + 365 * DAY), "and is renewed when the clock is set");
}

fn machine(address: &str) -> Machine {
    Machine { host_name: Some("box".into()), addresses: vec![address.parse().unwrap()] }
}

fn own(dir: &Path, address: &str, configured: &[&str], now: Seconds) -> Result<Tls, TlsError> {
    let reach = Reach { listen: "0.0.0.0".parse().unwrap(), configured: names(configured) };
    Tls::open(Wanted::Own { dir: dir.join("tls") }, reach, &machine(address), now)
}

fn shown(tls: &Tls) -> CertificateDer<'static> {
    tls.serving.leaf().unwrap().shown.cert[0].clone()
}

#[test]
fn the_authority_stays_and_the_certificate_follows_names_and_time() {
    let dir = tempfile::tempdir().unwrap();
    let first = own(dir.path(), "192.168.4.2", &["shop.lan"], JUNE).unwrap();
    let fingerprint = first.authority().unwrap().fingerprint;
    assert_eq!(first.mode(), Mode::Own);
    assert!(first.names().is_superset(&names(&["shop.lan", "192.168.4.2", "box.local", "localhost"])));
    let same = own(dir.path(), "192.168.4.2", &["shop.lan"], JUNE + 200 * DAY).unwrap();
    assert_eq!(shown(&first), shown(&same));
    // The network gave another address; a restart is not needed.
    assert!(!same.check(&machine("192.168.4.2"), JUNE).unwrap());
    assert!(same.check(&machine("192.168.4.9"), JUNE).unwrap());
    assert!(same.names().contains(&Name::of_host("192.168.4.9").unwrap()));
    assert!(!same.names().contains(&Name::of_host("192.168.4.2").unwrap()));
    assert_ne!(shown(&first), shown(&same));
    let restarted = own(dir.path(), "192.168.4.9", &["shop.lan"], JUNE).unwrap();
    assert_eq!(shown(&restarted), shown(&same), "what was made while running is kept");
    // Thirty days before its end.
    assert!(!restarted.check(&machine("192.168.4.9"), JUNE + (LEAF_DAYS - 31) * DAY).unwrap());
    let late = JUNE + (LEAF_DAYS - 30) * DAY;
    assert!(restarted.check(&machine("192.168.4.9"), late).unwrap());
    assert!(restarted.not_after().unwrap() >= late + 299 * DAY);
    assert_eq!(restarted.authority().unwrap().fingerprint, fingerprint, "no device is visited again");
}

#[test]
fn an_address_that_nobody_would_believe_is_left_out_or_refused() {
    let dir = tempfile::tempdir().unwrap();
    let tls = own(dir.path(), "203.0.113.7", &[], JUNE).unwrap();
    assert!(!tls.names().contains(&Name::of_host("203.0.113.7").unwrap()));
    let error = own(dir.path(), "192.168.4.2", &["taller.example"], JUNE).err().unwrap().to_string();
    assert!(error.contains("made without taller.example"), "{error}");
    let elsewhere = tempfile::tempdir().unwrap();
    let tls = own(elsewhere.path(), "192.168.4.2", &["taller.example"], JUNE).unwrap();
    assert!(tls.names().contains(&Name::of_host("taller.example").unwrap()));
}

#[test]
fn a_damaged_certificate_is_made_anew_and_a_damaged_authority_never() {
    let dir = tempfile::tempdir().unwrap();
    let fingerprint = own(dir.path(), "10.0.0.7", &[], JUNE).unwrap().authority().unwrap().fingerprint;
    let file = |name: &str| dir.path().join("tls").join(name);
    fs::write(file("server.pem"), "ha").unwrap();
    assert_eq!(own(dir.path(), "10.0.0.7", &[], JUNE).unwrap().authority().unwrap().fingerprint, fingerprint);
    // A certificate of another authority is not shown.
    let (other, _) = authority(&[]);
    let strange = other.issue(&own(dir.path(), "10.0.0.7", &[], JUNE).unwrap().names(), JUNE).unwrap();
    fs::write(file("server.pem"), &strange.pem).unwrap();
    assert_ne!(shown(&own(dir.path(), "10.0.0.7", &[], JUNE).unwrap()), strange.shown.cert[0]);
    let kept = fs::read(file("authority.pem")).unwrap();
    fs::write(file("authority.pem"), &kept[..kept.len() / 2]).unwrap();
    assert!(matches!(own(dir.path(), "10.0.0.7", &[], JUNE), Err(TlsError::Authority)));
    assert_eq!(fs::read(file("authority.pem")).unwrap().len(), kept.len() / 2, "left for who can mend it");
}

#[test]
fn certificate_files_are_read_again_and_half_of_them_is_not_shown() {
    let dir = tempfile::tempdir().unwrap();
    let (authority, _) = authority(&["taller.example"]);
    let (certificate, key) = (dir.path().join("server.crt"), dir.path().join("server.key"));
    let parts = |leaf: &Leaf| {
        let text = String::from_utf8(leaf.pem.clone()).unwrap();
        let at = text.find("-----BEGIN CERTIFICATE").unwrap();
        (text[at..].to_owned(), text[..at].to_owned())
    };
    let leaves = [JUNE, JUNE + DAY].map(|at| authority.issue(&names(&["taller.example"]), at).unwrap());
    let [old, new] = leaves.each_ref().map(parts);
    let open = || {
        let wanted = Wanted::Files { certificate: certificate.clone(), key: key.clone() };
        let reach = Reach { listen: "0.0.0.0".parse().unwrap(), configured: BTreeSet::new() };
        Tls::open(wanted, reach, &Machine::default(), JUNE)
    };
    let missing = open().err().unwrap().to_string();
    assert!(missing.contains("server.crt"), "{missing}");
    fs::write(&certificate, &old.0).unwrap();
    fs::write(&key, &old.1).unwrap();
    let tls = open().unwrap();
    assert_eq!((shown(&tls), tls.mode()), (leaves[0].shown.cert[0].clone(), Mode::Files));
    assert!(tls.authority().is_none(), "others vouch for it");
    let check = || tls.check(&Machine::default(), JUNE);
    assert!(!check().unwrap());
    fs::write(&certificate, &new.0).unwrap();
    let error = check().unwrap_err().to_string();
    assert!(error.contains("does not belong"), "{error}");
    assert_eq!(shown(&tls), leaves[0].shown.cert[0]);
    fs::write(&key, &new.1).unwrap();
    assert!(check().unwrap());
    assert_eq!(shown(&tls), leaves[1].shown.cert[0]);
}

#[test]
fn what_others_can_reach_is_https() {
    let door = |https: Https| Door { listen: String::new(), https, dir: "d".into(), ..Door::default() };
    let at = |text: &str| text.parse::<SocketAddr>().unwrap();
    let own = Wanted::Own { dir: "d".into() };
    for here in ["127.0.0.1:8080", "[::1]:8080"] {
        assert_eq!(door(Https::Auto).wanted(&at(here)), Wanted::Plain);
        assert_eq!(door(Https::Always).wanted(&at(here)), own);
    }
    for everywhere in ["0.0.0.0:8080", "[::]:8080", "192.168.4.2:8080"] {
        assert_eq!(door(Https::Auto).wanted(&at(everywhere)), own);
        assert_eq!(door(Https::Never).wanted(&at(everywhere)), Wanted::Plain);
    }
}

#[test]
fn people_are_told_an_address_that_their_devices_believe() {
    let dir = tempfile::tempdir().unwrap();
    let told = |address: Option<&str>, listen: &str, on: &str| {
        let door = Door {
            address: address.map(str::to_owned),
            // An authority for each: it speaks for what it was made for.
            dir: dir.path().join(format!("{address:?} {listen}").replace([':', '[', ']', '/'], "_")),
            ..Door::default()
        };
        let local: SocketAddr = listen.parse().unwrap();
        let wanted = door.wanted(&local);
        let reach = door.reach(&local, &wanted)?;
        let tls = Tls::open(wanted, reach, &machine(on), JUNE).unwrap();
        let app = door.address(&local, &tls, &machine(on));
        let page = SocketAddr::new(local.ip(), local.port() + 1);
        Ok::<_, DoorError>((app.clone(), door.onboarding(&app, &page, &local)))
    };
    let pair = |app: &str, page: &str| (app.to_owned(), page.to_owned());
    let everywhere = "0.0.0.0:8443";
    let of = |address, listen, on| told(address, listen, on).unwrap();
    assert_eq!(
        of(None, everywhere, "192.168.4.2"),
        pair("https://192.168.4.2:8443", "http://192.168.4.2:8444")
    );
    assert_eq!(of(None, everywhere, "203.0.113.7"), pair("https://box.local:8443", "http://box.local:8444"));
    assert_eq!(
        of(None, "203.0.113.7:443", "203.0.113.7"),
        pair("https://203.0.113.7", "http://203.0.113.7:444")
    );
    assert_eq!(
        of(Some("https://shop.lan/"), everywhere, "192.168.4.2"),
        pair("https://shop.lan", "http://shop.lan:8444")
    );
    assert_eq!(of(None, "127.0.0.1:8080", "192.168.4.2").0, "http://localhost:8080");
    let wrong = |address: &str| told(Some(address), everywhere, "192.168.4.2").unwrap_err();
    assert!(matches!(wrong("http://shop.lan:8443"), DoorError::AddressPlain(_)));
    for address in ["shop.lan", "https://", "ftp://shop.lan", "https://shop.lan/app", "https://my_box"] {
        assert!(matches!(wrong(address), DoorError::Address(_)), "{address}");
    }
}

#[test]
fn a_fingerprint_is_read_in_four_lines_of_four() {
    let lines = Fingerprint::of(b"").lines();
    // SHA-256 of nothing: FIPS 180-4's algorithm, value as in NIST's example set (CAVS, length 0).
    assert_eq!(lines[0], "E3B0 C442 98FC 1C14");
    assert_eq!(lines.len(), 4);
    assert!(lines.iter().all(|line| line.split(' ').all(|group| group.len() == 4)));
}

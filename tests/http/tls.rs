//! HTTPS by the shop's own authority, with the real binary and clients that trust nothing else.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, mpsc};
use std::time::Duration;

use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, ServerName};
use rustls::{ClientConfig, ClientConnection, ProtocolVersion, RootCertStore, SupportedProtocolVersion};
use serde_json::{Value, json};
use store::Memory;
use tls::authority::Authority;
use tls::door::{Door, Https};
use tls::name::{Machine, Name, given};
use tls::{Fingerprint, now, provider};
use turnbuckle::clock::Clock;
use turnbuckle::serve::{open_store, start};
use ureq::Agent;
use ureq::tls::{Certificate, RootCerts, TlsConfig};

use crate::process::first_link;
use crate::support::{agent, monday};

struct Server {
    child: Child,
    port: u16,
    /// "https://localhost:1234"
    base: String,
    page: Option<String>,
    token: Option<String>,
    said: String,
}

impl Server {
    /// Starts on a port that was free a moment ago; if somebody was faster, on another.
    fn start(data: &Path, args: &[&str]) -> Self {
        let started = (0..20).find_map(|_| {
            let free = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
            Self::start_at(data, free, args)
        });
        started.expect("a server that starts")
    }

    fn start_at(data: &Path, port: u16, args: &[&str]) -> Option<Self> {
        let new = !data.join("tls").exists();
        let mut child = Command::new(env!("CARGO_BIN_EXE_turnbuckle"))
            .args(["serve", "--listen", &format!("127.0.0.1:{port}"), "--data"])
            .arg(data)
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        let mut said = String::new();
        // The last word: the sign-in link where a shop is new, else the fingerprint.
        let last = if new { "#join=" } else { "fingerprint must be" };
        for line in lines.by_ref() {
            let line = first_link(&line).unwrap_or(line);
            said.push_str(&line);
            said.push('\n');
            if line.contains(last) || !new && !args.contains(&"--https") {
                break;
            }
        }
        std::thread::spawn(move || lines.for_each(drop));
        let word =
            |start: &str| said.split_whitespace().find(|word| word.starts_with(start)).map(str::to_owned);
        let Some(base) = word("https://").or_else(|| word("http://")) else {
            child.wait().unwrap();
            return None;
        };
        let page = word("http://").filter(|_| base.starts_with("https"));
        let token = said.split_once("#join=").map(|(_, rest)| rest.split_whitespace().next().unwrap().into());
        Some(Self { child, port, base, page, token, said })
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The certificate as a new device gets it.
fn downloaded(page: &str) -> Vec<u8> {
    let mut answer = agent().get(format!("{page}/turnbuckle-shop.crt")).call().unwrap();
    assert_eq!(answer.status().as_u16(), 200);
    assert_eq!(answer.headers()["content-type"], "application/x-x509-ca-cert");
    answer.body_mut().read_to_vec().unwrap()
}

/// A phone that trusts this one authority.
fn trusting(authority: &[u8]) -> Agent {
    let root = Certificate::from_der(authority).to_owned();
    let tls = TlsConfig::builder()
        .root_certs(RootCerts::new_with_certs(&[root]))
        .unversioned_rustls_crypto_provider(provider())
        .build();
    let config = Agent::config_builder().tls_config(tls).http_status_as_error(false);
    config.timeout_global(Some(Duration::from_secs(20))).build().into()
}

/// What a handshake under a name agrees on, or why it does not.
fn handshake(
    server: &Server,
    authority: &[u8],
    name: &str,
    versions: &[&'static SupportedProtocolVersion],
) -> Result<(ProtocolVersion, Vec<u8>), String> {
    let mut roots = RootCertStore::empty();
    roots.add(CertificateDer::from(authority.to_vec())).unwrap();
    let mut config = ClientConfig::builder_with_provider(provider())
        .with_protocol_versions(versions)
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
    let name = ServerName::try_from(name.to_owned()).unwrap();
    let mut connection = ClientConnection::new(Arc::new(config), name).unwrap();
    let mut socket = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
    while connection.is_handshaking() {
        connection.complete_io(&mut socket).map_err(|error| error.to_string())?;
    }
    let alpn = connection.alpn_protocol().unwrap_or_default().to_vec();
    Ok((connection.protocol_version().unwrap(), alpn))
}

const BOTH: &[&SupportedProtocolVersion] = &[&rustls::version::TLS13, &rustls::version::TLS12];

fn mode(path: &Path) -> u32 {
    std::fs::metadata(path).unwrap().permissions().mode() & 0o777
}

#[test]
fn a_device_that_trusts_the_shop_signs_in_and_no_other_can() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    let server = Server::start(&data, &["--https", "--onboard", "127.0.0.1:0"]);
    assert!(server.base.starts_with("https://localhost:"), "{}", server.said);
    let page = server.page.clone().expect("a page for new devices");
    let authority = downloaded(&page);
    let device = trusting(&authority);

    let url = |path: &str| format!("{}{path}", server.base);
    let token = server.token.as_ref().unwrap();
    let joined = device.post(url("/api/v1/auth/join")).send_json(json!({"token": token})).unwrap();
    assert_eq!(joined.status().as_u16(), 200);
    let cookies: Vec<_> =
        joined.headers().get_all("set-cookie").iter().map(|c| c.to_str().unwrap().to_owned()).collect();
    assert_eq!(cookies.len(), 3);
    for start in ["__Host-turnbuckle_access_", "__Secure-turnbuckle_refresh_", "__Secure-turnbuckle_browser_"]
    {
        assert!(cookies.iter().any(|cookie| cookie.starts_with(start)), "{start} in {cookies:?}");
    }
    for cookie in &cookies {
        for part in ["; Secure", "; HttpOnly", "; SameSite=Strict"] {
            assert!(cookie.contains(part), "{part} in {cookie}");
        }
    }
    assert!(!joined.headers().contains_key("strict-transport-security"), "never with an own authority");

    // The other side of the comparison: whoever is signed in, and the terminal.
    let status: Value = device.get(url("/api/v1/tls")).call().unwrap().body_mut().read_json().unwrap();
    let fingerprint = Fingerprint::of(&authority);
    assert_eq!(status["mode"], "own");
    assert_eq!(status["fingerprint"], fingerprint.to_string());
    assert_eq!(status["onboarding"], page);
    let days = (status["not_after"].as_i64().unwrap() / 1_000 - now()) / 86_400;
    assert!((290..=365).contains(&days), "{days}");
    assert!(server.said.contains("fingerprint must be"), "{}", server.said);
    let stranger = trusting(&authority).get(url("/api/v1/tls")).call().unwrap();
    assert_eq!(stranger.status().as_u16(), 401);

    // Another shop's authority, or the public ones, are not believed.
    let elsewhere = tempfile::tempdir().unwrap();
    let other = Server::start(&elsewhere.path().join("data"), &["--https", "--onboard", "127.0.0.1:0"]);
    let foreign = downloaded(other.page.as_ref().unwrap());
    let refused = trusting(&foreign).get(url("/healthz")).call().unwrap_err().to_string();
    assert!(refused.contains("certificate"), "{refused}");
    assert!(handshake(&server, &foreign, "localhost", BOTH).unwrap_err().contains("UnknownIssuer"));

    for (version, number) in [
        (&rustls::version::TLS13, ProtocolVersion::TLSv1_3),
        (&rustls::version::TLS12, ProtocolVersion::TLSv1_2),
    ] {
        assert_eq!(
            handshake(&server, &authority, "localhost", &[version]),
            Ok((number, b"http/1.1".to_vec()))
        );
    }
    let tls = data.join("tls");
    assert_eq!(
        (mode(&tls), mode(&tls.join("authority.pem")), mode(&tls.join("server.pem"))),
        (0o700, 0o600, 0o600)
    );
}

#[test]
fn a_restored_shop_is_the_one_that_devices_trust() {
    let dir = tempfile::tempdir().unwrap();
    let (data, restored, file) =
        (dir.path().join("data"), dir.path().join("again"), dir.path().join("backup"));
    let args = ["--https", "--onboard", "127.0.0.1:0"];
    let server = Server::start(&data, &args);
    let authority = downloaded(server.page.as_ref().unwrap());
    drop(server);
    for (what, data) in [("backup", &data), ("restore", &restored)] {
        let mut command = Command::new(env!("CARGO_BIN_EXE_turnbuckle"));
        assert!(
            command.arg(what).arg(&file).arg("--data").arg(data).output().unwrap().status.success(),
            "{what}"
        );
    }
    let server = Server::start(&restored, &args);
    assert_eq!(downloaded(server.page.as_ref().unwrap()), authority);
    assert_eq!(mode(&restored.join("tls/authority.pem")), 0o600);
    assert!(handshake(&server, &authority, "localhost", BOTH).is_ok());
}

#[test]
fn a_restart_under_another_of_its_names_asks_nothing_of_the_devices_and_under_a_strange_one_does_not_start() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    let start = |address: Option<&str>| {
        let mut args = vec!["--https", "--onboard", "127.0.0.1:0"];
        args.extend(address.into_iter().flat_map(|address| ["--address", address]));
        Server::start(&data, &args)
    };
    let kept = || std::fs::read(data.join("tls/server.pem")).unwrap();
    let server = start(None);
    let authority = downloaded(server.page.as_ref().unwrap());
    let first = kept();
    // As a router may call this machine; one without a proper name has only this one.
    let host = Machine::look().host_name;
    let own =
        given(host.as_deref()).into_iter().find(|name| name.ends_with(".lan")).unwrap_or("localhost".into());
    assert!(handshake(&server, &authority, "taller.lan", BOTH).is_err());
    drop(server);
    let server = start(None);
    assert_eq!(kept(), first, "nothing changed, nothing is made");
    drop(server);
    let server = start(Some(&format!("https://{own}")));
    assert!(server.base.ends_with(&format!("://{own}")), "{}", server.said);
    let mut socket = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
    assert!(believes(&mut socket, &authority, &own), "the old trust, the new name");
    drop(server);
    // The authority speaks for this machine's names: somebody else's of the same network would not be believed.
    let args = ["serve", "--listen", "127.0.0.1:0", "--https", "--address", "https://taller.lan", "--data"];
    let out = Command::new(env!("CARGO_BIN_EXE_turnbuckle")).args(args).arg(&data).output().unwrap();
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.code() == Some(1) && said.contains("was made without taller.lan"), "{said}");
}

fn believes(socket: &mut TcpStream, authority: &[u8], name: &str) -> bool {
    let mut roots = RootCertStore::empty();
    roots.add(CertificateDer::from(authority.to_vec())).unwrap();
    let config = ClientConfig::builder_with_provider(provider())
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    let mut connection =
        ClientConnection::new(Arc::new(config), ServerName::try_from(name.to_owned()).unwrap()).unwrap();
    let mut stream = rustls::Stream::new(&mut connection, socket);
    let ask = format!("GET /trust.txt HTTP/1.1\r\nHost: {name}\r\nConnection: close\r\n\r\n");
    let mut said = String::new();
    stream.write_all(ask.as_bytes()).is_ok()
        && matches!(stream.read_to_string(&mut said), Ok(_) | Err(_))
        && said.starts_with("HTTP/1.1 200")
        && said.ends_with("trusted\n")
}

#[test]
fn the_plain_listener_gives_the_page_and_the_certificate_and_nothing_else() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(&dir.path().join("data"), &["--https", "--onboard", "127.0.0.1:0"]);
    let page = server.page.clone().unwrap();
    let get = |path: &str, language: &str| {
        let mut answer =
            agent().get(format!("{page}{path}")).header("Accept-Language", language).call().unwrap();
        let text = answer.body_mut().read_to_string().unwrap_or_default();
        (answer.status().as_u16(), answer.headers().clone(), text)
    };
    let (status, headers, html) = get("/", "es-MX,es;q=0.9");
    assert_eq!(status, 200);
    assert!(html.contains("<html lang=\"es\"") && html.contains("confíe en el taller"));
    let fingerprint = Fingerprint::of(&downloaded(&page));
    for line in fingerprint.lines() {
        assert!(html.contains(&line), "{line} stands on the page");
    }
    assert!(html.contains(&format!("href=\"{}/\"", server.base)));
    let policy = headers["content-security-policy"].to_str().unwrap();
    assert!(policy.starts_with("default-src 'none'") && policy.contains(&server.base), "{policy}");
    assert!(!policy.contains("unsafe"));
    assert!(get("/", "fr").2.contains("<html lang=\"en\""));
    assert!(get("/?lang=en", "es").2.contains("<html lang=\"en\""), "the switch wins");
    // A strange host does not come into the page.
    let spoiled = agent().get(format!("{page}/")).header("Host", "bank.example").call().unwrap();
    assert!(!spoiled.into_body().read_to_string().unwrap().contains("bank.example"));

    for path in [
        "/api/v1/auth/me",
        "/api/v1/sync/pull",
        "/api/openapi.json",
        "/healthz",
        "/index.html",
        "/sw.js",
        "/tls/authority.pem",
        "/trust.txt",
    ] {
        let (status, headers, text) = get(path, "en");
        assert_eq!((status, headers.contains_key("location")), (404, false), "{path}");
        assert_eq!(text, "There is nothing at this address; start at / of this page.\n", "{path}");
    }
    let posted = agent().post(format!("{page}/api/v1/auth/join")).send_json(json!({"token": "x"})).unwrap();
    assert_eq!(posted.status().as_u16(), 404);
    assert_eq!(agent().post(format!("{page}/")).send_empty().unwrap().status().as_u16(), 404);

    // One small file of the app may be asked for by any page; nothing else may.
    let device = trusting(&downloaded(&page));
    let trust = device.get(format!("{}/trust.txt", server.base)).header("Origin", &page).call().unwrap();
    assert_eq!(trust.headers()["access-control-allow-origin"], "*");
    let other = device.get(format!("{}/healthz", server.base)).header("Origin", &page).call().unwrap();
    assert!(!other.headers().contains_key("access-control-allow-origin"));
}

#[test]
fn a_first_start_that_failed_locks_nobody_out() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    let out = Command::new(env!("CARGO_BIN_EXE_turnbuckle"))
        .args(["serve", "--https", "--listen", "127.0.0.1:0", "--address", "http://shop.lan", "--data"])
        .arg(&data)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(1), "{said}");
    assert!(said.contains("http://shop.lan says http, but this server speaks HTTPS"), "{said}");
    let server = Server::start(&data, &["--https", "--onboard", "127.0.0.1:0"]);
    let device = trusting(&downloaded(server.page.as_ref().unwrap()));
    let token = json!({"token": server.token.as_ref().expect("a link")});
    let joined = device.post(format!("{}/api/v1/auth/join", server.base)).send_json(token).unwrap();
    assert_eq!(joined.status().as_u16(), 200);
}

#[test]
fn a_taken_port_for_the_page_does_not_stop_the_shop() {
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = taken.local_addr().unwrap().to_string();
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(&dir.path().join("data"), &["--https", "--onboard", &at]);
    assert!(server.page.is_none() && server.said.contains("see the log"), "{}", server.said);
    let authority = std::fs::read(dir.path().join("data/tls/authority.pem")).unwrap();
    let authority = CertificateDer::from_pem_slice(&authority).unwrap();
    assert!(handshake(&server, &authority, "127.0.0.1", BOTH).is_ok());
}

#[test]
fn on_this_machine_alone_it_stays_plain() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    let server = Server::start(&data, &[]);
    assert!(server.base.starts_with("http://localhost:"));
    assert!(!data.join("tls").exists(), "no authority that nobody needs");
    assert_eq!(agent().get(format!("{}/healthz", server.base)).call().unwrap().status().as_u16(), 200);
}

/// The certificate that a handshake shows, whoever made it.
fn shown_at(port: u16, authority: &[u8]) -> Vec<u8> {
    let mut roots = RootCertStore::empty();
    roots.add(CertificateDer::from(authority.to_vec())).unwrap();
    let config = ClientConfig::builder_with_provider(provider())
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    let name = ServerName::try_from("localhost").unwrap();
    let mut connection = ClientConnection::new(Arc::new(config), name).unwrap();
    let mut socket = TcpStream::connect(("127.0.0.1", port)).unwrap();
    while connection.is_handshaking() {
        connection.complete_io(&mut socket).unwrap();
    }
    connection.peer_certificates().unwrap()[0].to_vec()
}

#[test]
fn a_renewed_certificate_is_shown_without_a_restart() {
    let dir = tempfile::tempdir().unwrap();
    let (maker, kept) = Authority::make(None, &BTreeSet::new(), now()).unwrap();
    let authority = CertificateDer::from_pem_slice(kept.as_bytes()).unwrap();
    let names = BTreeSet::from([Name::of_host("localhost").unwrap()]);
    let [old, new] = [(), ()].map(|()| maker.issue(&names, now()).unwrap());
    let pem = dir.path().join("server.pem");
    std::fs::write(&pem, &old.pem).unwrap();
    let files = Https::Files { certificate: pem.clone(), key: pem.clone(), hsts: false };
    let door = Door { listen: "127.0.0.1:0".into(), https: files, ..Door::default() };
    let (told, hear) = mpsc::channel();
    let serving = std::thread::spawn(move || {
        actix_web::rt::System::new().block_on(async move {
            let shop = open_store(Arc::new(Memory::new(7)), Clock::at(monday())).unwrap();
            let running = start(shop, &door, None).unwrap();
            told.send((running.address, running.tls, running.server.handle())).unwrap();
            running.server.await.unwrap();
        });
    });
    let (address, tls, handle) = hear.recv().unwrap();
    let port = address.rsplit_once(':').unwrap().1.parse().unwrap();
    assert_eq!(shown_at(port, &authority), old.shown.cert[0].as_ref());
    std::fs::write(&pem, &new.pem).unwrap();
    tls.keep();
    assert_eq!(shown_at(port, &authority), new.shown.cert[0].as_ref());
    std::fs::write(&pem, "half a fi").unwrap();
    tls.keep();
    assert_eq!(shown_at(port, &authority), new.shown.cert[0].as_ref(), "the last good one stays");
    drop(handle.stop(false));
    serving.join().unwrap();
}

#[test]
fn certificate_files_are_shown_and_may_ask_for_https_only() {
    // Somebody else's authority: here another shop's, which made a certificate for localhost.
    let dir = tempfile::tempdir().unwrap();
    let maker = Server::start(&dir.path().join("maker"), &["--https", "--onboard", "127.0.0.1:0"]);
    let authority = downloaded(maker.page.as_ref().unwrap());
    let pem = dir.path().join("maker/tls/server.pem");
    assert!(PrivateKeyDer::from_pem_file(&pem).is_ok());
    let config = dir.path().join("config.toml");
    let written = |hsts: bool| {
        let pem = pem.display();
        std::fs::write(&config, format!("[tls]\ncertificate = \"{pem}\"\nkey = \"{pem}\"\nhsts = {hsts}\n"))
            .unwrap();
    };
    for hsts in [true, false] {
        written(hsts);
        let data = dir.path().join(format!("data-{hsts}"));
        let server = Server::start(&data, &["--config", config.to_str().unwrap()]);
        assert!(server.base.starts_with("https://") && server.page.is_none(), "{}", server.said);
        assert!(!data.join("tls").exists());
        let at = format!("https://localhost:{}", server.port);
        let answer = trusting(&authority).get(format!("{at}/healthz")).call().unwrap();
        let told = answer.headers().get("strict-transport-security").map(|v| v.to_str().unwrap().to_owned());
        assert_eq!(told.as_deref(), hsts.then_some("max-age=31536000"));
    }
}

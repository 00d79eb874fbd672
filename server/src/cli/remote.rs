//! Asking a server that runs, as its API's client: one request, one answer, no redirects.
//!
//! Invariant: the token goes to the server that was named and nowhere else; over HTTPS only to one whose
//! certificate the given authority has signed.

use std::io::{Read, Write};
use std::net::{TcpStream, ToSocketAddrs};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, ServerName};
use serde_json::Value;

use super::{Failure, ServerArgs};
use tls::provider;

const PATIENCE: Duration = Duration::from_secs(30);
/// More than any answer; a server that never stops talking is no server of ours.
const ANSWER_BYTES_MAX: u64 = 256 << 20;

pub struct Server {
    /// host:port, as it was named.
    host: String,
    address: String,
    token: String,
    tls: Option<Arc<rustls::ClientConfig>>,
}

impl Server {
    pub fn new(args: &ServerArgs) -> Result<Self, Failure> {
        let url = args.server.as_deref().unwrap_or_default();
        let wrong = || {
            Failure::Usage(format!(
                "«{url}» is no address of a server; write for example http://localhost:8080"
            ))
        };
        let (https, rest) = match url.split_once("://") {
            Some(("http", rest)) => (false, rest),
            Some(("https", rest)) => (true, rest),
            _ => return Err(wrong()),
        };
        let host = rest.trim_end_matches('/');
        if host.is_empty() || host.contains(['/', '@', '?', '#']) || host.contains(char::is_whitespace) {
            return Err(wrong());
        }
        let has_port = host.rsplit_once(':').is_some_and(|(_, port)| port.parse::<u16>().is_ok());
        let port = if https { 443 } else { 80 };
        let address = if has_port { host.to_owned() } else { format!("{host}:{port}") };
        let token = match &args.token_file {
            Some(file) => {
                let read = std::fs::read_to_string(file);
                let read =
                    read.map_err(|e| Failure::Usage(format!("cannot read {}: {e}", file.display())))?;
                read.trim().to_owned()
            }
            None => args.token.clone().unwrap_or_default(),
        };
        if token.is_empty() || token.bytes().any(|b| !b.is_ascii_graphic()) {
            return Err(Failure::Usage(
                "a running server asks who is there: give an access token with --token-file or in TURNBUCKLE_TOKEN".into(),
            ));
        }
        let tls = if https { Some(config(args.authority.as_deref())?) } else { None };
        Ok(Self { host: host.to_owned(), address, token, tls })
    }

    pub fn get(&self, path: &str) -> Result<Value, Failure> {
        let cannot = |source| Failure::Io { what: format!("{} cannot be asked", self.host), source };
        let answer = self.exchange(path).map_err(cannot)?;
        let unreadable =
            || Failure::Said(format!("{} gave an answer that is none of this server's", self.host));
        let end = answer.windows(4).position(|w| w == b"\r\n\r\n").ok_or_else(unreadable)?;
        let head = String::from_utf8_lossy(&answer[..end]);
        let status: u16 = head.split(' ').nth(1).and_then(|s| s.parse().ok()).ok_or_else(unreadable)?;
        let body: Value = serde_json::from_slice(&answer[end + 4..]).map_err(|_| unreadable())?;
        if status == 200 {
            return Ok(body);
        }
        let said = body["message"].as_str().map_or_else(|| format!("status {status}"), str::to_owned);
        let said = format!("{} answered: {said}", self.host);
        // 422: the question itself, which came from the command line.
        Err(if status == 422 { Failure::Usage(said) } else { Failure::Said(said) })
    }

    /// HTTP/1.0, so that the answer comes in one piece and ends with the connection.
    fn exchange(&self, path: &str) -> std::io::Result<Vec<u8>> {
        let nowhere = || std::io::Error::other("its name leads nowhere");
        let mut last = nowhere();
        let mut stream = None;
        for address in self.address.to_socket_addrs()? {
            match TcpStream::connect_timeout(&address, PATIENCE) {
                Ok(found) => {
                    stream = Some(found);
                    break;
                }
                Err(error) => last = error,
            }
        }
        let mut stream = stream.ok_or(last)?;
        stream.set_read_timeout(Some(PATIENCE))?;
        stream.set_write_timeout(Some(PATIENCE))?;
        let request = format!(
            "GET {path} HTTP/1.0\r\nHost: {}\r\nAuthorization: Bearer {}\r\nAccept: application/json\r\n\r\n",
            self.host, self.token
        );
        let Some(tls) = &self.tls else { return talk(&mut stream, &request) };
        let name = self.host.rsplit_once(':').map_or(self.host.as_str(), |(name, _)| name);
        let name = ServerName::try_from(name.trim_matches(['[', ']']).to_owned()).map_err(|_| nowhere())?;
        let connection = rustls::ClientConnection::new(tls.clone(), name).map_err(std::io::Error::other)?;
        talk(&mut rustls::StreamOwned::new(connection, stream), &request)
    }
}

fn talk(stream: &mut (impl Read + Write), request: &str) -> std::io::Result<Vec<u8>> {
    stream.write_all(request.as_bytes())?;
    stream.flush()?;
    let mut answer = Vec::new();
    match stream.take(ANSWER_BYTES_MAX).read_to_end(&mut answer) {
        // Not every server says goodbye before it hangs up; the JSON shows whether all of it came.
        Err(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => Ok(answer),
        read => read.map(|_| answer),
    }
}

fn config(authority: Option<&Path>) -> Result<Arc<rustls::ClientConfig>, Failure> {
    let Some(file) = authority else {
        return Err(Failure::Usage(
            "over HTTPS the shop's certificate authority must be named with --authority FILE (it lies in the data directory, tls/)".into(),
        ));
    };
    let cannot = |why: &dyn std::fmt::Display| {
        Failure::Said(format!("{} is no certificate authority: {why}", file.display()))
    };
    let mut roots = rustls::RootCertStore::empty();
    for certificate in CertificateDer::pem_file_iter(file).map_err(|e| cannot(&e))? {
        roots.add(certificate.map_err(|e| cannot(&e))?).map_err(|e| cannot(&e))?;
    }
    if roots.is_empty() {
        return Err(cannot(&"it holds no certificate"));
    }
    let builder = rustls::ClientConfig::builder_with_provider(provider());
    let builder = builder.with_safe_default_protocol_versions().map_err(|e| cannot(&e))?;
    Ok(Arc::new(builder.with_root_certificates(roots).with_no_client_auth()))
}

/// A value inside an address (RFC 3986, 2.1).
pub fn escaped(value: &str) -> String {
    let one = |b: u8| match b {
        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => char::from(b).to_string(),
        other => format!("%{other:02X}"),
    };
    value.bytes().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(server: &str, token: Option<&str>) -> Result<Server, String> {
        let args = ServerArgs {
            server: Some(server.into()),
            token: token.map(Into::into),
            token_file: None,
            authority: None,
        };
        Server::new(&args).map_err(|failure| failure.to_string())
    }

    #[test]
    fn only_an_address_is_an_address() {
        for wrong in
            ["", "localhost:8080", "ftp://x", "http://", "http://a/b", "http://user@host", "http://a b"]
        {
            let said = named(wrong, Some("t")).err().unwrap_or_default();
            assert!(said.contains("is no address of a server"), "{wrong}: {said}");
        }
        let at = |url| named(url, Some("t")).map(|s| s.address).unwrap_or_default();
        assert_eq!(at("http://localhost:8080/"), "localhost:8080");
        assert_eq!(at("http://shop.internal"), "shop.internal:80");
        assert_eq!(at("http://[::1]:81"), "[::1]:81");
    }

    #[test]
    fn who_asks_must_say_so_and_be_told_whom_to_trust() {
        assert!(named("http://localhost", None).err().unwrap_or_default().contains("--token"));
        assert!(named("http://localhost", Some("a\r\nb")).err().unwrap_or_default().contains("--token"));
        assert!(named("https://localhost", Some("t")).err().unwrap_or_default().contains("--authority"));
    }

    #[test]
    fn what_is_no_plain_letter_is_escaped() {
        assert_eq!(escaped("body-2"), "body-2");
        assert_eq!(escaped("a b&ü"), "a%20b%26%C3%BC");
    }
}

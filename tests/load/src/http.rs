//! A phone's connection: HTTP/1.1 with keep-alive over one socket, bytes counted. Nothing cleverer, so
//! that the simulator leaves the processor to the server.

use std::io::{self, BufRead, BufReader, Read, Write};
use std::net::TcpStream;

use flate2::read::GzDecoder;
use serde_json::Value;

pub struct Connection {
    reader: BufReader<TcpStream>,
    host: String,
    cookie: String,
    /// Asks for compressed answers. Off where the simulator's time would be taken from the server's.
    gzip: bool,
    pub bytes_up: u64,
    pub bytes_down: u64,
}

pub struct Answer {
    pub status: u16,
    pub body: Value,
    pub cookies: Vec<String>,
}

impl Connection {
    pub fn open(host: &str) -> io::Result<Self> {
        let socket = TcpStream::connect(host)?;
        socket.set_nodelay(true)?;
        Ok(Self {
            reader: BufReader::new(socket),
            host: host.into(),
            cookie: String::new(),
            gzip: false,
            bytes_up: 0,
            bytes_down: 0,
        })
    }

    pub fn signed_in(host: &str, cookie: &str) -> io::Result<Self> {
        Ok(Self { cookie: cookie.into(), ..Self::open(host)? })
    }

    pub fn compressed(self) -> Self {
        Self { gzip: true, ..self }
    }

    /// The socket, and what was read from it too early.
    pub fn into_parts(self) -> (TcpStream, Vec<u8>) {
        let early = self.reader.buffer().to_vec();
        (self.reader.into_inner(), early)
    }

    pub fn cookie(&self) -> &str {
        &self.cookie
    }

    pub fn send(&mut self, method: &str, path: &str, body: Option<&Value>) -> io::Result<Answer> {
        self.write(method, path, body)?;
        let (status, length, cookies) = self.head()?;
        let mut bytes = Vec::new();
        match length {
            Some(length) => {
                bytes.resize(length, 0);
                self.reader.read_exact(&mut bytes)?;
                self.bytes_down += length as u64;
            }
            None => {
                while let Some(chunk) = self.chunk()? {
                    bytes.extend(chunk);
                }
            }
        }
        for cookie in &cookies {
            // The other cookie goes only to the addresses that renew a sign-in, as its path says.
            if !cookie.contains("Path=/api/v1/auth") {
                self.cookie = cookie.split(';').next().unwrap_or_default().into();
            }
        }
        if bytes.starts_with(&[0x1f, 0x8b]) {
            let mut text = Vec::new();
            GzDecoder::new(&bytes[..]).read_to_end(&mut text)?;
            bytes = text;
        }
        Ok(Answer { status, body: serde_json::from_slice(&bytes).unwrap_or(Value::Null), cookies })
    }

    fn write(&mut self, method: &str, path: &str, body: Option<&Value>) -> io::Result<()> {
        let body = body.map(Value::to_string).unwrap_or_default();
        let encoding = if self.gzip { "gzip" } else { "identity" };
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\nX-Turnbuckle-Protocol: 1\r\nAccept-Encoding: {encoding}\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            self.host,
            self.cookie,
            body.len()
        );
        self.bytes_up += request.len() as u64;
        self.reader.get_mut().write_all(request.as_bytes())
    }

    fn head(&mut self) -> io::Result<(u16, Option<usize>, Vec<String>)> {
        let (mut status, mut length, mut cookies) = (0, None, Vec::new());
        loop {
            let mut line = String::new();
            if self.reader.read_line(&mut line)? == 0 {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
            self.bytes_down += line.len() as u64;
            let line = line.trim_end();
            if line.is_empty() {
                return Ok((status, length, cookies));
            }
            if let Some(rest) = line.strip_prefix("HTTP/1.1 ") {
                status = rest[..3].parse().unwrap_or(0);
            } else if let Some((name, value)) = line.split_once(':') {
                match name.to_ascii_lowercase().as_str() {
                    "content-length" => length = value.trim().parse().ok(),
                    "set-cookie" => cookies.push(value.trim().to_owned()),
                    _ => {}
                }
            }
            if status == 204 {
                length = Some(0);
            }
        }
    }

    /// One chunk of a chunked answer; none at its end.
    fn chunk(&mut self) -> io::Result<Option<Vec<u8>>> {
        let mut line = String::new();
        if self.reader.read_line(&mut line)? == 0 {
            return Ok(None);
        }
        let length = usize::from_str_radix(line.trim(), 16)
            .map_err(|_| io::Error::from(io::ErrorKind::InvalidData))?;
        let mut bytes = vec![0; length + 2];
        self.reader.read_exact(&mut bytes)?;
        self.bytes_down += (line.len() + bytes.len()) as u64;
        bytes.truncate(length);
        Ok((length > 0).then_some(bytes))
    }

    /// Opens the live channel, compressed as browsers ask for it.
    pub fn live(&mut self, after: u64) -> io::Result<()> {
        self.write("GET", &format!("/api/v1/live?after={after}&protocol=1"), None)?;
        let (status, ..) = self.head()?;
        if status == 200 { Ok(()) } else { Err(io::Error::other(format!("the live channel said {status}"))) }
    }
}

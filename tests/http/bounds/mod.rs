//! What somebody can do to the server who means it harm, and the right use beside it. All of it goes to
//! loopback only.

mod answers;
mod erased;
mod fields;
mod long_day;
mod mail_down;
mod photos;
mod strangers;
mod writing;

use std::io::{BufRead, BufReader, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use ureq::Agent;

use crate::process::first_link;
use crate::support::agent;

/// The real binary, so that memory and handles are its own.
pub struct Server {
    child: Child,
    pub port: u16,
    pub base: String,
    pub token: String,
}

impl Server {
    /// `limit` goes to `ulimit` first, such as "-Sn 256".
    pub fn start(data: &Path, limit: Option<&str>) -> Self {
        (0..20).find_map(|_| Self::try_start(data, limit)).expect("a server that starts")
    }

    /// On a port that was free a moment ago.
    fn try_start(data: &Path, limit: Option<&str>) -> Option<Self> {
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let limit = limit.map_or_else(String::new, |limit| format!("ulimit {limit} && "));
        let mut child = Command::new("sh")
            .arg("-c")
            .arg(format!("{limit}exec \"$0\" serve --plain --listen 127.0.0.1:{port} --data \"$1\""))
            .arg(env!("CARGO_BIN_EXE_turnbuckle"))
            .arg(data)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        let token = lines.find_map(|line| Some(first_link(&line)?.split_once("#join=")?.1.to_owned()));
        std::thread::spawn(move || lines.for_each(drop));
        let Some(token) = token else {
            child.wait().unwrap();
            return None;
        };
        Some(Self { child, port, base: format!("http://127.0.0.1:{port}"), token })
    }

    /// The administrator, signed in by the first link.
    pub fn admin(&self) -> (Agent, Value) {
        let agent = agent();
        let url = format!("{}/api/v1/auth/join", self.base);
        let mut answer = agent.post(&url).send_json(json!({"token": self.token})).unwrap();
        assert_eq!(answer.status().as_u16(), 200);
        (agent, answer.body_mut().read_json().unwrap())
    }

    /// Resident memory in MiB (proc(5)).
    pub fn memory(&self) -> f64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap();
        let line = status.lines().find(|line| line.starts_with("VmRSS:")).unwrap();
        line.split_whitespace().nth(1).unwrap().parse::<f64>().unwrap() / 1024.0
    }

    /// The soft limit of open files.
    pub fn handles(&self) -> u64 {
        let limits = std::fs::read_to_string(format!("/proc/{}/limits", self.child.id())).unwrap();
        let line = limits.lines().find(|line| line.starts_with("Max open files")).unwrap();
        line.split_whitespace().nth(3).unwrap().parse().unwrap()
    }

    pub fn connect(&self, from: u8) -> std::io::Result<TcpStream> {
        connect_from(from, self.port)
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A connection from 127.0.0.`host`: Linux has all of 127/8 on loopback (RFC 1122, 3.2.1.3).
pub fn connect_from(host: u8, port: u16) -> std::io::Result<TcpStream> {
    use std::os::fd::OwnedFd;

    use rustix::net::{AddressFamily, SocketType, bind, connect, socket};

    let socket: OwnedFd = socket(AddressFamily::INET, SocketType::STREAM, None)?;
    bind(&socket, &SocketAddr::from(([127, 0, 0, host], 0)))?;
    connect(&socket, &SocketAddr::from(([127, 0, 0, 1], port)))?;
    let stream = TcpStream::from(socket);
    stream.set_read_timeout(Some(Duration::from_secs(30)))?;
    stream.set_write_timeout(Some(Duration::from_secs(30)))?;
    Ok(stream)
}

/// Times of answers; says what share of them was at most how long.
pub fn percentile(times: &mut [Duration], share: f64) -> Duration {
    times.sort_unstable();
    times[((times.len() - 1) as f64 * share).round() as usize]
}

/// One request on a connection of its own, with the cookies of `agent`; how long it took.
pub fn timed(agent: &Agent, url: &str) -> (u16, Duration) {
    let began = Instant::now();
    let status = agent.get(url).header("Connection", "close").call().unwrap().status().as_u16();
    (status, began.elapsed())
}

pub fn send(stream: &mut TcpStream, text: &str) -> std::io::Result<()> {
    stream.write_all(text.as_bytes())
}

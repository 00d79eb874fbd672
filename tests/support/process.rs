//! The real binary as a process that tests start, kill and look into.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// Kills in one run; `./tests/run full` does ten times as many.
pub fn rounds() -> usize {
    if std::env::var("TURNBUCKLE_TESTS").as_deref() == Ok("full") { 200 } else { 20 }
}

pub struct Server {
    pub child: Child,
    pub base: String,
}

impl Server {
    /// A new shop prints its first link.
    pub fn start(command: &mut Command, new: bool) -> (Self, Option<String>) {
        let mut child = command.stdout(Stdio::piped()).spawn().expect("the server starts");
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        let (mut base, mut token) = (None, None);
        for line in lines.by_ref() {
            if let Some((left, right)) = first_link(&line).as_ref().and_then(|a| a.split_once("/#join=")) {
                (base, token) = (Some(left.to_owned()), Some(right.to_owned()));
                break;
            }
            let address = line.split_whitespace().find(|word| word.starts_with("http://")).map(str::to_owned);
            base = base.or(address);
            if base.is_some() && !new {
                break;
            }
        }
        // Somebody must read on, or the server would stop at a full pipe.
        std::thread::spawn(move || lines.for_each(drop));
        let base = base.expect("the server says where it listens").replace("localhost", "127.0.0.1");
        (Self { child, base }, token)
    }

    pub fn kill(mut self) {
        // SIGKILL: nothing is flushed, nothing is said.
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

/// A new shop's first link, if this line says it: in a file, where nobody looks at a screen; older releases on the line.
pub fn first_link(line: &str) -> Option<String> {
    match line.split_once(", good once, is in ") {
        Some((_, file)) => Some(std::fs::read_to_string(file).expect("the first link").trim().to_owned()),
        None => line.split_whitespace().find(|word| word.contains("#join=")).map(str::to_owned),
    }
}

/// The one just built, unless another is to be judged.
pub fn binary() -> Command {
    Command::new(std::env::var_os("TURNBUCKLE_BIN").unwrap_or(env!("CARGO_BIN_EXE_turnbuckle").into()))
}

pub fn serve(data: &Path) -> Command {
    let mut command = binary();
    command.args(["serve", "--listen", "127.0.0.1:0", "--data"]).arg(data).stderr(Stdio::null());
    command
}

pub fn verify(data: &Path) {
    let out = binary().args(["verify", "--data"]).arg(data).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
}

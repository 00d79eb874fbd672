//! The server under load: started on a new directory, looked at from outside.

use std::fs::{self, File};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Instant;

pub struct Server {
    /// None: started by somebody else, and not looked into.
    child: Option<Child>,
    pub host: String,
    pub token: String,
}

/// Processor time in milliseconds.
#[derive(Clone, Copy)]
pub struct Cpu {
    pub all_ms: f64,
    pub planner_ms: f64,
}

impl Cpu {
    pub fn since(self, before: Self) -> Self {
        Self { all_ms: self.all_ms - before.all_ms, planner_ms: self.planner_ms - before.planner_ms }
    }
}

impl Server {
    pub fn running(url: &str, token: &str) -> Self {
        let host = url.trim_start_matches("http://").trim_end_matches('/').replace("localhost", "127.0.0.1");
        assert!(
            host.starts_with("127.") || host.starts_with("[::1]"),
            "load goes to loopback only, not to {url}"
        );
        Self { child: None, host, token: token.to_owned() }
    }

    pub fn start(binary: Option<&Path>, data: &Path) -> Self {
        let beside = std::env::current_exe().ok().and_then(|own| Some(own.parent()?.join("turnbuckle")));
        let binary = binary.map(Path::to_owned).or(beside).expect("a server to start");
        let mut child = Command::new(binary)
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(data)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the server starts; build it with cargo build --release");
        let mut lines =
            BufReader::new(child.stdout.take().expect("its output")).lines().map_while(Result::ok);
        let file = lines.find_map(|line| Some(line.split_once(", good once, is in ")?.1.to_owned()));
        let link = std::fs::read_to_string(file.expect("where the first link is")).expect("the first link");
        std::thread::spawn(move || lines.for_each(drop));
        let (base, token) = link.trim().split_once("/#join=").expect("a link");
        let host = base.trim_start_matches("http://").replace("localhost", "127.0.0.1");
        Self { child: Some(child), host, token: token.to_owned() }
    }

    /// Processor time so far, user and system.
    pub fn cpu(&self) -> Option<Cpu> {
        let process = format!("/proc/{}", self.child.as_ref()?.id());
        let stat = fs::read_to_string(format!("{process}/stat")).ok()?;
        // utime and stime are fields 14 and 15, in 100 ticks a second; after the name, which may hold
        // anything, comes field 3.
        let mut fields = stat.rsplit(')').next()?.split_whitespace().skip(11).map(str::parse::<f64>);
        let all_ms = (fields.next()?.ok()? + fields.next()?.ok()?) * 10.0;
        let mut planner_ms = 0.0;
        for thread in fs::read_dir(format!("{process}/task")).ok()?.flatten() {
            let name = fs::read_to_string(thread.path().join("comm")).unwrap_or_default();
            if name.trim() == "planner" {
                // The first field is nanoseconds on a processor.
                let ran = fs::read_to_string(thread.path().join("schedstat")).ok()?;
                planner_ms += ran.split_whitespace().next()?.parse::<f64>().ok()? / 1e6;
            }
        }
        Some(Cpu { all_ms, planner_ms })
    }

    pub fn rss_mb(&self) -> Option<f64> {
        let status = fs::read_to_string(format!("/proc/{}/status", self.child.as_ref()?.id())).ok()?;
        let line = status.lines().find(|line| line.starts_with("VmRSS"))?;
        Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some(child) = &mut self.child {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// What a sync costs on this disk, before the server works on it.
pub fn fdatasync_ms(dir: &Path) -> Vec<f64> {
    let mut file = File::create(dir.join("probe")).expect("a file to probe with");
    let probe = |_| {
        file.write_all(&[7; 2000]).expect("the probe writes");
        let began = Instant::now();
        file.sync_data().expect("the probe syncs");
        began.elapsed().as_secs_f64() * 1e3
    };
    (0..200).map(probe).collect()
}

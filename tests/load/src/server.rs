//! The server under load: started on a new directory, looked at from outside.

use std::fs::{self, File};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Instant;

pub struct Server {
    child: Child,
    pub host: String,
    pub token: String,
}

impl Server {
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
        let link = lines.find(|line| line.contains("#join=")).expect("the first link");
        std::thread::spawn(move || lines.for_each(drop));
        let (base, token) = link.trim().split_once("/#join=").expect("a link");
        let host = base.trim_start_matches("http://").replace("localhost", "127.0.0.1");
        Self { child, host, token: token.to_owned() }
    }

    /// Processor time of the whole process, user and system, in milliseconds (100 ticks a second).
    pub fn cpu_ms(&self) -> f64 {
        let stat = fs::read_to_string(format!("/proc/{}/stat", self.child.id())).unwrap_or_default();
        let after = stat.rsplit(')').next().unwrap_or_default();
        let fields: Vec<f64> = after.split_whitespace().filter_map(|f| f.parse().ok()).collect();
        // utime and stime are fields 14 and 15; the first after the name (a letter) is field 3.
        fields.get(10).zip(fields.get(11)).map_or(0.0, |(user, system)| (user + system) * 10.0)
    }

    pub fn rss_mb(&self) -> Option<f64> {
        let status = fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let line = status.lines().find(|line| line.starts_with("VmRSS"))?;
        Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
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

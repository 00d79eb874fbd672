//! Many phones at one server, over the real protocol: every phone signed in as a person of its own,
//! with its live channel open. Says what was acknowledged, how soon the others saw it, what it cost,
//! and whether in the end every phone holds the same and nothing acknowledged is missing.
//!
//! `cargo run --release -p phones -- --phones 50 --ops 40 [--rate 100] [--server URL --token T] [--json FILE]`
//!
//! Loopback only. Closed loop: each phone sends its next operation when the last is acknowledged. With
//! `--rate`: so many operations a second in all, every latency counted from the scheduled moment, so
//! that a server that falls behind cannot hide it. Without `--server`, one is started on a new
//! directory. `fdatasync_ms` is a probe's own 2 kB appends on the same file system just before the
//! run, not the server's. Processor time is the whole server process without its planner's thread, which
//! is told apart; memory is the whole process. Bytes are those on the wire, compressed as they come.

mod http;
mod live;
mod server;
mod shop;

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use clap::Parser;
use http::Connection;
use live::{Channels, Copy, Heard};
use serde_json::{Value, json};
use server::Server;
use shop::{Load, Phone};

#[derive(Parser)]
struct Args {
    #[arg(long, default_value_t = 50, value_parser = clap::value_parser!(u16).range(2..=500))]
    phones: u16,
    /// Operations of each phone.
    #[arg(long, default_value_t = 40, value_parser = clap::value_parser!(u32).range(1..))]
    ops: u32,
    /// Operations a second, of all phones together.
    #[arg(long)]
    rate: Option<f64>,
    /// A running server, "http://127.0.0.1:8080"; the load shop is added to what it has.
    #[arg(long, requires = "token")]
    server: Option<String>,
    /// The token of its administrator's sign-in link.
    #[arg(long)]
    token: Option<String>,
    /// The server's binary; without it, `turnbuckle` beside this one.
    #[arg(long, env = "TURNBUCKLE_BIN")]
    binary: Option<PathBuf>,
    /// Also write the figures here.
    #[arg(long)]
    json: Option<PathBuf>,
}

/// How long the last frames may take to arrive before the phones pull.
const LAST_FRAMES: Duration = Duration::from_secs(10);

fn main() -> ExitCode {
    let args = Args::parse();
    let dir = tempfile::tempdir().expect("a temporary directory");
    let (server, sync_ms) = match args.server.as_deref().zip(args.token.as_deref()) {
        Some((url, token)) => (Server::running(url, token), Vec::new()),
        None => {
            let sync_ms = server::fdatasync_ms(dir.path());
            (Server::start(args.binary.as_deref(), &dir.path().join("data")), sync_ms)
        }
    };
    let load = shop::set_up(&server.host, &server.token, args.phones.into());
    let figures = run(&args, &server, load, sync_ms);
    println!("{figures:#}");
    if let Some(file) = &args.json {
        std::fs::write(file, format!("{figures:#}\n")).expect("the figures are written");
    }
    if figures["converged"] == true && figures["missing"] == 0 {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

fn run(args: &Args, server: &Server, load: Load, sync_ms: Vec<f64>) -> Value {
    let host = server.host.as_str();
    let phones: Vec<(String, String)> =
        load.phones.iter().map(|p| (p.cookie.clone(), p.client().to_owned())).collect();
    let mut start = Copy::default();
    pull(&mut start, host, &phones[0]).expect("the first copy");
    let cookies = phones.iter().map(|(cookie, _)| cookie.as_str());
    let channels = Channels::open(host, cookies, start.cursor).expect("the live channels");

    let cpu_before = server.cpu();
    let began = Instant::now();
    let every = args.rate.map(|rate| Duration::from_secs_f64(f64::from(args.phones) / rate));
    let done: Vec<Done> = std::thread::scope(|scope| {
        let spawn = |(number, phone)| {
            let first = every.map(|every| began + every.mul_f64(number as f64 / f64::from(args.phones)));
            let work = &load.work;
            scope.spawn(move || work_on(phone, host, work, args.ops, every.zip(first)))
        };
        let workers: Vec<_> = load.phones.into_iter().enumerate().map(spawn).collect();
        workers.into_iter().map(|worker| worker.join().expect("a phone's work")).collect()
    });
    let elapsed = began.elapsed().as_secs_f64();
    let head = done.iter().map(|d| d.head).max().unwrap_or(0);
    let end = Instant::now() + LAST_FRAMES;
    while !channels.reached(head) && Instant::now() < end {
        std::thread::sleep(Duration::from_millis(5));
    }
    let cpu = server.cpu().zip(cpu_before).map(|(after, before)| after.since(before));
    let rss = server.rss_mb();
    let heard = channels.close();

    let seen = seen(&done, &heard);
    let agreed = agree(host, &phones, &start, &heard, &done);
    let ops = f64::from(args.phones) * f64::from(args.ops);
    let all = |of: fn(&Heard) -> u64| heard.iter().map(of).sum::<u64>() as f64;
    let acked_ms: Vec<f64> = done.iter().flat_map(|d| d.acked.iter().map(|a| a.took_ms)).collect();
    let acked = acked_ms.len();
    let up: u64 = done.iter().map(|d| d.bytes_up).sum();
    let mut verdicts: BTreeMap<&str, BTreeMap<&str, u64>> = BTreeMap::new();
    for a in done.iter().flat_map(|d| &d.acked) {
        *verdicts.entry(a.kind).or_default().entry(&a.verdict).or_default() += 1;
    }
    let (acked_ms, visible_ms, sync_ms) = (Sorted::of(acked_ms), Sorted::of(seen), Sorted::of(sync_ms));
    json!({
        "phones": args.phones, "ops": ops, "rate": args.rate, "seconds": elapsed, "verdicts": verdicts,
        "acked_per_s": acked as f64 / elapsed,
        "acked_ms_p50": acked_ms.at(0.5), "acked_ms_p99": acked_ms.at(0.99),
        "visible_ms_p50": visible_ms.at(0.5), "visible_ms_p99": visible_ms.at(0.99),
        "visible_samples": visible_ms.0.len(),
        "up_bytes_per_op": up as f64 / ops,
        "down_bytes_per_op_phone": all(|h| h.bytes) / ops / f64::from(args.phones),
        "plan_bytes_per_phone": all(|h| h.plan_bytes) / f64::from(args.phones),
        "plans_per_phone": all(|h| h.plans) / f64::from(args.phones),
        "server_cpu_ms_per_op": cpu.map(|cpu| (cpu.all_ms - cpu.planner_ms) / ops),
        "planner_cpu_ms_per_op": cpu.map(|cpu| cpu.planner_ms / ops),
        "server_rss_mb": rss,
        "fdatasync_ms_p50": sync_ms.at(0.5), "fdatasync_ms_p99": sync_ms.at(0.99),
        "first_sync_ms": agreed.first_sync.0, "first_sync_bytes": agreed.first_sync.1, "first_sync_pages": agreed.first_sync.2,
        "docs": agreed.docs, "gaps_in_frames": agreed.gaps, "missing": agreed.missing,
        "converged": agreed.same && acked as f64 == ops,
    })
}

fn pull(copy: &mut Copy, host: &str, (cookie, client): &(String, String)) -> std::io::Result<u64> {
    copy.pull(&mut Connection::signed_in(host, cookie)?, client)
}

struct Agreed {
    same: bool,
    /// Acknowledged, and not to be found.
    missing: u64,
    /// Phones to which a frame was lost, so that they had to pull.
    gaps: usize,
    docs: usize,
    /// Milliseconds, compressed bytes and pages of a new phone's first copy.
    first_sync: (f64, u64, u32),
}

/// Every phone follows its own frames, then pulls from where these led it; then each must hold what
/// a new phone gets.
fn agree(host: &str, phones: &[(String, String)], start: &Copy, heard: &[Heard], done: &[Done]) -> Agreed {
    let mut agreed = Agreed { same: true, missing: 0, gaps: 0, docs: 0, first_sync: (0.0, 0, 0) };
    let mut new = Copy::default();
    let (cookie, client) = &phones[0];
    let began = Instant::now();
    let first = Connection::signed_in(host, cookie).map(Connection::compressed).and_then(|mut connection| {
        new.pull(&mut connection, client)?;
        Ok(connection.bytes_down)
    });
    match first {
        Ok(bytes) => agreed.first_sync = (began.elapsed().as_secs_f64() * 1e3, bytes, new.pages),
        Err(error) => {
            eprintln!("phones: {error}");
            return Agreed { same: false, ..agreed };
        }
    }
    agreed.docs = new.len();
    for (number, ((phone, heard), done)) in phones.iter().zip(heard).zip(done).enumerate() {
        let mut copy = start.clone();
        let frames = heard.events.iter().flat_map(|(_, event)| live::frames(event));
        let whole = frames.into_iter().all(|frame| copy.follow(&frame));
        agreed.gaps += usize::from(!whole);
        match pull(&mut copy, host, phone) {
            Ok(last_n) => agreed.missing += (done.acked.len() as u64).saturating_sub(last_n),
            Err(error) => {
                eprintln!("phones: phone {number}: {error}");
                agreed.same = false;
            }
        }
        if !copy.same(&new) {
            eprintln!("phones: phone {number} holds something else: {:?}", copy.differs(&new));
            agreed.same = false;
        }
        let made = done.acked.iter().filter(|a| a.verdict == "applied");
        let keys = made.filter_map(|a| match a.kind {
            "note" => Some(format!("note/{}", a.id)),
            "ask" => Some(format!("handoff/{}", a.id)),
            _ => None,
        });
        agreed.missing += keys.filter(|key| !copy.has(key)).count() as u64;
    }
    agreed
}

/// From the sending of a note to its arrival on each of the other phones; its document carries the
/// operation's id.
fn seen(done: &[Done], heard: &[Heard]) -> Vec<f64> {
    let notes = done.iter().enumerate().flat_map(|(number, d)| {
        d.acked.iter().filter(|a| a.kind == "note").map(move |a| (a.id.as_str(), (number, a.sent)))
    });
    let notes: BTreeMap<&str, (usize, Instant)> = notes.collect();
    let mut times = Vec::new();
    for (number, heard) in heard.iter().enumerate() {
        let mut known = BTreeSet::new();
        for (at, event) in &heard.events {
            for part in event.split("\"key\":\"note/").skip(1) {
                let Some((id, (by, sent))) = part.get(..36).and_then(|id| notes.get_key_value(id)) else {
                    continue;
                };
                if *by != number && known.insert(*id) {
                    times.push(at.duration_since(*sent).as_secs_f64() * 1e3);
                }
            }
        }
    }
    times
}

struct Acked {
    id: String,
    kind: &'static str,
    verdict: String,
    sent: Instant,
    took_ms: f64,
}

struct Done {
    acked: Vec<Acked>,
    bytes_up: u64,
    head: u64,
}

fn work_on(
    mut phone: Phone,
    host: &str,
    work: &shop::Work,
    ops: u32,
    pace: Option<(Duration, Instant)>,
) -> Done {
    let mut connection = Connection::signed_in(host, &phone.cookie).expect("a connection");
    let mut done = Done { acked: Vec::with_capacity(ops as usize), bytes_up: 0, head: 0 };
    for number in 0..ops {
        let due = pace.map(|(every, first)| first + every * number);
        if let Some(due) = due {
            std::thread::sleep(due.saturating_duration_since(Instant::now()));
        }
        let (id, kind, push) = phone.next(work);
        let sent = due.unwrap_or_else(Instant::now);
        let answer = connection.send("POST", "/api/v1/sync/push", Some(&push)).expect("an answer");
        let verdict = answer.body["results"][0]["verdict"].as_str().unwrap_or_default().to_owned();
        if answer.status != 200 || verdict.is_empty() {
            eprintln!("phones: {} {}", answer.status, answer.body);
            break;
        }
        done.head = answer.body["head"].as_u64().unwrap_or(done.head);
        done.acked.push(Acked { id, kind, verdict, sent, took_ms: sent.elapsed().as_secs_f64() * 1e3 });
    }
    done.bytes_up = connection.bytes_up;
    done
}

struct Sorted(Vec<f64>);

impl Sorted {
    fn of(mut values: Vec<f64>) -> Self {
        values.sort_by(f64::total_cmp);
        Self(values)
    }

    /// The value at this quantile, by nearest rank.
    fn at(&self, q: f64) -> Option<f64> {
        let rank = (q * self.0.len() as f64).ceil() as usize;
        self.0.get(rank.saturating_sub(1)).copied()
    }
}

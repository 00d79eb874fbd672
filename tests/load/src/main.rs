//! Many phones at one server, over the real protocol: every phone signed in as a person of its own,
//! with its live channel open. Says what was acknowledged, how soon the others saw it, what it cost,
//! and whether in the end every phone holds the same.
//!
//! `cargo run --release -p phones -- --phones 50 --ops 40 [--rate 100] [--json FILE]`
//! Loopback only. Closed loop: each phone sends its next operation when the last is acknowledged. With
//! `--rate`: so many operations a second in all, latency counted from the scheduled moment.

mod http;
mod server;
mod shop;

use std::collections::BTreeMap;
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use clap::Parser;
use http::Connection;
use serde_json::{Value, json};
use shop::{Load, Phone};

#[derive(Parser)]
struct Args {
    #[arg(long, default_value_t = 50)]
    phones: usize,
    /// Operations of each phone.
    #[arg(long, default_value_t = 40)]
    ops: usize,
    /// Operations a second, of all phones together.
    #[arg(long)]
    rate: Option<f64>,
    /// The server's binary; without it, `turnbuckle` beside this one.
    #[arg(long, env = "TURNBUCKLE_BIN")]
    binary: Option<std::path::PathBuf>,
    #[arg(long)]
    json: Option<std::path::PathBuf>,
}

/// When an operation was sent, by its id, for those whose sight is timed.
type Sent = Arc<Mutex<BTreeMap<String, Instant>>>;

fn main() -> ExitCode {
    let args = Args::parse();
    let dir = tempfile::tempdir().expect("a temporary directory");
    let sync_ms = server::fdatasync_ms(dir.path());
    let server = server::Server::start(args.binary.as_deref(), &dir.path().join("data"));
    let load = shop::set_up(&server.host, &server.token, args.phones);
    let figures = run(&args, &server, load, &sync_ms);
    println!("{figures:#}");
    if let Some(file) = &args.json {
        std::fs::write(file, format!("{figures}\n")).expect("the figures are written");
    }
    if figures["converged"] == true { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn run(args: &Args, server: &server::Server, load: Load, sync_ms: &[f64]) -> Value {
    let sent: Sent = Arc::default();
    let over = Arc::new(AtomicBool::new(false));
    let seen: Arc<Mutex<Vec<f64>>> = Arc::default();
    let (down, plan_down) = (Arc::new(AtomicU64::new(0)), Arc::new(AtomicU64::new(0)));
    let head = load.head(&server.host);
    for phone in &load.phones {
        let mut live = Connection::signed_in(&server.host, &phone.cookie).expect("a live channel");
        live.live(head).expect("the live channel opens");
        let (sent, seen, over, mine) = (sent.clone(), seen.clone(), over.clone(), phone.person.clone());
        let (down, plan_down) = (down.clone(), plan_down.clone());
        std::thread::spawn(move || {
            while let Ok(Some(event)) = live.event() {
                if over.load(Ordering::Relaxed) {
                    return;
                }
                let bytes = &if event.contains("\"plan\":") { &plan_down } else { &down };
                bytes.fetch_add(event.len() as u64, Ordering::Relaxed);
                note_seen(&event, &mine, &sent, &seen);
            }
        });
    }
    let cpu_before = server.cpu_ms();
    let began = Instant::now();
    let count = args.phones * args.ops;
    let every = args.rate.map(|rate| Duration::from_secs_f64(args.phones as f64 / rate));
    let workers: Vec<_> = load
        .phones
        .into_iter()
        .enumerate()
        .map(|(number, phone)| {
            let (sent, ops, host) = (sent.clone(), args.ops, server.host.clone());
            let work = load.work.clone();
            let first = every.map(|every| every.mul_f64(number as f64 / args.phones as f64));
            std::thread::spawn(move || work_on(phone, &host, &work, ops, every.zip(first), began, &sent))
        })
        .collect();
    let done: Vec<_> = workers.into_iter().map(|worker| worker.join().expect("a phone's work")).collect();
    let elapsed = began.elapsed().as_secs_f64();
    let cpu = server.cpu_ms() - cpu_before;
    // The last frames are on their way.
    std::thread::sleep(Duration::from_millis(500));
    over.store(true, Ordering::Relaxed);
    let mut acked: Vec<f64> = done.iter().flat_map(|d| d.acked_ms.iter().copied()).collect();
    let up: u64 = done.iter().map(|d| d.bytes_up).sum();
    let refused: usize = done.iter().map(|d| d.refused).sum();
    let copies: Vec<String> = done.iter().map(|d| shop::copy(&server.host, &d.cookie)).collect();
    let same = copies.windows(2).all(|pair| pair[0] == pair[1]) && !copies[0].is_empty();
    let mut seen = seen.lock().expect("times").clone();
    let per_op_phone = |bytes: u64| bytes as f64 / count as f64 / args.phones as f64;
    json!({
        "phones": args.phones, "ops": count, "rate": args.rate, "seconds": elapsed, "refused": refused,
        "acked_per_s": acked.len() as f64 / elapsed,
        "acked_ms_p50": quantile(&mut acked, 0.5), "acked_ms_p99": quantile(&mut acked, 0.99),
        "visible_ms_p50": quantile(&mut seen, 0.5), "visible_ms_p99": quantile(&mut seen, 0.99),
        "up_bytes_per_op": up as f64 / count as f64,
        "down_bytes_per_op_phone": per_op_phone(down.load(Ordering::Relaxed)),
        "plan_bytes_per_phone": plan_down.load(Ordering::Relaxed) as f64 / args.phones as f64,
        "server_cpu_ms_per_op": cpu / count as f64,
        // Not to be told apart from outside the process: it is in server_cpu_ms_per_op.
        "planner_cpu_ms_per_op": null,
        "server_rss_mb": server.rss_mb(),
        "fdatasync_ms_p50": quantile(&mut sync_ms.to_vec(), 0.5), "fdatasync_ms_p99": quantile(&mut sync_ms.to_vec(), 0.99),
        "converged": same && acked.len() == count,
    })
}

/// A note's document carries its operation's id: the moment it arrives on another phone.
fn note_seen(event: &str, mine: &str, sent: &Sent, seen: &Mutex<Vec<f64>>) {
    let now = Instant::now();
    for part in event.split("\"key\":\"note/").skip(1) {
        let by_me = part.split('}').next().is_some_and(|body| body.contains(mine));
        let began = sent.lock().expect("sent").get(&part[..36]).copied();
        if let (false, Some(began)) = (by_me, began) {
            seen.lock().expect("times").push(now.duration_since(began).as_secs_f64() * 1e3);
        }
    }
}

struct Done {
    acked_ms: Vec<f64>,
    refused: usize,
    bytes_up: u64,
    cookie: String,
}

fn work_on(
    mut phone: Phone,
    host: &str,
    work: &shop::Work,
    ops: usize,
    pace: Option<(Duration, Duration)>,
    began: Instant,
    sent: &Sent,
) -> Done {
    let mut connection = Connection::signed_in(host, &phone.cookie).expect("a connection");
    let mut done =
        Done { acked_ms: Vec::with_capacity(ops), refused: 0, bytes_up: 0, cookie: phone.cookie.clone() };
    for number in 0..ops {
        let due = match pace {
            Some((every, first)) => {
                let due = began + first + every * number as u32;
                std::thread::sleep(due.saturating_duration_since(Instant::now()));
                due
            }
            None => Instant::now(),
        };
        let (id, push) = phone.next(work);
        sent.lock().expect("sent").insert(id, due);
        let answer = connection.send("POST", "/api/v1/sync/push", Some(&push)).expect("an answer");
        let verdict = answer.body["results"][0]["verdict"].as_str().unwrap_or_default().to_owned();
        if answer.status != 200 || verdict.is_empty() {
            eprintln!("phones: {} {}", answer.status, answer.body);
            break;
        }
        done.refused += usize::from(verdict == "refused");
        done.acked_ms.push(due.elapsed().as_secs_f64() * 1e3);
    }
    done.bytes_up = connection.bytes_up;
    done
}

fn quantile(values: &mut [f64], q: f64) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let last = values.len().checked_sub(1)?;
    values.get((q * last as f64).round() as usize).copied()
}

//! Figures of the embedded store on this machine: `cargo run --release -p store --example measure
//! [entries]`. Writes into a temporary directory under the current one, so that it measures this disk.

use std::time::Instant;
use store::{Doc, Embedded, EmbeddedOptions, Store, TableBatch, Verdict};

const BATCH: u64 = 50;

fn rss_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmRSS")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|kb| kb.parse::<u64>().ok()).unwrap_or(0) / 1024
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let entries: u64 = std::env::args().nth(1).map_or(Ok(1_000_000), |n| n.parse())?;
    let dir = tempfile::tempdir_in(".")?;
    let open = || Embedded::open(dir.path(), EmbeddedOptions::new(1));
    let body = |n: u64| format!(r#"{{"n":{n},"text":"{}"}}"#, "seal and paint ".repeat(38)).into_bytes();

    let store = open()?;
    let start = Instant::now();
    let mut slowest = 0.0f64;
    while store.log().head().seq < entries {
        let at = store.log().head().seq;
        let bodies: Vec<_> = (at..at + BATCH).map(body).collect();
        let parts: Vec<&[u8]> = bodies.iter().map(Vec::as_slice).collect();
        let one = Instant::now();
        store.log().append(at, &parts)?;
        slowest = slowest.max(one.elapsed().as_secs_f64());
    }
    let batches = entries / BATCH;
    let each = start.elapsed().as_secs_f64() * 1e3 / batches as f64;
    println!(
        "append: {batches} batches of {BATCH} x 600 B, {each:.2} ms each, slowest {:.1} ms",
        slowest * 1e3
    );

    let start = Instant::now();
    let applied = entries.min(100_000);
    for seq in (BATCH..=applied).step_by(BATCH as usize) {
        let hash = store.log().hash_at(seq)?.unwrap_or_default();
        let mut batch = TableBatch { seq, hash, ..TableBatch::default() };
        for at in seq - BATCH + 1..=seq {
            batch.docs.push(Doc {
                key: format!("card/{}", at * 7919 % 20_000),
                seq: at,
                body: Some(body(at)),
            });
            batch.docs.push(Doc { key: format!("vehicle/{}", at % 60), seq: at, body: Some(body(at)) });
            batch.verdicts.push(Verdict { client: [(at % 50) as u8; 16], n: at, seq: at });
        }
        store.tables().apply(&batch)?;
    }
    let each = start.elapsed().as_secs_f64() * 1e6 / applied as f64;
    println!("tables: {applied} entries applied, {each:.0} us each (2 documents, 1 verdict)");
    let start = Instant::now();
    println!("scrub: {:?}, {:.2} s", store.tables().scrub()?, start.elapsed().as_secs_f64());
    let start = Instant::now();
    drop(store);
    println!("close: {:.2} s, {} MB RSS", start.elapsed().as_secs_f64(), rss_mb());

    let start = Instant::now();
    let store = open()?;
    println!("open: {:.3} s, {} MB RSS", start.elapsed().as_secs_f64(), rss_mb());
    let start = Instant::now();
    let count = store.log().replay(1).filter(|e| e.is_ok()).count();
    println!("replay: {count} entries, {:.2} s, {} MB RSS", start.elapsed().as_secs_f64(), rss_mb());
    let start = Instant::now();
    for n in 0..10_000u64 {
        store.log().hash_at(1 + n * 7919 % entries)?;
    }
    println!("hash_at: {:.0} us", start.elapsed().as_secs_f64() * 1e6 / 10_000.0);
    Ok(())
}

//! Photos: what it costs to look at them, how many one person begins, and a disk that fills.

use std::io::Write;
use std::sync::Arc;
use std::time::Duration;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use domain::stored::Role;
use flate2::Compression;
use flate2::write::ZlibEncoder;
use serde_json::json;
use sha2::{Digest, Sha256};
use store::Memory;
use turnbuckle::clock::Clock;
use turnbuckle::limits::{DISK_FREE_MIN, DRAWINGS_WAITING, UPLOADS_AN_HOUR};
use ureq::http::Response;
use ureq::{Agent, Body};

use super::{Server, percentile, timed};
use crate::support::{Shop, monday, wait_for};

const SIDE: u32 = 7_000;

/// A grey PNG (ISO/IEC 15948) of 49 megapixels in some 200 KB; `number` makes it one of its own.
fn large(number: u32) -> Vec<u8> {
    let mut packed = ZlibEncoder::new(Vec::new(), Compression::fast());
    let row = vec![0; SIDE as usize + 1];
    (0..SIDE).for_each(|_| packed.write_all(&row).unwrap());
    let mut head = [SIDE.to_be_bytes(), SIDE.to_be_bytes()].concat();
    head.extend([8, 0, 0, 0, 0]);
    let text = [b"Comment\0".as_slice(), &number.to_be_bytes()].concat();
    let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
    let chunks: [(&[u8; 4], Vec<u8>); 4] =
        [(b"IHDR", head), (b"tEXt", text), (b"IDAT", packed.finish().unwrap()), (b"IEND", Vec::new())];
    for (kind, data) in chunks {
        png.extend(u32::try_from(data.len()).unwrap().to_be_bytes());
        let from = png.len();
        png.extend(kind);
        png.extend(data);
        let mut crc = flate2::Crc::new();
        crc.update(&png[from..]);
        png.extend(crc.sum().to_be_bytes());
    }
    png
}

pub fn begin(agent: &Agent, base: &str, bytes: &[u8], mime: &str) -> Response<Body> {
    let sha256 = hex::encode(Sha256::digest(bytes));
    let said = format!("sha256 {},mime {}", STANDARD.encode(sha256), STANDARD.encode(mime));
    let asked = agent.post(format!("{base}/api/v1/photos")).header("Tus-Resumable", "1.0.0");
    asked
        .header("Upload-Length", bytes.len().to_string())
        .header("Upload-Metadata", said)
        .send_empty()
        .unwrap()
}

pub fn send(agent: &Agent, at: &str, bytes: &[u8]) -> Response<Body> {
    let asked = agent.patch(at).header("Tus-Resumable", "1.0.0").header("Upload-Offset", "0");
    // Whoever is last in the queue waits for all that are before them.
    let asked = asked.config().timeout_global(Some(Duration::from_secs(180))).build();
    asked.content_type("application/offset+octet-stream").send(bytes).unwrap()
}

#[test]
fn large_pictures_do_not_take_what_everybody_else_needs() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), None);
    let (admin, _) = server.admin();
    let before = server.memory();
    // Four times as many as there is room for, on as many connections as one sign-in may have.
    let storm: Vec<_> = (0..(DRAWINGS_WAITING as u32 + 1) * 2)
        .map(|number| {
            let (agent, base) = (admin.clone(), server.base.clone());
            let one = move |number| {
                let picture = large(number);
                let begun = begin(&agent, &base, &picture, "image/png");
                assert_eq!(begun.status().as_u16(), 201);
                let at = format!("{base}{}", begun.headers()["location"].to_str().unwrap());
                let answer = send(&agent, &at, &picture);
                let later = answer.headers().contains_key("retry-after");
                (at, answer.status().as_u16(), later)
            };
            std::thread::spawn(move || [one(2 * number), one(2 * number + 1)])
        })
        .collect();
    let (notices, ready) = (format!("{}/api/v1/notices", server.base), format!("{}/readyz", server.base));
    let mut times = Vec::new();
    while storm.iter().any(|one| !one.is_finished()) {
        let (status, time) = timed(&admin, &notices);
        assert_eq!(status, 200);
        times.push(time);
        assert_eq!(timed(&admin, &ready).0, 200);
    }
    let slow = percentile(&mut times, 0.99);
    let answers: Vec<(String, u16, bool)> = storm.into_iter().flat_map(|one| one.join().unwrap()).collect();
    assert!(
        answers.iter().all(|(_, status, later)| *status == 204 || *status == 503 && *later),
        "{answers:?}"
    );
    eprintln!(
        "{} answers while pictures were drawn, p99 {slow:?}, memory {:.0} MiB",
        times.len(),
        server.memory()
    );
    assert!(slow < Duration::from_secs(1), "{slow:?}");
    // One is unfolded at a time: its pixels (49 MB), and what is drawn of them.
    let grown = server.memory() - before;
    assert!(grown < 400.0, "{grown} MiB");
    // What was put off goes on where it was: nothing is sent a second time.
    for (at, _, _) in answers.iter().filter(|(_, status, _)| *status == 503).take(2) {
        wait_for("the picture", || {
            let asked = admin.head(at).header("Tus-Resumable", "1.0.0").call().unwrap();
            (asked.status().as_u16() == 200).then(|| {
                assert_eq!(asked.headers()["upload-offset"], asked.headers()["upload-length"]);
            })
        });
    }
}

#[test]
fn one_person_begins_so_many_uploads_an_hour() {
    let shop = Shop::start();
    let (greedy, other) = (
        shop.user("Tomas Okafor", "body", Role::Technician),
        shop.user("Ana Lucero", "body", Role::Technician),
    );
    let begun = |agent: &Agent| begin(agent, &shop.base, b"the same photo", "image/jpeg").status().as_u16();
    for _ in 0..UPLOADS_AN_HOUR {
        let status = begun(&greedy.agent);
        assert!(status == 201, "{status}");
    }
    let refused = begin(&greedy.agent, &shop.base, b"the same photo", "image/jpeg");
    assert_eq!(refused.status().as_u16(), 429);
    assert!(refused.headers().contains_key("retry-after"));
    assert_eq!(begun(&other.agent), 201, "others go on");
}

#[test]
fn a_disk_that_fills_takes_work_and_no_photos() {
    let memory = Memory::new(7);
    let shop = Shop::start_with(Arc::new(memory.clone()), Clock::at(monday()), None);
    let mut user = shop.user("Ana Lucero", "body", Role::Manager);
    let begun = |agent: &Agent| begin(agent, &shop.base, b"a photo", "image/jpeg").status().as_u16();
    memory.set_free_share(Some(DISK_FREE_MIN / 2.0));
    assert_eq!(begun(&user.agent), 507);
    user.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    memory.set_free_share(Some(0.5));
    assert_eq!(begun(&user.agent), 201);
}

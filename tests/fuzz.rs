//! Bytes that nobody meant, at every place where some come in from outside. Each target changes good
//! examples at random (seeded, so that a failure comes again) and looks that nothing panics, that no answer
//! says that the server is at fault, and that it still works afterwards.
//!
//! A second each here; `./tests/run full fuzz` gives each five minutes.

#[path = "support/mod.rs"]
mod support;

use std::path::Path;
use std::time::{Duration, Instant};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use domain::stored::Role;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use store::{Embedded, EmbeddedOptions, Store};
use turnbuckle::photos::{self, Upload};

use support::{Shop, User};

struct Chance(ChaCha8Rng);

impl Chance {
    fn below(&mut self, end: usize) -> usize {
        self.0.next_u32() as usize % end.max(1)
    }

    /// Some of the bytes changed, left out, doubled, or taken from elsewhere.
    fn change(&mut self, good: &[u8]) -> Vec<u8> {
        const ODD: [&[u8]; 12] = [
            b"\0",
            b"\"",
            b"\\",
            b"{",
            b"[",
            b",",
            b"-1",
            b"9223372036854775808",
            b"1e999",
            b"\xff\xfe",
            b"\r\n",
            "\u{202E}".as_bytes(),
        ];
        let mut bytes = good.to_vec();
        for _ in 0..=self.below(4) {
            let (at, to) = (self.below(bytes.len() + 1), self.below(bytes.len() + 1));
            let (from, to) = (at.min(to), at.max(to).min(at.min(to) + 40));
            match self.below(6) {
                0 if at < bytes.len() => bytes[at] ^= 1 << self.below(8),
                1 => drop(bytes.drain(from..to)),
                2 => {
                    let piece = bytes[from..to].to_vec();
                    bytes.splice(at..at, piece);
                }
                3 => bytes.truncate(at),
                4 => {
                    let odd = ODD[self.below(ODD.len())];
                    bytes.splice(at..at, odd.iter().copied());
                }
                _ if at < bytes.len() => bytes[at] = self.below(256) as u8,
                _ => {}
            }
        }
        bytes
    }

    /// A value of another kind or size at some place of a tree.
    fn change_value(&mut self, value: &mut Value) {
        let inner: Vec<&mut Value> = match value {
            Value::Array(items) => items.iter_mut().collect(),
            Value::Object(fields) => fields.values_mut().collect(),
            _ => Vec::new(),
        };
        let count = inner.len();
        if count > 0 && self.below(8) > 0 {
            let at = self.below(count);
            return self.change_value(inner.into_iter().nth(at).unwrap());
        }
        *value = match self.below(9) {
            0 => Value::Null,
            1 => json!(true),
            2 => json!(i64::MIN),
            3 => json!(u64::MAX),
            4 => json!(1.5e300),
            5 => json!("x".repeat(self.below(5_000))),
            6 => json!([[], {}]),
            7 => json!({"digest": "of somebody"}),
            _ => json!("\u{0}\u{202E}=1+1"),
        };
    }
}

/// Runs a target for its time, and says how often.
fn fuzz(name: &str, mut once: impl FnMut(&mut Chance)) {
    let seconds = std::env::var("TURNBUCKLE_FUZZ_SECONDS").ok().and_then(|s| s.parse().ok()).unwrap_or(1);
    let mut chance = Chance(ChaCha8Rng::seed_from_u64(seconds ^ 0x7475_726e));
    let (began, mut times) = (Instant::now(), 0_u64);
    while began.elapsed() < Duration::from_secs(seconds) {
        once(&mut chance);
        times += 1;
    }
    eprintln!("{name}: {times} tries in {seconds} s");
    assert!(times > 5, "{name} hardly ran");
}

fn send(user: &User, path: &str, body: &[u8]) -> u16 {
    let asked = user.agent.post(format!("{}{path}", user.base)).content_type("application/json");
    asked.send(body).unwrap().status().as_u16()
}

/// The acts of the vectors that the app shares.
fn acts() -> Vec<Value> {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors/decide");
    let files = std::fs::read_dir(dir).unwrap().map(|file| file.unwrap().path());
    let read = |path| serde_json::from_str::<Value>(&std::fs::read_to_string(path).unwrap()).unwrap();
    let mut acts = Vec::new();
    for vector in files.map(read) {
        find_acts(&vector, &mut acts);
    }
    assert!(acts.len() > 10);
    acts
}

fn find_acts(value: &Value, found: &mut Vec<Value>) {
    match value {
        Value::Object(fields) if fields.contains_key("kind") && fields.contains_key("args") => {
            found.push(value.clone())
        }
        Value::Object(fields) => fields.values().for_each(|field| find_acts(field, found)),
        Value::Array(items) => items.iter().for_each(|item| find_acts(item, found)),
        _ => {}
    }
}

#[test]
fn operations() {
    let shop = Shop::start();
    let mut user = shop.user("Ana Lucero", "body", Role::Manager);
    let order = user.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    let acts = acts();
    fuzz("operations", |chance| {
        let act = &acts[chance.below(acts.len())];
        let mut args = act["args"].clone();
        if args.get("order").is_some() {
            args["order"] = json!(order);
        }
        let mut op = user.op(act["kind"].as_str().unwrap(), args);
        (0..chance.below(3)).for_each(|_| chance.change_value(&mut op));
        let body =
            json!({"epoch": user.epoch, "client": user.client, "device_now": user.clock.now(), "ops": [op]});
        let mut bytes = body.to_string().into_bytes();
        if chance.below(4) == 0 {
            bytes = chance.change(&bytes);
        }
        let status = send(&user, "/api/v1/sync/push", &bytes);
        assert!(status < 500, "{status}: {}", String::from_utf8_lossy(&bytes));
        // Whatever its number was taken for, the next one is known.
        let (_, page) = user.get(&format!("/api/v1/sync/pull?after=0&limit=1&client={}", user.client));
        user.n = page["last_n"].as_u64().expect("the client is known");
        shop.clock.advance(4_000);
    });
    user.done("note", json!({"order": order, "body": "it works"}));
}

#[test]
fn lines_of_the_journal() {
    let dir = tempfile::tempdir().unwrap();
    let whole: Vec<Vec<u8>> =
        (0..20).map(|n| json!({"n": n, "text": "seal the seam"}).to_string().into_bytes()).collect();
    {
        let store = Embedded::open(dir.path(), EmbeddedOptions::new(5)).unwrap();
        let lines: Vec<&[u8]> = whole.iter().map(Vec::as_slice).collect();
        store.log().append(0, &lines).unwrap();
        store.tables().close();
    }
    let mut journals = Vec::new();
    find_files(&dir.path().join("log"), &mut journals);
    let good: Vec<(std::path::PathBuf, Vec<u8>)> =
        journals.into_iter().map(|path| (path.clone(), std::fs::read(path).unwrap())).collect();
    assert!(!good.is_empty());
    fuzz("lines of the journal", |chance| {
        let copy = tempfile::tempdir().unwrap();
        for (path, bytes) in &good {
            let to = copy.path().join(path.strip_prefix(dir.path()).unwrap());
            std::fs::create_dir_all(to.parent().unwrap()).unwrap();
            std::fs::write(to, chance.change(bytes)).unwrap();
        }
        // It says what is wrong, or what it shows is what was stored, from the beginning on.
        let Ok(store) = Embedded::open(copy.path(), EmbeddedOptions::new(5)) else { return };
        let shown: Result<Vec<Vec<u8>>, _> =
            store.log().replay(1).map(|entry| entry.map(|e| e.body)).collect();
        if let Ok(shown) = shown {
            assert!(whole.starts_with(&shown), "{} entries", shown.len());
        }
    });
}

fn find_files(dir: &Path, found: &mut Vec<std::path::PathBuf>) {
    for entry in std::fs::read_dir(dir).unwrap().map(Result::unwrap) {
        if entry.path().is_dir() {
            find_files(&entry.path(), found);
        } else {
            found.push(entry.path());
        }
    }
}

#[test]
fn metadata_of_uploads() {
    let shop = Shop::start();
    let user = shop.user("Ana Lucero", "body", Role::Manager);
    let said = format!("sha256 {},mime {}", STANDARD.encode("ab".repeat(32)), STANDARD.encode("image/jpeg"));
    fuzz("metadata of uploads", |chance| {
        let header: Vec<u8> =
            chance.change(said.as_bytes()).into_iter().filter(|b| (0x20..0x7f).contains(b)).collect();
        let length = chance.change(b"1000").into_iter().filter(u8::is_ascii_graphic).collect::<Vec<u8>>();
        let asked = user.agent.post(format!("{}/api/v1/photos", user.base)).header("Tus-Resumable", "1.0.0");
        let asked = asked.header("Upload-Metadata", header.clone()).header("Upload-Length", length);
        let status = asked.send_empty().unwrap().status().as_u16();
        assert!(status < 500, "{status}: {}", String::from_utf8_lossy(&header));
        shop.clock.advance(60_000);
    });
    assert_eq!(user.get("/api/v1/auth/me").0, 200);
}

#[test]
fn files_of_an_import() {
    let shop = Shop::start();
    let user = shop.user("Ana Lucero", "body", Role::Manager);
    let good = "RO,Vehicle,VIN,Promise,Hours\r\n2041,grey wagon,ZZ9AAAAA1AAAAAAAA,2026-06-05,12.5\r\n\"2042\",\"red \"\"van\"\"\",,06/09/2026,\r\n";
    fuzz("files of an import", |chance| {
        let csv = String::from_utf8_lossy(&chance.change(good.as_bytes())).into_owned();
        let status =
            send(&user, "/api/v1/import/orders", json!({"csv": csv, "dry_run": true}).to_string().as_bytes());
        assert!(status < 500, "{status}: {csv:?}");
    });
}

#[test]
fn planning_instances() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors/plan");
    let files = std::fs::read_dir(dir).unwrap().map(|file| file.unwrap().path());
    let good: Vec<Vec<u8>> = files
        .filter(|path| path.extension().is_some_and(|e| e == "json"))
        .map(|path| std::fs::read(path).unwrap())
        .collect();
    fuzz("planning instances", |chance| {
        let one = &good[chance.below(good.len())];
        let text = chance.change(one);
        let _ = plan::portable::read(&String::from_utf8_lossy(&text));
    });
}

#[test]
fn pictures() {
    let shop = Shop::start();
    let user = shop.user("Ana Lucero", "body", Role::Manager);
    let flag = image::RgbImage::from_fn(64, 32, |x, y| image::Rgb([(x * 4) as u8, (y * 8) as u8, 90]));
    let kinds = [image::ImageFormat::Jpeg, image::ImageFormat::Png, image::ImageFormat::WebP];
    let good = kinds.map(|kind| {
        let mut bytes = std::io::Cursor::new(Vec::new());
        flag.write_to(&mut bytes, kind).unwrap();
        bytes.into_inner()
    });
    let mut number = 0;
    fuzz("pictures", |chance| {
        let one = &good[chance.below(good.len())];
        let bytes = chance.change(one);
        if bytes.is_empty() {
            return;
        }
        number += 1;
        let upload = Upload {
            length: bytes.len() as u64,
            sha256: hex::encode(Sha256::digest(&bytes)),
            mime: "image/jpeg".into(),
            person: user.id,
            at: shop.clock.now(),
            done: false,
        };
        let id = format!("fuzz-{number}");
        let done = photos::begin(&shop.opened, &id, upload.clone()).and_then(|begun| {
            if begun.done {
                return Ok(());
            }
            photos::write(&shop.opened, &id, &upload, 0, &bytes)?;
            photos::finish(&shop.opened, &id, &upload)
        });
        // A picture or none, and never a fault of ours.
        assert!(!matches!(done, Err(photos::Wrong::Store(_) | photos::Wrong::Full)), "{done:?}");
        let _ = photos::forget(&shop.opened, &id, &upload);
    });
}

//! Before sign-in: connections, half-sent requests, large and packed bodies, passwords.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use domain::stored::Role;
use flate2::Compression;
use flate2::write::GzEncoder;
use serde_json::json;
use sha2::{Digest, Sha256};
use turnbuckle::auth;
use turnbuckle::limits::{BODY_GRACE, HASHING_WAITING, SEATS_ADDRESS, SEATS_STRANGERS, SIGN_IN_BYTES_MAX};

use super::{Server, connect_from, percentile, send, timed};
use crate::support::{Shop, agent, wait_for};

const MEMORY: f64 = 64.0;
/// A tenth of a second is what is promised; a machine that runs all tests at once gets some more.
const PATIENCE: Duration = Duration::from_millis(400);

const HALF: &str = "POST /api/v1/auth/password HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: 4000\r\n\r\n{\"name\":\"";

#[test]
fn a_thousand_strangers_neither_stop_nor_fill_it() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), None);
    let (admin, _) = server.admin();
    let me = format!("{}/api/v1/auth/me", server.base);
    for _ in 0..20 {
        assert_eq!(timed(&admin, &me).0, 200);
    }
    let before = server.memory();
    for from in [2, 1] {
        // Silent ones, half a head, half a body; from another address, then all from the same.
        let mut crowd = Vec::<TcpStream>::new();
        for number in 0..1_000 {
            let Ok(mut stream) = server.connect(from) else { continue };
            let begun = match number % 3 {
                0 => String::new(),
                1 => format!("GET / HTTP/1.1\r\nHost: x\r\nX-Long: {}", "a".repeat(60_000)),
                _ => HALF.to_owned(),
            };
            let _ = send(&mut stream, &begun);
            crowd.push(stream);
        }
        let mut times = Vec::new();
        for _ in 0..200 {
            let (status, time) = timed(&admin, &me);
            assert_eq!(status, 200);
            times.push(time);
        }
        let slow = percentile(&mut times, 0.99);
        let grown = server.memory() - before;
        eprintln!("1,000 strangers from 127.0.0.{from}: p99 {slow:?}, memory +{grown:.0} MiB");
        assert!(slow < PATIENCE, "{slow:?}");
        assert!(grown < MEMORY, "{grown:.0} MiB");
        // Somebody new gets in as well.
        assert_eq!(agent().get(&server.base).call().unwrap().status().as_u16(), 200);
    }
}

#[test]
fn strangers_of_one_address_do_not_take_the_seats_of_others() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), None);
    let still_open = |stream: &mut TcpStream| {
        stream.set_nonblocking(true).unwrap();
        matches!(stream.read(&mut [0; 1]), Err(error) if error.kind() == std::io::ErrorKind::WouldBlock)
    };
    let mut few: Vec<TcpStream> = (3..9).map(|host| server.connect(host).unwrap()).collect();
    let mut many: Vec<TcpStream> = (0..400).map(|_| server.connect(2).unwrap()).collect();
    // The last one is served, so all before it have been looked at.
    let last = many.last_mut().unwrap();
    send(last, "GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n").unwrap();
    assert!(last.read(&mut [0; 400]).unwrap() > 0);
    assert!(few.iter_mut().all(still_open));
    wait_for("room", || {
        many.retain_mut(|stream| still_open(stream));
        (many.len() <= SEATS_ADDRESS.min(SEATS_STRANGERS)).then_some(())
    });
    assert!(many.len() > SEATS_ADDRESS / 2, "those that fit stay");
}

#[test]
fn four_hundred_of_the_shop_stay_connected_through_one_address() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), Some("-Sn 256"));
    assert!(server.handles() >= 1_200, "the soft limit was raised, to {}", server.handles());
    let (admin, _) = server.admin();
    // Twenty sign-ins, twenty connections each, as behind a proxy.
    let mut cookies = Vec::new();
    for _ in 0..20 {
        let mut made = admin.post(format!("{}/api/v1/auth/transfer", server.base)).send_empty().unwrap();
        let link: serde_json::Value = made.body_mut().read_json().unwrap();
        let url = format!("{}/api/v1/auth/join", server.base);
        let joined = agent().post(url).send_json(json!({"token": link["token"]})).unwrap();
        let set = joined.headers().get_all("set-cookie").iter().filter_map(|c| c.to_str().ok());
        let cookie = set.into_iter().find(|c| c.starts_with("turnbuckle_access_")).unwrap();
        cookies.push(cookie.split(';').next().unwrap().to_owned());
    }
    let ask = |stream: &mut TcpStream, cookie: &str| {
        let asked = format!("GET /api/v1/auth/me HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {cookie}\r\n\r\n");
        send(stream, &asked)?;
        let mut answer = [0; 4096];
        let read = stream.read(&mut answer)?;
        Ok::<bool, std::io::Error>(answer[..read].starts_with(b"HTTP/1.1 200"))
    };
    let mut held = Vec::new();
    for number in 0..400 {
        let mut stream = server.connect(1).unwrap();
        assert!(ask(&mut stream, &cookies[number % 20]).unwrap(), "{number}");
        held.push(stream);
    }
    let crowd: Vec<TcpStream> = (0..400).filter_map(|_| server.connect(1).ok()).collect();
    let again = held.iter_mut().enumerate().filter_map(|(n, stream)| ask(stream, &cookies[n % 20]).ok());
    assert_eq!(again.filter(|answered| *answered).count(), 400);
    drop(crowd);
}

#[test]
fn a_body_to_sign_in_with_is_small_and_not_packed() {
    let shop = Shop::start();
    let boss = shop.user("Ana Lucero", "office", Role::Manager);
    auth::set_password(&shop.opened, boss.id, "clamp-and-puller-9").unwrap();
    let url = format!("{}/api/v1/auth/password", shop.base);
    let asks = |name: &str| {
        let body = json!({"name": name, "password": "clamp-and-puller-9", "device": "d"});
        agent().post(&url).send_json(body).unwrap().status().as_u16()
    };
    assert_eq!(asks("Ana Lucero"), 200);
    assert_eq!(asks(&"n".repeat(SIGN_IN_BYTES_MAX)), 413);
    // Without a length said before.
    let long = format!("{{\"name\":\"{}\"}}", "n".repeat(300_000));
    let pieces = ureq::SendBody::from_owned_reader(std::io::Cursor::new(long.into_bytes()));
    let answer = agent().post(&url).content_type("application/json").send(pieces);
    // It may be answered before all was sent; a client that goes on sending then sees the connection end.
    assert!(answer.is_err() || answer.is_ok_and(|answer| answer.status().as_u16() == 413));
    // A hundred kilobytes that unfold to a hundred megabytes: what a limit after unfolding would let through.
    let mut packer = GzEncoder::new(Vec::new(), Compression::best());
    packer.write_all(b"{\"name\":\"").unwrap();
    (0..100).for_each(|_| packer.write_all(&vec![b'n'; 1 << 20]).unwrap());
    let bomb = packer.finish().unwrap();
    assert!(bomb.len() < 120_000);
    for path in ["/api/v1/auth/password", "/api/v1/sync/push", "/api/v1/import/preview"] {
        let asked = boss.agent.post(format!("{}{path}", shop.base));
        let answer = asked
            .content_type("application/json")
            .header("Content-Encoding", "gzip")
            .send(&bomb[..4_000])
            .unwrap();
        assert_eq!(answer.status().as_u16(), 415, "{path}");
    }
    // Saying that it is not packed is no packing (RFC 9110, 8.4).
    let asked = agent().post(&url).header("Content-Encoding", "identity");
    let body = json!({"name": "Ana Lucero", "password": "clamp-and-puller-9"});
    assert_eq!(asked.send_json(body).unwrap().status().as_u16(), 200);
}

#[test]
fn passwords_are_checked_few_at_a_time() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), None);
    let (admin, _) = server.admin();
    let me = format!("{}/api/v1/auth/me", server.base);
    assert_eq!(timed(&admin, &me).0, 200);
    let before = server.memory();
    let url = format!("{}/api/v1/auth/password", server.base);
    let tries: Vec<_> = (0..60)
        .map(|number| {
            let url = url.clone();
            std::thread::spawn(move || {
                let body = json!({"name": format!("nobody {number}"), "password": "not-the-password"});
                let answer = agent().post(&url).send_json(body).unwrap();
                (answer.status().as_u16(), answer.headers().contains_key("retry-after"))
            })
        })
        .collect();
    let mut most = 0_f64;
    while tries.iter().any(|one| !one.is_finished()) {
        most = most.max(server.memory());
        let (status, _) = timed(&admin, &me);
        assert_eq!(status, 200);
    }
    let answers: Vec<(u16, bool)> = tries.into_iter().map(|one| one.join().unwrap()).collect();
    assert!(answers.iter().all(|(status, later)| *status == 401 || *status == 429 && *later), "{answers:?}");
    assert!(answers.iter().filter(|(status, _)| *status == 401).count() >= HASHING_WAITING);
    eprintln!("60 passwords at once: memory +{:.0} MiB", most - before);
    assert!(most - before < MEMORY, "+{:.0} MiB", most - before);
}

/// Sends the beginning, then a byte a second; what comes back, and after how long.
fn dribble(port: u16, head: &str) -> (String, Duration) {
    let mut stream = connect_from(1, port).unwrap();
    let began = Instant::now();
    send(&mut stream, head).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(1))).unwrap();
    let mut answer = Vec::new();
    let mut piece = [0; 4096];
    while began.elapsed() < BODY_GRACE * 2 {
        match stream.read(&mut piece) {
            Ok(0) => break,
            Ok(read) => {
                answer.extend_from_slice(&piece[..read]);
                if answer.windows(4).any(|four| four == b"\r\n\r\n") {
                    break;
                }
            }
            Err(_) => {
                let _ = stream.write_all(b"a");
            }
        }
    }
    (String::from_utf8_lossy(&answer).into_owned(), began.elapsed())
}

#[test]
fn a_body_keeps_coming_or_ends() {
    let shop = Shop::start();
    let port: u16 = shop.base.rsplit(':').next().unwrap().parse().unwrap();
    let (answer, after) = dribble(port, HALF);
    assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
    assert!(after >= BODY_GRACE && after < BODY_GRACE + Duration::from_secs(5), "{after:?}");
}

/// Noise, so that it has some bytes.
fn picture() -> Vec<u8> {
    let mut state = 1_u32;
    let noise = image::RgbImage::from_fn(400, 300, |_, _| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        image::Rgb([(state >> 24) as u8; 3])
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    noise.write_to(&mut bytes, image::ImageFormat::Jpeg).unwrap();
    bytes.into_inner()
}

#[test]
fn a_photo_that_comes_too_slowly_keeps_what_came() {
    let shop = Shop::start();
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let port: u16 = shop.base.rsplit(':').next().unwrap().parse().unwrap();
    let (token, _) = auth::invite(&shop.opened, user.id, user.id, false).unwrap();
    let joined = auth::join(&shop.opened, &token, &auth::Phone::default()).unwrap();
    let bytes = picture();
    let sha256 = hex::encode(Sha256::digest(&bytes));
    let base64 = |text: &str| {
        use base64::Engine;
        base64::engine::general_purpose::STANDARD.encode(text)
    };
    let begun = user
        .agent
        .post(format!("{}/api/v1/photos", shop.base))
        .header("Tus-Resumable", "1.0.0")
        .header("Upload-Length", bytes.len().to_string())
        .header("Upload-Metadata", format!("sha256 {},mime {}", base64(&sha256), base64("image/jpeg")))
        .send_empty()
        .unwrap();
    assert_eq!(begun.status().as_u16(), 201);
    let at = begun.headers()["location"].to_str().unwrap().to_owned();
    let half = bytes.len() / 2;
    let mut stream = connect_from(1, port).unwrap();
    let head = format!(
        "PATCH {at} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nAuthorization: Bearer {}\r\nTus-Resumable: 1.0.0\r\n\
         Content-Type: application/offset+octet-stream\r\nUpload-Offset: 0\r\nContent-Length: {}\r\n\r\n",
        joined.access,
        bytes.len(),
    );
    send(&mut stream, &head).unwrap();
    stream.write_all(&bytes[..half]).unwrap();
    let mut answer = [0; 4096];
    let read = stream.read(&mut answer).unwrap();
    assert!(answer[..read].starts_with(b"HTTP/1.1 4"), "{}", String::from_utf8_lossy(&answer[..read]));
    let asked = user.agent.head(format!("{}{at}", shop.base)).header("Tus-Resumable", "1.0.0");
    let told = asked.call().unwrap();
    assert_eq!(told.headers()["upload-offset"].to_str().unwrap(), half.to_string());
    // And it goes on from there, as fast as it comes.
    let rest = user
        .agent
        .patch(format!("{}{at}", shop.base))
        .header("Tus-Resumable", "1.0.0")
        .header("Upload-Offset", half.to_string())
        .content_type("application/offset+octet-stream")
        .send(&bytes[half..])
        .unwrap();
    assert_eq!(rest.status().as_u16(), 204);
}

//! A tablet that six people shared for a long day without a network, and everything that goes out when it is back.

use domain::stored::Role;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use sync::limits::PUSH_OPS_MAX;
use turnbuckle::limits::{PUSH_BYTES_MAX, UPLOADS_AN_HOUR, WRITE_BYTES, WRITE_OPS};
use uuid::Uuid;

use super::photos::{begin, send};
use crate::support::{Shop, User, agent};

const PEOPLE: usize = 6;
const OPS: usize = 600;
const PHOTOS: usize = 80;

/// Like a photo to whoever stores it: nothing in it can be packed, some 300 KB.
fn picture(number: u32) -> Vec<u8> {
    let mut seed = number.wrapping_mul(2_654_435_761) | 1;
    let noise = image::RgbImage::from_fn(320, 320, |_, _| {
        // Marsaglia's xorshift.
        seed ^= seed << 13;
        seed ^= seed >> 17;
        seed ^= seed << 5;
        image::Rgb(seed.to_be_bytes()[..3].try_into().unwrap())
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    noise.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    bytes.into_inner()
}

/// What a phone does with its outbox: as many as one push takes.
fn pieces(ops: &[Value]) -> Vec<Vec<Value>> {
    let mut pieces = vec![Vec::new()];
    let mut bytes = 0;
    for op in ops {
        let size = op.to_string().len();
        if pieces.last().unwrap().len() == PUSH_OPS_MAX || bytes + size > PUSH_BYTES_MAX - 4_096 {
            pieces.push(Vec::new());
            bytes = 0;
        }
        bytes += size;
        pieces.last_mut().unwrap().push(op.clone());
    }
    pieces
}

#[test]
fn a_long_day_of_a_shared_tablet_goes_out_at_once() {
    let shop = Shop::start();
    let mut boss = shop.user("Ana Lucero", "office", Role::Manager);
    let (browser, tablet) = (Uuid::new_v4(), agent());
    let mut people: Vec<User> = (0..PEOPLE)
        .map(|n| {
            let id = shop.user(&format!("Technician {n}"), "body", Role::Technician).id;
            shop.sign_in_on(id, Some(browser), tablet.clone())
        })
        .collect();
    let order =
        boss.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let cards: Vec<String> = (0..PEOPLE)
        .map(|n| {
            let title = format!("Panel {n}");
            boss.done(
                "add_card",
                json!({"order": order, "department": "body", "title": {"text": title}, "planned_minutes": 600}),
            )
        })
        .collect();
    let pictures: Vec<Vec<u8>> = (0..PHOTOS as u32).map(picture).collect();
    // The day: every minute somebody starts, stops, writes three lines or takes a picture.
    let mut outboxes = vec![Vec::new(); PEOPLE];
    let mut left = pictures.iter();
    for n in 0..OPS {
        let (who, turn) = (n % PEOPLE, n / PEOPLE);
        let (user, card) = (&mut people[who], &cards[who]);
        let op = match turn % 7 {
            0 | 3 => user.op("start", json!({"card": card})),
            1 if left.len() > 0 => {
                let bytes = left.next().unwrap();
                let (sha256, at) = (hex::encode(Sha256::digest(bytes)), shop.clock.now());
                user.op(
                    "photo",
                    json!({"order": order, "card": card, "sha256": sha256, "mime": "image/png", "bytes": bytes.len(), "taken_at": at}),
                )
            }
            2 | 5 => user.op("pause", json!({"card": card, "why": "break"})),
            4 => user.op(
                "found",
                json!({"order": order, "card": card, "what": "seized", "note": "upper bolt; ".repeat(20)}),
            ),
            _ => user.op(
                "note",
                json!({"order": order, "card": card, "body": "what was seen on the panel; ".repeat(15)}),
            ),
        };
        outboxes[who].push(op);
        shop.clock.advance(60_000);
    }
    assert_eq!(left.len(), 0, "every picture was taken");
    // Whoever has the tablet in hands delivers everybody's.
    let last = people.last().unwrap();
    let (mut ops, mut bytes, mut applied) = (0, 0, 0);
    for (owner, outbox) in people.iter().zip(&outboxes) {
        for piece in pieces(outbox) {
            let body = json!({"epoch": last.epoch, "client": owner.client, "device_now": shop.clock.now(), "ops": piece});
            ops += piece.len();
            bytes += body.to_string().len();
            let (status, told) = last.post("/api/v1/sync/push", body);
            assert_eq!(status, 200, "{told}");
            let results = told["results"].as_array().unwrap();
            assert_eq!(results.len(), piece.len());
            applied += results.iter().filter(|r| r["verdict"] == "applied").count();
            assert!(results.iter().all(|r| r["verdict"] != "refused"), "{told}");
        }
    }
    assert!(ops >= OPS && applied >= OPS - PEOPLE, "{applied} of {ops}");
    let mut sent = 0;
    // Each photo is begun twice, as behind a steel wall.
    for picture in &pictures {
        let broken = begin(&tablet, &shop.base, picture, "image/png");
        assert_eq!(broken.status().as_u16(), 201);
        let begun = begin(&tablet, &shop.base, picture, "image/png");
        assert_eq!(begun.status().as_u16(), 201);
        let at = format!("{}{}", shop.base, begun.headers()["location"].to_str().unwrap());
        assert_eq!(send(&tablet, &at, picture).status().as_u16(), 204);
        sent += picture.len();
    }
    let state = shop.opened.view().state.clone();
    assert_eq!(state.photos.values().filter(|photo| photo.here).count(), PHOTOS);
    let (share_ops, share_bytes) = (ops as f64 / WRITE_OPS, bytes as f64 / WRITE_BYTES);
    let share_photos = 2.0 * PHOTOS as f64 / UPLOADS_AN_HOUR as f64;
    eprintln!(
        "{ops} operations, {bytes} bytes, {PHOTOS} photos of {sent} bytes: of the budgets {share_ops:.2}, {share_bytes:.2}, {share_photos:.2}"
    );
    assert!(share_ops < 0.5 && share_bytes < 0.5 && share_photos < 0.5, "the same day fits twice");
}

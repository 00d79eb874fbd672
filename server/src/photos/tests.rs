use super::*;
use crate::clock::Clock;
use domain::ids::{OpId, OrderId, PhotoId};
use image::{ImageEncoder, Rgb, RgbImage};
use serde_json::json;
use store::Memory;

/// Wider than high, left half red and right half blue.
fn flag() -> RgbImage {
    RgbImage::from_fn(64, 32, |x, _| if x < 32 { Rgb([220, 0, 0]) } else { Rgb([0, 0, 220]) })
}

/// An Exif block that says only: orientation 6, "turn a quarter to the right to see it upright"
/// (Exif 2.3, tag 0x0112).
fn turned() -> Vec<u8> {
    let mut exif = b"MM\0\x2a\0\0\0\x08\0\x01".to_vec();
    exif.extend([0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, 6, 0, 0, 0, 0, 0, 0]);
    exif
}

fn as_jpeg(exif: Option<Vec<u8>>) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut bytes, 95);
    if let Some(exif) = exif {
        encoder.set_exif_metadata(exif).unwrap();
    }
    encoder.write_image(&flag(), 64, 32, image::ExtendedColorType::Rgb8).unwrap();
    bytes
}

fn open() -> Arc<Shop> {
    Shop::open(Arc::new(Memory::new(7)), Clock::at(1_000)).unwrap()
}

fn upload(bytes: &[u8]) -> Upload {
    Upload {
        length: bytes.len() as u64,
        sha256: hex::encode(Sha256::digest(bytes)),
        mime: "image/jpeg".into(),
        person: PersonId(uuid::Uuid::from_u128(1)),
        at: 0,
        done: false,
    }
}

#[test]
fn what_is_shown_is_upright_and_says_nothing_about_camera_or_place() {
    let bytes = as_jpeg(Some(turned()));
    assert!(bytes.windows(4).any(|w| w == b"Exif"), "the fixture carries metadata");
    let drawn = draw(&bytes).unwrap();
    for shown in [&drawn.full, &drawn.small] {
        assert!(!shown.windows(4).any(|w| w == b"Exif"));
        let picture = image::load_from_memory(shown).unwrap().into_rgb8();
        assert_eq!(picture.dimensions(), (32, 64));
        // What was left is on top after a quarter turn to the right.
        assert!(picture.get_pixel(16, 8).0[0] > 150 && picture.get_pixel(16, 56).0[2] > 150);
    }
}

#[test]
fn what_is_no_picture_is_refused_with_the_reason() {
    assert_eq!(draw(b"<html>").unwrap_err(), "send a JPEG, PNG or WebP picture");
    let whole = as_jpeg(None);
    assert_eq!(draw(&whole[..20]).unwrap_err(), "it is damaged");
}

#[test]
fn a_bomb_is_refused_before_it_unfolds() {
    // A PNG head (ISO/IEC 15948) of 60,000 × 60,000 grey pixels and nothing behind it.
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR".to_vec();
    png.extend(60_000u32.to_be_bytes());
    png.extend(60_000u32.to_be_bytes());
    png.extend([8, 0, 0, 0, 0]);
    let mut crc = flate2::Crc::new();
    crc.update(&png[12..]);
    png.extend(crc.sum().to_be_bytes());
    png.extend(b"\0\0\0\0IDAT");
    assert!(draw(&png).unwrap_err().contains("million pixels"));
}

#[test]
fn an_upload_in_pieces_is_stored_once_and_known_the_next_time() {
    let shop = open();
    let bytes = as_jpeg(None);
    let wanted = upload(&bytes);
    begin(&shop, "a", wanted.clone()).unwrap();
    let half = bytes.len() / 2;
    assert_eq!(write(&shop, "a", &wanted, 0, &bytes[..half]).unwrap(), half as u64);
    let late = write(&shop, "a", &wanted, 0, &bytes[..half]);
    assert!(matches!(late, Err(Wrong::Offset { expected }) if expected == half as u64));
    let longer = write(&shop, "a", &wanted, half as u64, &bytes);
    assert!(matches!(longer, Err(Wrong::Longer { .. })));
    write(&shop, "a", &wanted, half as u64, &bytes[half..]).unwrap();
    finish(&shop, "a", &wanted).unwrap();
    let found = find(&shop, "a", wanted.person).unwrap();
    assert!(found.done);
    assert_eq!(offset(&shop, "a", &found).unwrap(), wanted.length);
    assert!(begin(&shop, "b", wanted.clone()).unwrap().done);
    let stranger = find(&shop, "a", PersonId(uuid::Uuid::from_u128(2)));
    assert!(matches!(stranger, Err(Wrong::Unknown)));
    let hash = read_hash(&wanted.sha256).unwrap();
    let shown = picture(&*shop.store, &hash, Size::Full).unwrap().unwrap();
    assert_ne!(shown, bytes, "the bytes as they came are not given out");
}

#[test]
fn a_wrong_hash_and_a_file_that_only_begins_like_a_photo_leave_nothing_to_show() {
    let shop = open();
    let bytes = as_jpeg(None);
    let promised = Upload { sha256: hex::encode(Sha256::digest(b"other")), ..upload(&bytes) };
    begin(&shop, "a", promised.clone()).unwrap();
    write(&shop, "a", &promised, 0, &bytes).unwrap();
    assert!(matches!(finish(&shop, "a", &promised), Err(Wrong::Hash)));
    assert!(matches!(find(&shop, "a", promised.person), Err(Wrong::Unknown)));

    let mut broken = bytes[..20].to_vec();
    broken.extend([0; 400]);
    let promised = upload(&broken);
    begin(&shop, "b", promised.clone()).unwrap();
    write(&shop, "b", &promised, 0, &broken[..40]).unwrap();
    write(&shop, "b", &promised, 40, &broken[40..]).unwrap();
    assert!(matches!(finish(&shop, "b", &promised), Err(Wrong::NotAPhoto(_))));
    assert!(matches!(begin(&shop, "c", promised.clone()), Err(Wrong::NotAPhoto(_))));

    begin(&shop, "d", upload(b"MZ not a picture")).unwrap();
    let program = write(&shop, "d", &upload(b"MZ not a picture"), 0, b"MZ not a picture");
    assert!(matches!(program, Err(Wrong::NotAPhoto(_))));
    assert!(shop.store.photos().uploads().unwrap().is_empty());
}

#[test]
fn forgotten_uploads_are_swept_away_and_running_ones_stay() {
    let shop = open();
    let wanted = upload(&as_jpeg(None));
    begin(&shop, "old", wanted.clone()).unwrap();
    begin(&shop, "new", Upload { at: UPLOAD_KEPT_MS, ..wanted }).unwrap();
    shop.store.photos().begin_upload("without-record").unwrap();
    shop.clock.advance(UPLOAD_KEPT_MS);
    sweep_uploads(&shop);
    let left: Vec<String> = shop.store.photos().uploads().unwrap().into_iter().map(|(id, _)| id).collect();
    assert_eq!(left, ["new"]);
}

/// Whatever else is in it: most documents of a frame are patches on what the phones have.
#[test]
fn a_frame_names_the_photos_that_wait() {
    let shop = open();
    let by_planner = |id: u128, act: Act| OwnOp { id: OpId(uuid::Uuid::from_u128(id)), ..OwnOp::system(act) };
    let order = OrderId(uuid::Uuid::from_u128(1));
    let photo = |id: u128, sha256: &str| {
        let act = Act::Photo {
            order,
            card: None,
            handoff: None,
            sha256: sha256.to_owned(),
            mime: "image/jpeg".into(),
            bytes: 1,
            taken_at: 0,
        };
        by_planner(id, act)
    };
    let (first, second) = ("a1".repeat(32), "b2".repeat(32));
    let opened =
        Act::OpenOrder(serde_json::from_value(json!({"number": "1", "vehicle": "red one"})).unwrap());
    shop.own_now(vec![by_planner(1, opened), photo(2, &first)]).unwrap();

    let mut frames = shop.frames();
    let marked = Act::MarkPhoto { photo: PhotoId(uuid::Uuid::from_u128(2)), marks: vec![] };
    let changed = Act::EditOrder { order, change: serde_json::from_value(json!({"number": "2"})).unwrap() };
    shop.own_now(vec![by_planner(3, changed), by_planner(4, marked), photo(5, &second)]).unwrap();
    let frame = frames.try_recv().unwrap();
    assert!(frame.docs.contains("\"patch\""), "{}", frame.docs);
    assert_eq!(named_waiting(&frame, &shop.view().state), std::slice::from_ref(&second));

    shop.own_now(vec![OwnOp::system(Act::PhotoHere { sha256: second })]).unwrap();
    let frame = frames.try_recv().unwrap();
    assert!(named_waiting(&frame, &shop.view().state).is_empty());
}

//! Photos: what an upload must be before it counts, what is shown of it, and telling the shop that it
//! is here.
//!
//! Invariants: the bytes as they came are the truth, under their SHA-256, and are never given out: what
//! is shown is drawn anew, upright and without place or camera data; a file that cannot be drawn is no
//! photo; nothing is said to be here that is not stored durably. Previews may be lost and are made again.
//! Must not know: HTTP, the resumable protocol's words.

use std::io::{Cursor, Read};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, LazyLock, Mutex, PoisonError, mpsc};
use std::time::Duration;

use domain::Ms;
use domain::ids::PersonId;
use domain::state::{Key, State};
use domain::stored::Act;
use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use store::{Hash, PhotoError, Photos, Store};
use tokio::sync::broadcast::error::RecvError;
use tokio::task::JoinHandle;

use crate::limits::{DISK_FREE_MIN, DRAWINGS_WAITING, PHOTO_BYTES_MAX, PHOTO_PIXELS_MAX, UPLOADS_MAX};
use crate::shop::{Frame, OwnOp, Shop};

/// Longest side of the picture as shown whole: finer than any screen of a shop, and a phone can hold it.
const FULL_SIDE_MAX: u32 = 4_096;
/// Longest side of the picture in lists.
const SMALL_SIDE_MAX: u32 = 480;
const FULL_QUALITY: u8 = 85;
const SMALL_QUALITY: u8 = 75;
/// An upload nobody goes on with is forgotten; the phone still has the photo and begins again.
const UPLOAD_KEPT_MS: Ms = 7 * 24 * 3_600_000;
/// What is done is only asked for by a phone that lost the answer.
const DONE_KEPT_MS: Ms = 24 * 3_600_000;
const SWEEP_EVERY: Duration = Duration::from_secs(3_600);

const TREE: &str = "uploads";
/// Stands beside stored bytes that turned out to be no photo, with the reason.
const REFUSED: &str = "refused";

/// Kinds of picture that are taken; the camera's own format of some phones is turned into one of these
/// by the app.
pub const KINDS: [&str; 3] = ["image/jpeg", "image/png", "image/webp"];

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    Full,
    Small,
}

impl Size {
    pub fn name(self) -> &'static str {
        match self {
            Size::Full => "full",
            Size::Small => "small",
        }
    }
}

#[derive(Debug, thiserror::Error)]
pub enum Wrong {
    #[error("This upload is not known here; begin it again.")]
    Unknown,
    #[error("The next byte of this upload is {expected}.")]
    Offset { expected: u64 },
    #[error("What arrived is not what was promised: its SHA-256 differs. It was discarded; send it again.")]
    Hash,
    #[error("This is not a photo that can be shown ({0}).")]
    NotAPhoto(String),
    #[error("More came than the {length} bytes that were promised.")]
    Longer { length: u64 },
    #[error("A photo has 1 to {PHOTO_BYTES_MAX} bytes.")]
    Length,
    #[error("There are {UPLOADS_MAX} unfinished uploads of yours already; finish or delete some.")]
    TooMany,
    #[error("Many photos are being looked at just now; this one goes on in a few seconds.")]
    Busy,
    #[error("The disk is full; keep the photo on the phone and tell whoever runs the server.")]
    Full,
    #[error(transparent)]
    Store(store::Error),
}

impl From<PhotoError> for Wrong {
    fn from(error: PhotoError) -> Self {
        match error {
            PhotoError::Unknown { .. } | PhotoError::BadName { .. } => Wrong::Unknown,
            PhotoError::Offset { expected, .. } => Wrong::Offset { expected },
            PhotoError::WrongHash { .. } => Wrong::Hash,
            PhotoError::Full => Wrong::Full,
            PhotoError::Store(error) => Wrong::Store(error),
            error @ PhotoError::Exists { .. } => Wrong::Store(error.into()),
        }
    }
}

impl From<store::Error> for Wrong {
    fn from(error: store::Error) -> Self {
        Wrong::Store(error)
    }
}

/// One upload on its way. Kept beside the tables: lost with them, it is begun again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Upload {
    pub length: u64,
    pub sha256: String,
    pub mime: String,
    pub person: PersonId,
    pub at: Ms,
    /// The photo is stored and was looked at.
    pub done: bool,
}

pub fn read_hash(hex_digits: &str) -> Option<Hash> {
    let small = hex_digits.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
    let mut hash = Hash::default();
    (small && hex::decode_to_slice(hex_digits, &mut hash).is_ok()).then_some(hash)
}

/// Begins an upload; done at once when these bytes are here already.
pub fn begin(shop: &Shop, id: &str, mut upload: Upload) -> Result<Upload, Wrong> {
    if upload.length == 0 || upload.length > PHOTO_BYTES_MAX {
        return Err(Wrong::Length);
    }
    let hash = read_hash(&upload.sha256).ok_or(Wrong::Hash)?;
    let mine = |row: &(Vec<u8>, Vec<u8>)| {
        serde_json::from_slice(&row.1).is_ok_and(|u: Upload| u.person == upload.person && !u.done)
    };
    if shop.store.tables().kv_list(TREE)?.iter().filter(|row| mine(row)).count() >= UPLOADS_MAX {
        return Err(Wrong::TooMany);
    }
    // It goes nowhere, and its phone need not send it again and again.
    upload.done = is_erased(shop, &upload);
    if !upload.done {
        room(shop)?;
    }
    if !upload.done && shop.store.photos().exists(&hash)? {
        drawn(&*shop.store, &hash, Size::Small)?;
        upload.done = true;
    }
    // The record first: what has none is swept away.
    keep(shop, id, &upload)?;
    if !upload.done {
        shop.store.photos().begin_upload(id)?;
    }
    Ok(upload)
}

/// Of somebody who was erased.
fn is_erased(shop: &Shop, upload: &Upload) -> bool {
    let view = shop.view();
    let own = view.state.people.get(&upload.person).is_some_and(|person| person.erased_at.is_some());
    own || view.state.picture_is_erased(&upload.sha256)
}

/// Photos leave the last of the disk to the log: without photos a shop works on.
fn room(shop: &Shop) -> Result<(), Wrong> {
    match shop.store.photos().free_share() {
        Some(free) if free < DISK_FREE_MIN => Err(Wrong::Full),
        _ => Ok(()),
    }
}

fn keep(shop: &Shop, id: &str, upload: &Upload) -> Result<(), Wrong> {
    let record = store::json("an upload", upload)?;
    Ok(shop.store.tables().kv_put(TREE, id.as_bytes(), &record)?)
}

/// This person's upload; others' are not known to them.
pub fn find(shop: &Shop, id: &str, person: PersonId) -> Result<Upload, Wrong> {
    let record = shop.store.tables().kv_get(TREE, id.as_bytes())?.ok_or(Wrong::Unknown)?;
    let upload: Upload = serde_json::from_slice(&record).map_err(|_| Wrong::Unknown)?;
    if upload.person == person { Ok(upload) } else { Err(Wrong::Unknown) }
}

/// How far it has come.
pub fn offset(shop: &Shop, id: &str, upload: &Upload) -> Result<u64, Wrong> {
    if upload.done {
        return Ok(upload.length);
    }
    match shop.store.photos().offset(id) {
        // All of it is stored and only waits to be drawn.
        Err(PhotoError::Unknown { .. }) if is_stored(shop, upload)? => Ok(upload.length),
        found => Ok(found?),
    }
}

fn is_stored(shop: &Shop, upload: &Upload) -> Result<bool, Wrong> {
    let hash = read_hash(&upload.sha256).ok_or(Wrong::Hash)?;
    Ok(shop.store.photos().exists(&hash)?)
}

/// Adds bytes, durably. The first ones must look like a picture: so most other files end here, before
/// anything is stored under a name.
pub fn write(shop: &Shop, id: &str, upload: &Upload, offset: u64, bytes: &[u8]) -> Result<u64, Wrong> {
    let photos = shop.store.photos();
    let expected = self::offset(shop, id, upload)?;
    if upload.done || offset != expected {
        return if offset == expected && bytes.is_empty() {
            Ok(expected)
        } else {
            Err(Wrong::Offset { expected })
        };
    }
    room(shop)?;
    if offset + bytes.len() as u64 > upload.length {
        return Err(Wrong::Longer { length: upload.length });
    }
    let whole = bytes.len() as u64 == upload.length;
    if offset == 0 && !bytes.is_empty() {
        // Drawn later, at the end, where many wait.
        let now = if whole { draw_in_turn(bytes) } else { None };
        let looks = now.map_or_else(|| kind_of(bytes).map(|_| None), |drawn| drawn.map(Some));
        match looks {
            // Drawn already: not a second time at the end.
            Ok(Some(shown)) if hex::encode(Sha256::digest(bytes)) == upload.sha256 => {
                let hash = read_hash(&upload.sha256).ok_or(Wrong::Hash)?;
                keep_drawn(photos, &hash, &shown)?;
            }
            Ok(_) => {}
            Err(why) => {
                forget(shop, id, upload)?;
                return Err(Wrong::NotAPhoto(why));
            }
        }
    }
    Ok(photos.write_at(id, offset, bytes)?)
}

/// Everything has come: the hash is checked, the picture drawn. Repeating it after a crash is fine.
pub fn finish(shop: &Shop, id: &str, upload: &Upload) -> Result<(), Wrong> {
    let hash = read_hash(&upload.sha256).ok_or(Wrong::Hash)?;
    if is_erased(shop, upload) {
        // Erased while it came.
        shop.store.photos().delete_upload(id)?;
        return keep(shop, id, &Upload { done: true, ..upload.clone() });
    }
    let stored = match shop.store.photos().finish(id, &hash) {
        Err(PhotoError::Unknown { .. }) if is_stored(shop, upload)? => Ok(()),
        stored => stored.map_err(Wrong::from),
    };
    let done = stored.and_then(|()| {
        drawn(&*shop.store, &hash, Size::Small)?;
        keep(shop, id, &Upload { done: true, ..upload.clone() })
    });
    if let Err(Wrong::Hash | Wrong::NotAPhoto(_)) = &done {
        forget(shop, id, upload)?;
    }
    done
}

/// Ends an upload. A photo that was stored stays: others may point to it.
pub fn forget(shop: &Shop, id: &str, upload: &Upload) -> Result<(), Wrong> {
    if !upload.done {
        shop.store.photos().delete_upload(id)?;
    }
    Ok(shop.store.tables().kv_delete(TREE, id.as_bytes())?)
}

/// The picture in one size, made again if it was lost. None: its bytes are not here.
pub fn picture(store: &dyn Store, hash: &Hash, size: Size) -> Result<Option<Vec<u8>>, Wrong> {
    if let Some(found) = store.photos().get_derived(hash, size.name())? {
        return Ok(Some(found));
    }
    if store.photos().exists(hash)? { drawn(store, hash, size).map(Some) } else { Ok(None) }
}

/// The stored bytes as a picture of that size.
fn drawn(store: &dyn Store, hash: &Hash, size: Size) -> Result<Vec<u8>, Wrong> {
    if let Some(found) = store.photos().get_derived(hash, size.name())? {
        return Ok(found);
    }
    if let Some(why) = store.photos().get_derived(hash, REFUSED)? {
        return Err(Wrong::NotAPhoto(String::from_utf8_lossy(&why).into_owned()));
    }
    let mut bytes = Vec::new();
    if let Some(photo) = store.photos().open(hash)? {
        let read = photo.reader.take(PHOTO_BYTES_MAX).read_to_end(&mut bytes);
        read.map_err(|source| store::Error::Io { what: "cannot read a photo".into(), source })?;
    }
    match draw_in_turn(&bytes).ok_or(Wrong::Busy)? {
        Ok(shown) => {
            keep_drawn(store.photos(), hash, &shown)?;
            Ok(if size == Size::Full { shown.full } else { shown.small })
        }
        Err(why) => {
            store.photos().put_derived(hash, REFUSED, why.as_bytes())?;
            Err(Wrong::NotAPhoto(why))
        }
    }
}

fn keep_drawn(photos: &dyn Photos, hash: &Hash, shown: &Drawn) -> Result<(), PhotoError> {
    photos.put_derived(hash, Size::Full.name(), &shown.full)?;
    photos.put_derived(hash, Size::Small.name(), &shown.small)
}

#[derive(Debug)]
struct Drawn {
    full: Vec<u8>,
    small: Vec<u8>,
}

type Job = (Vec<u8>, mpsc::Sender<Result<Drawn, String>>);

/// One at a time, on a thread of its own: a picture of the largest size unfolds to some hundred megabytes,
/// and every thread that has drawn one keeps much of what that took.
static DRAWING: LazyLock<Mutex<mpsc::Sender<Job>>> = LazyLock::new(|| {
    let (jobs, todo) = mpsc::channel::<Job>();
    let drawing = move || {
        while let Ok((bytes, tell)) = todo.recv() {
            let _ = tell.send(draw(&bytes));
        }
    };
    std::thread::Builder::new().name("drawing".into()).spawn(drawing).expect("a thread that draws");
    Mutex::new(jobs)
});
/// Who draws or waits for it, each on a thread that others need too.
static IN_LINE: AtomicUsize = AtomicUsize::new(0);

/// None: so many wait already.
fn draw_in_turn(bytes: &[u8]) -> Option<Result<Drawn, String>> {
    struct Place;
    impl Drop for Place {
        fn drop(&mut self) {
            IN_LINE.fetch_sub(1, Ordering::SeqCst);
        }
    }
    let before = IN_LINE.fetch_add(1, Ordering::SeqCst);
    let _place = Place;
    if before > DRAWINGS_WAITING {
        return None;
    }
    let (tell, told) = mpsc::channel();
    DRAWING.lock().unwrap_or_else(PoisonError::into_inner).send((bytes.to_vec(), tell)).ok()?;
    told.recv().ok()
}

fn kind_of(bytes: &[u8]) -> Result<ImageFormat, String> {
    match image::guess_format(bytes) {
        Ok(kind @ (ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::WebP)) => Ok(kind),
        _ => Err("send a JPEG, PNG or WebP picture".into()),
    }
}

fn draw(bytes: &[u8]) -> Result<Drawn, String> {
    // Whatever a decoder does with hostile bytes, it happens to this file only.
    catch_unwind(AssertUnwindSafe(|| draw_unguarded(bytes))).unwrap_or_else(|_| Err("it is damaged".into()))
}

fn draw_unguarded(bytes: &[u8]) -> Result<Drawn, String> {
    let damaged = |error: image::ImageError| match error {
        image::ImageError::Limits(_) => {
            format!("it has more than {} million pixels", PHOTO_PIXELS_MAX / 1_000_000)
        }
        _ => "it is damaged".to_owned(),
    };
    let mut reader = ImageReader::with_format(Cursor::new(bytes), kind_of(bytes)?);
    let mut limits = Limits::default();
    limits.max_alloc = Some(u64::from(PHOTO_PIXELS_MAX) * 8);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(damaged)?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > u64::from(PHOTO_PIXELS_MAX) {
        return Err(format!("it has more than {} million pixels", PHOTO_PIXELS_MAX / 1_000_000));
    }
    let upright = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder).map_err(damaged)?;
    picture = within(picture, FULL_SIDE_MAX);
    picture.apply_orientation(upright);
    let picture = on_white(picture);
    let full = jpeg(&picture, FULL_QUALITY).map_err(damaged)?;
    let small = jpeg(&within(picture, SMALL_SIDE_MAX), SMALL_QUALITY).map_err(damaged)?;
    Ok(Drawn { full, small })
}

fn within(picture: DynamicImage, side_max: u32) -> DynamicImage {
    if picture.width().max(picture.height()) <= side_max {
        return picture;
    }
    picture.thumbnail(side_max, side_max)
}

/// A JPEG knows nothing see-through; a screen shot's empty corners become white, not black.
fn on_white(picture: DynamicImage) -> DynamicImage {
    if !picture.color().has_alpha() {
        return DynamicImage::ImageRgb8(picture.into_rgb8());
    }
    let drawn = picture.into_rgba8();
    let mut white = image::RgbImage::new(drawn.width(), drawn.height());
    for (to, from) in white.pixels_mut().zip(drawn.pixels()) {
        let [r, g, b, alpha] = from.0.map(u32::from);
        to.0 = [r, g, b].map(|part| ((part * alpha + 255 * (255 - alpha)) / 255) as u8);
    }
    DynamicImage::ImageRgb8(white)
}

fn jpeg(picture: &DynamicImage, quality: u8) -> Result<Vec<u8>, image::ImageError> {
    let mut bytes = Vec::new();
    picture.write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, quality))?;
    Ok(bytes)
}

/// Tells the shop's log that the picture has come, if a record waits for it.
pub async fn tell_here(shop: &Shop, sha256: &str) {
    if !shop.view().state.photos.values().any(|photo| photo.sha256 == sha256 && !photo.here) {
        return;
    }
    let here = OwnOp::system(Act::PhotoHere { sha256: sha256.to_owned() });
    if let Err(error) = shop.own(vec![here]).await {
        tracing::warn!(%error, "a photo has come and its record does not say so yet");
    }
}

/// Watches for records of photos whose bytes came before them, and clears away old uploads.
pub fn start(shop: Arc<Shop>) -> JoinHandle<()> {
    tokio::spawn(async move {
        let mut frames = shop.frames();
        let mut sweep = tokio::time::interval(SWEEP_EVERY);
        loop {
            // Everything, at the start and after frames were missed; else what the frame names.
            let waiting = tokio::select! {
                _ = sweep.tick() => {
                    let shop = shop.clone();
                    let swept = tokio::task::spawn_blocking(move || { sweep_uploads(&shop); all_waiting(&shop) }).await;
                    swept.unwrap_or_default()
                }
                frame = frames.recv() => match frame {
                    Ok(frame) => named_waiting(&frame, &shop.view().state),
                    Err(RecvError::Lagged(_)) => all_waiting(&shop),
                    Err(RecvError::Closed) => return,
                },
            };
            for sha256 in waiting {
                let store = shop.store.clone();
                let Some(hash) = read_hash(&sha256) else { continue };
                let found = loop {
                    let store = store.clone();
                    let found =
                        tokio::task::spawn_blocking(move || picture(&*store, &hash, Size::Small)).await;
                    if !matches!(found, Ok(Err(Wrong::Busy))) {
                        break found;
                    }
                    tokio::time::sleep(Duration::from_secs(1)).await;
                };
                if matches!(found, Ok(Ok(Some(_)))) {
                    tell_here(&shop, &sha256).await;
                }
            }
        }
    })
}

fn all_waiting(shop: &Shop) -> Vec<String> {
    let view = shop.view();
    let waiting = view.state.photos.values().filter(|photo| !photo.here);
    waiting.map(|photo| photo.sha256.clone()).collect()
}

/// Photos of a frame whose bytes are not known to be here.
fn named_waiting(frame: &Frame, state: &State) -> Vec<String> {
    let photos = frame.keys.iter().filter_map(|key| match key {
        Key::Photo(id) => state.photos.get(id),
        _ => None,
    });
    photos.filter(|photo| !photo.here).map(|photo| photo.sha256.clone()).collect()
}

/// Forgets uploads that nobody went on with, and bytes without a record.
fn sweep_uploads(shop: &Shop) {
    let now = shop.clock.now();
    let swept = || -> Result<(), Wrong> {
        // Listed before the records are: one begun meanwhile has a record by then.
        let files = shop.store.photos().uploads()?;
        let mut known = std::collections::BTreeSet::new();
        for (key, record) in shop.store.tables().kv_list(TREE)? {
            let id = String::from_utf8_lossy(&key).into_owned();
            let kept = |u: Upload| now - u.at < if u.done { DONE_KEPT_MS } else { UPLOAD_KEPT_MS };
            let kept = serde_json::from_slice(&record).is_ok_and(kept);
            if kept {
                known.insert(id);
            } else {
                shop.store.tables().kv_delete(TREE, &key)?;
            }
        }
        for (id, _) in files.iter().filter(|(id, _)| !known.contains(id)) {
            shop.store.photos().delete_upload(id)?;
        }
        Ok(())
    };
    if let Err(error) = swept() {
        tracing::warn!(%error, "old uploads could not be cleared away");
    }
}

#[cfg(test)]
mod tests;

//! The live channel: server-sent events, the same bytes for everybody.
//!
//! Everything is written once and compressed once: all channels share one deflate stream, so that a change
//! costs only the bytes of what is new in it. A new reader waits for the next point at which the stream starts
//! afresh (the compressor forgets its history, which older readers do not notice) and gets a header of its own.
//!
//! Invariants: a lost, doubled or late frame is harmless, because a phone applies a frame only at its cursor
//! and pulls otherwise; nothing meant for one reader goes between shared bytes, except before a fresh start.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, web as routes};
use bytes::Bytes;
use flate2::{Compress, Compression, FlushCompress};
use futures_util::stream;
use serde::Deserialize;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::sync::watch;
use tokio::time::Instant;

use super::error::{ApiError, epoch_word};
use super::packed::takes_gzip;
use super::{Answer, App, PROTOCOL, Shared};
use crate::auth::{Who, stands};
use crate::shop::{Frame, Shop};
use planner::Published;
use sync::chain_word;
use sync::limits::LIVE_FRAMES_MAX;

const HEARTBEAT: Duration = Duration::from_secs(20);
/// How soon the channel of an ended sign-in is closed, however much comes over it.
const LOOK_AGAIN: Duration = Duration::from_secs(5);

/// A gzip member's header without a name or a time (RFC 1952); its end never comes.
const GZIP_HEADER: [u8; 10] = [0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 255];

/// One piece of the stream, for all.
struct Piece {
    plain: Bytes,
    packed: Bytes,
    /// Whether the packed bytes can be read without those before.
    beginning: bool,
}

/// What goes out on every live channel.
pub struct Live {
    pieces: broadcast::Sender<Arc<Piece>>,
    /// Somebody waits for a fresh start.
    wanted: AtomicBool,
}

impl Live {
    /// Sends what becomes durable and what is newly planned, until the shop is closed.
    pub fn start(shop: &Arc<Shop>, plan: watch::Receiver<Arc<Published>>) -> Arc<Self> {
        let (pieces, _) = broadcast::channel(LIVE_FRAMES_MAX);
        let live = Arc::new(Self { pieces, wanted: AtomicBool::new(false) });
        let packer =
            Packer { live: live.clone(), shop: Arc::downgrade(shop), deflate: deflate(), room: Vec::new() };
        tokio::spawn(packer.run(shop.frames(), plan));
        live
    }
}

fn deflate() -> Compress {
    Compress::new(Compression::new(6), false)
}

struct Packer {
    live: Arc<Live>,
    shop: std::sync::Weak<Shop>,
    deflate: Compress,
    room: Vec<u8>,
}

impl Packer {
    async fn run(
        mut self,
        mut frames: broadcast::Receiver<Arc<Frame>>,
        mut plan: watch::Receiver<Arc<Published>>,
    ) {
        let mut beat = tokio::time::interval(HEARTBEAT);
        loop {
            let text = tokio::select! {
                biased;
                frame = frames.recv() => match frame {
                    Ok(frame) => self.frame(&frame),
                    // Phones see the gap in the numbers, and pull.
                    Err(RecvError::Lagged(_)) => self.head(),
                    Err(RecvError::Closed) => return,
                },
                changed = plan.changed() => match changed {
                    Ok(()) => self.plan(&plan.borrow_and_update().clone()),
                    Err(_) => return,
                },
                _ = beat.tick() => Some(": here\n\n".to_owned()),
            };
            let Some(text) = text else { return };
            if self.live.pieces.receiver_count() > 0 {
                self.send(text);
            }
        }
    }

    fn frame(&self, frame: &Frame) -> Option<String> {
        let Frame { from, was, to, hash, docs, notices, .. } = frame;
        let (epoch, was, hash) = (self.epoch()?, chain_word(was), chain_word(hash));
        let told = if *notices { "event: notices\ndata: {}\n\n" } else { "" };
        Some(format!(
            "event: frame\ndata: {{\"epoch\":\"{epoch}\",\"from\":{from},\"was\":\"{was}\",\"to\":{to},\"hash\":\"{hash}\",\"docs\":{docs}}}\n\n{told}"
        ))
    }

    fn plan(&self, plan: &Published) -> Option<String> {
        Some(format!("event: plan\ndata: {}\n\n", plan.change))
    }

    fn head(&self) -> Option<String> {
        Some(head_event(self.shop.upgrade()?.view().head.seq, None))
    }

    fn epoch(&self) -> Option<String> {
        Some(epoch_word(self.shop.upgrade()?.store.meta().epoch()))
    }

    fn send(&mut self, text: String) {
        let beginning = self.live.wanted.swap(false, Ordering::AcqRel);
        if beginning {
            self.deflate.reset();
        }
        let packed = self.pack(text.as_bytes());
        let piece = Piece { plain: text.into(), packed, beginning };
        // The last reader left since the check: nobody misses it.
        let _ = self.live.pieces.send(Arc::new(piece));
    }

    fn pack(&mut self, mut text: &[u8]) -> Bytes {
        self.room.clear();
        loop {
            self.room.reserve(text.len() / 2 + 64);
            let before = self.deflate.total_in();
            // Fails only on a stream that has ended, and this one never does.
            let _ = self.deflate.compress_vec(text, &mut self.room, FlushCompress::Sync);
            text = &text[(self.deflate.total_in() - before) as usize..];
            if text.is_empty() && self.room.len() < self.room.capacity() {
                return Bytes::copy_from_slice(&self.room);
            }
        }
    }
}

fn head_event(head: u64, plan: Option<u64>) -> String {
    let plan = plan.map_or_else(String::new, |rev| format!(",\"plan\":{rev}"));
    format!("event: head\ndata: {{\"head\":{head}{plan}}}\n\n")
}

/// Text as stored deflate blocks, for a message to one reader.
fn stored(text: &str) -> Vec<u8> {
    text.as_bytes()
        .chunks(usize::from(u16::MAX))
        .flat_map(|piece| {
            let length = piece.len() as u16;
            let mut block = vec![0];
            block.extend(length.to_le_bytes());
            block.extend((!length).to_le_bytes());
            block.extend(piece);
            block
        })
        .collect()
}

/// What the phone has.
#[derive(Deserialize, utoipa::ToSchema, utoipa::IntoParams)]
pub struct LiveQuery {
    /// The phone's cursor.
    #[serde(default)]
    after: u64,
    /// The epoch of the phone's copy.
    epoch: Option<String>,
    /// The version of the protocol, because an event source cannot send it in a header.
    protocol: Option<u32>,
    /// Revision of the plan that the phone has; absent: none.
    plan: Option<u64>,
}

/// Server-sent events. `frame`: `{epoch, from, was, to, hash, docs: [{key, seq, body | patch}]}`, for phones
/// whose cursor is `from` and whose chain's word there is `was`; `patch` is an RFC 7396 merge patch on the
/// document as of `from`. `plan`: a change of the plan. `head`: `{head, plan?}`, there is more than was
/// sent: pull. `notices`: look for own notices. `end`: `{why}`, the sign-in is over.
#[utoipa::path(get, path = "/api/v1/live", params(LiveQuery), tag = "sync",
    responses((status = 200, content_type = "text/event-stream", body = String), (status = 409, body = super::error::ErrorBody),
        (status = 426, body = super::error::ErrorBody)))]
pub async fn live(app: Shared, who: Who, request: HttpRequest, query: routes::Query<LiveQuery>) -> Answer {
    if query.protocol.is_some_and(|said| said != PROTOCOL) {
        return Err(ApiError::new(
            426,
            "update",
            "This app is of another version than the server; update it. Nothing is lost.",
        ));
    }
    let epoch = app.shop.store.meta().epoch();
    if query.epoch.as_ref().is_some_and(|said| *said != epoch_word(epoch)) {
        return Err(ApiError::epoch_changed(epoch));
    }
    let gzip = takes_gzip(&request);
    let app = app.into_inner();
    // Listen first, then look: what comes in between is received twice, which is harmless.
    let pieces = app.live.pieces.subscribe();
    let (head, rev) = (app.shop.view().head.seq, app.plan.borrow().rev);
    let mut first = String::from(": hello\n\n");
    if head != query.after || query.plan.is_some_and(|known| known != rev) {
        first.push_str(&head_event(head, Some(rev)));
    }
    let mut reader = Reader {
        app,
        who,
        pieces,
        gzip,
        waits: gzip,
        ready: VecDeque::new(),
        look: Instant::now() + LOOK_AGAIN,
        over: false,
    };
    if gzip {
        reader.ready.push_back(Bytes::from_static(&GZIP_HEADER));
        reader.app.live.wanted.store(true, Ordering::Release);
    }
    reader.own(&first);
    let body = stream::unfold(reader, |mut reader| async move {
        let next = reader.next().await?;
        Some((Ok::<Bytes, actix_web::Error>(next), reader))
    });
    let mut answer = HttpResponse::Ok();
    if gzip {
        answer.insert_header((header::CONTENT_ENCODING, "gzip"));
    }
    Ok(answer
        .content_type("text/event-stream")
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::VARY, "Accept-Encoding"))
        .insert_header(("X-Accel-Buffering", "no"))
        .streaming(body))
}

struct Reader {
    app: Arc<App>,
    who: Who,
    pieces: broadcast::Receiver<Arc<Piece>>,
    gzip: bool,
    /// Waits for a fresh start: what comes before it cannot be read here.
    waits: bool,
    ready: VecDeque<Bytes>,
    /// When to see whether the sign-in still stands.
    look: Instant,
    over: bool,
}

impl Reader {
    async fn next(&mut self) -> Option<Bytes> {
        loop {
            if let Some(piece) = self.ready.pop_front() {
                return Some(piece);
            }
            if self.over {
                return None;
            }
            tokio::select! {
                biased;
                () = tokio::time::sleep_until(self.look) => self.look_again(),
                piece = self.pieces.recv() => match piece {
                    Ok(piece) => self.take(&piece),
                    // Too slow: one message, and the phone pulls.
                    Err(RecvError::Lagged(_)) => {
                        self.waits = self.gzip;
                        self.app.live.wanted.store(self.gzip, Ordering::Release);
                        self.own(&head_event(self.app.shop.view().head.seq, None));
                    }
                    Err(RecvError::Closed) => return None,
                },
            }
        }
    }

    fn take(&mut self, piece: &Piece) {
        self.waits &= !piece.beginning;
        if !self.gzip {
            self.ready.push_back(piece.plain.clone());
        } else if !self.waits {
            self.ready.push_back(piece.packed.clone());
        }
    }

    /// A message for this reader only.
    fn own(&mut self, text: &str) {
        self.ready.push_back(if self.gzip { stored(text).into() } else { text.to_owned().into() });
    }

    fn look_again(&mut self) {
        self.look = Instant::now() + LOOK_AGAIN;
        if self.app.shop.clock.now() >= self.who.until || !stands(&self.app.shop, &self.who) {
            self.over = true;
            self.own("event: end\ndata: {\"why\":\"sign_in\"}\n\n");
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use super::*;

    fn unpack(bytes: &[u8]) -> String {
        let mut text = Vec::new();
        let mut decoder = flate2::read::GzDecoder::new(bytes);
        // The stream has no end, which the decoder says after the last byte.
        let _ = decoder.read_to_end(&mut text);
        String::from_utf8(text).unwrap()
    }

    #[test]
    fn a_reader_begins_anywhere_and_older_ones_go_on() {
        let live = Arc::new(Live { pieces: broadcast::channel(64).0, wanted: AtomicBool::new(true) });
        let mut packer =
            Packer { live: live.clone(), shop: std::sync::Weak::new(), deflate: deflate(), room: Vec::new() };
        let mut pieces = live.pieces.subscribe();
        let said: Vec<String> = (0..40)
            .map(|i| {
                format!("event: frame\ndata: {{\"to\":{i},\"docs\":[\"{}\"]}}\n\n", "wing ".repeat(i * 37))
            })
            .collect();
        let (mut early, mut late) = (GZIP_HEADER.to_vec(), GZIP_HEADER.to_vec());
        late.extend(stored(": hello\n\n"));
        for (i, text) in said.iter().enumerate() {
            if i == 23 {
                live.wanted.store(true, Ordering::Release);
            }
            packer.send(text.clone());
            let piece = pieces.try_recv().unwrap();
            assert_eq!(piece.beginning, i == 0 || i == 23);
            early.extend(&piece.packed);
            if i >= 23 {
                late.extend(&piece.packed);
            }
        }
        assert_eq!(unpack(&early), said.concat());
        assert_eq!(unpack(&late), format!(": hello\n\n{}", said[23..].concat()));
        // What was sent before is not sent again.
        let twice = live.pieces.subscribe();
        drop(twice);
        packer.send(said[30].clone());
        packer.send(said[30].clone());
        pieces.try_recv().unwrap();
        assert!(pieces.try_recv().unwrap().packed.len() < 60, "the shared history is used");
    }
}

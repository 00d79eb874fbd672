//! A phone's live channel and its copy of the shop.
//!
//! While the load runs, a channel only unpacks and notes what came and when: reading the frames is left
//! for afterwards, so that the simulator does not take the processor that the server is measured on.
//! Then the copy follows the frames exactly as the app does: one is applied only at the copy's cursor,
//! anything else is healed by a pull.

use std::collections::BTreeMap;
use std::io::{self, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use flate2::{Decompress, FlushDecompress};
use mio::net::TcpStream;
use mio::{Events, Interest, Poll, Token};
use serde_json::Value;

use crate::http::Connection;

/// What came over one channel.
#[derive(Default)]
pub struct Heard {
    pub events: Vec<(Instant, String)>,
    pub bytes: u64,
    /// Changes of the plan travel by themselves; only their size is kept.
    pub plans: u64,
    pub plan_bytes: u64,
}

/// The live channels of all phones, read by one thread: fifty threads that wake up for every change
/// would cost the server, whose sending wakes them, more than the sending.
pub struct Channels {
    reached: Vec<Arc<AtomicU64>>,
    over: Arc<AtomicBool>,
    listener: JoinHandle<Vec<Heard>>,
}

impl Channels {
    pub fn open<'a>(host: &str, cookies: impl Iterator<Item = &'a str>, after: u64) -> io::Result<Self> {
        let mut poll = Poll::new()?;
        let mut ears = Vec::new();
        for (number, cookie) in cookies.enumerate() {
            let mut live = Connection::signed_in(host, cookie)?.compressed();
            live.live(after)?;
            let (socket, buffer) = live.into_parts();
            socket.set_nonblocking(true)?;
            let mut socket = TcpStream::from_std(socket);
            poll.registry().register(&mut socket, Token(number), Interest::READABLE)?;
            let reached = Arc::new(AtomicU64::new(after));
            ears.push(Ear { socket, buffer, packed: Packed::default(), heard: Heard::default(), reached });
        }
        let reached = ears.iter().map(|ear| ear.reached.clone()).collect();
        let over = Arc::new(AtomicBool::new(false));
        let stop = over.clone();
        let listener = std::thread::spawn(move || {
            let mut events = Events::with_capacity(ears.len());
            while !stop.load(Ordering::Relaxed) {
                // Interrupted, at worst; then it is looked again.
                let _ = poll.poll(&mut events, Some(Duration::from_millis(20)));
                let at = Instant::now();
                for event in &events {
                    ears[event.token().0].hear(at);
                }
            }
            ears.into_iter().map(|ear| ear.heard).collect()
        });
        Ok(Self { reached, over, listener })
    }

    /// Every phone has been told of this entry.
    pub fn reached(&self, seq: u64) -> bool {
        self.reached.iter().all(|reached| reached.load(Ordering::Relaxed) >= seq)
    }

    pub fn close(self) -> Vec<Heard> {
        self.over.store(true, Ordering::Relaxed);
        self.listener.join().expect("the listener of the live channels")
    }
}

struct Ear {
    socket: TcpStream,
    buffer: Vec<u8>,
    packed: Packed,
    heard: Heard,
    reached: Arc<AtomicU64>,
}

impl Ear {
    /// Everything that has come; the poll tells of a socket once.
    fn hear(&mut self, at: Instant) {
        let mut room = [0; 16 * 1024];
        while let Ok(read @ 1..) = self.socket.read(&mut room) {
            self.buffer.extend(&room[..read]);
        }
        while let Some(chunk) = take_chunk(&mut self.buffer) {
            let event = self.packed.unpack(&chunk);
            let bytes = chunk.len() as u64;
            if event.starts_with("event: plan") {
                self.heard.plans += 1;
                self.heard.plan_bytes += bytes;
                continue;
            }
            self.heard.bytes += bytes;
            if let Some(to) = number(&event, "\"to\":").or_else(|| number(&event, "{\"head\":")) {
                self.reached.fetch_max(to, Ordering::Relaxed);
            }
            self.heard.events.push((at, event));
        }
    }
}

/// The first chunk of a chunked answer, once all of it is there.
fn take_chunk(buffer: &mut Vec<u8>) -> Option<Vec<u8>> {
    let line = buffer.windows(2).position(|two| two == b"\r\n")?;
    let length = usize::from_str_radix(std::str::from_utf8(&buffer[..line]).ok()?, 16).ok()?;
    let (from, to) = (line + 2, line + 2 + length);
    let chunk = buffer.get(from..to)?.to_vec();
    if buffer.len() < to + 2 {
        return None;
    }
    buffer.drain(..to + 2);
    Some(chunk)
}

/// A gzip stream whose end never comes.
struct Packed {
    inflate: Decompress,
    /// Bytes of the header still to come.
    header: usize,
}

impl Default for Packed {
    fn default() -> Self {
        Self { inflate: Decompress::new(false), header: 10 }
    }
}

impl Packed {
    /// The server ends every piece so that it can be read whole.
    fn unpack(&mut self, chunk: &[u8]) -> String {
        let skipped = self.header.min(chunk.len());
        self.header -= skipped;
        let mut chunk = &chunk[skipped..];
        let mut text = Vec::with_capacity(chunk.len() * 4 + 64);
        loop {
            let before = self.inflate.total_in();
            self.inflate.decompress_vec(chunk, &mut text, FlushDecompress::Sync).expect("a readable stream");
            chunk = &chunk[(self.inflate.total_in() - before) as usize..];
            if chunk.is_empty() && text.len() < text.capacity() {
                return String::from_utf8(text).expect("events are text");
            }
            text.reserve(text.capacity().max(256));
        }
    }
}

fn number(event: &str, after: &str) -> Option<u64> {
    let rest = &event[event.find(after)? + after.len()..];
    rest[..rest.find(|c: char| !c.is_ascii_digit())?].parse().ok()
}

/// The frames among what came in one piece.
pub fn frames(event: &str) -> impl Iterator<Item = Value> {
    let mut is_frame = false;
    event.lines().filter_map(move |line| {
        if let Some(name) = line.strip_prefix("event: ") {
            is_frame = name == "frame";
        }
        line.strip_prefix("data: ").filter(|_| is_frame).and_then(|data| serde_json::from_str(data).ok())
    })
}

/// What a phone holds.
#[derive(Clone, Default)]
pub struct Copy {
    pub cursor: u64,
    /// Asked for so far.
    pub pages: u32,
    pub hash: String,
    docs: BTreeMap<String, (Option<u64>, Value)>,
}

impl Copy {
    /// Pulls to the head; says the last operation of this client that the server has. A copy whose
    /// chain is not the server's gets an error.
    pub fn pull(&mut self, connection: &mut Connection, client: &str) -> io::Result<u64> {
        loop {
            self.pages += 1;
            let hash = if self.cursor > 0 { format!("&hash={}", self.hash) } else { String::new() };
            let path = format!("/api/v1/sync/pull?after={}{hash}&client={client}", self.cursor);
            let answer = connection.send("GET", &path, None)?;
            if answer.status != 200 {
                return Err(io::Error::other(format!("a pull failed: {} {}", answer.status, answer.body)));
            }
            self.take_in(&answer.body);
            if answer.body["more"] == false {
                return Ok(answer.body["last_n"].as_u64().unwrap_or(0));
            }
        }
    }

    /// Applies a frame at its place; false if one before it is missing.
    pub fn follow(&mut self, frame: &Value) -> bool {
        let (from, to) = (frame["from"].as_u64(), frame["to"].as_u64());
        if to <= Some(self.cursor) {
            return true;
        }
        let fits = from == Some(self.cursor);
        if fits {
            self.take_in(frame);
        }
        fits
    }

    fn take_in(&mut self, page: &Value) {
        for doc in page["docs"].as_array().into_iter().flatten() {
            let key = doc["key"].as_str().unwrap_or_default();
            if doc["gone"] == true {
                self.docs.remove(key);
            } else {
                let kept = self.docs.entry(key.to_owned()).or_default();
                kept.0 = doc["seq"].as_u64();
                match doc.get("patch") {
                    Some(patch) => json_patch::merge(&mut kept.1, patch),
                    None => kept.1 = doc["body"].clone(),
                }
            }
        }
        self.cursor = page["to"].as_u64().unwrap_or(self.cursor);
        self.hash = page["hash"].as_str().unwrap_or_default().to_owned();
    }

    /// The same documents at the same place of the same history.
    pub fn same(&self, other: &Self) -> bool {
        self.cursor == other.cursor && self.hash == other.hash && self.docs == other.docs
    }

    pub fn has(&self, key: &str) -> bool {
        self.docs.contains_key(key)
    }

    pub fn len(&self) -> usize {
        self.docs.len()
    }

    /// The first document in which the two differ, to say so.
    pub fn differs(&self, other: &Self) -> Option<String> {
        let keys = self.docs.keys().chain(other.docs.keys());
        keys.into_iter().find(|key| self.docs.get(*key) != other.docs.get(*key)).cloned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_copy_applies_a_frame_only_at_its_cursor() {
        let mut copy = Copy::default();
        let frame = |from: u64, to: u64| json!({"from": from, "to": to, "hash": "h", "docs": [{"key": format!("note/{to}"), "seq": to, "body": {}}]});
        assert!(copy.follow(&frame(0, 2)));
        assert!(!copy.follow(&frame(3, 4)), "one between is missing");
        assert!(copy.follow(&frame(0, 2)), "one that came twice does no harm");
        assert!(copy.follow(&frame(2, 3)));
        assert_eq!((copy.cursor, copy.len(), copy.has("note/4")), (3, 2, false));
    }

    #[test]
    fn a_lost_document_and_an_older_one_are_differences() {
        let doc = |key: &str, seq: u64| json!({"key": key, "seq": seq, "body": {}});
        let after = |docs: Vec<Value>| {
            let mut copy = Copy::default();
            copy.follow(&json!({"from": 0, "to": 9, "hash": "h", "docs": docs}));
            copy
        };
        let whole = after(vec![doc("card/a", 1), doc("note/b", 2)]);
        let gone = json!({"key": "note/b", "seq": 3, "gone": true});
        for other in [after(vec![doc("card/a", 1)]), after(vec![doc("card/a", 1), doc("note/b", 2), gone])] {
            assert_eq!(other.differs(&whole).as_deref(), Some("note/b"));
        }
        assert_eq!(
            after(vec![doc("card/a", 0), doc("note/b", 2)]).differs(&whole).as_deref(),
            Some("card/a")
        );
        assert!(after(vec![doc("note/b", 2), doc("card/a", 1)]).same(&whole));
    }

    #[test]
    fn a_chunk_is_taken_when_all_of_it_is_there() {
        let whole = b"3\r\nabc\r\n1\r\nd\r\n";
        for cut in 0..=whole.len() {
            let mut buffer = whole[..cut].to_vec();
            let mut chunks: Vec<Vec<u8>> = std::iter::from_fn(|| take_chunk(&mut buffer)).collect();
            buffer.extend(&whole[cut..]);
            chunks.extend(std::iter::from_fn(|| take_chunk(&mut buffer)));
            assert_eq!(chunks, [b"abc".to_vec(), b"d".to_vec()], "cut at {cut}");
        }
    }

    #[test]
    fn frames_are_found_beside_other_events() {
        let event = "event: frame\ndata: {\"from\":1,\"to\":22}\n\nevent: notices\ndata: {}\n\n";
        assert_eq!(frames(event).collect::<Vec<_>>(), [json!({"from": 1, "to": 22})]);
        assert_eq!(number(event, "\"to\":"), Some(22));
        assert_eq!(number("event: head\ndata: {\"head\":7}\n\n", "{\"head\":"), Some(7));
    }
}

//! What travels between phones and server, without HTTP.

use std::sync::Arc;

use domain::Ms;
use domain::ids::{ClientId, PersonId, SessionId};
use domain::stored::Verdict;
use serde_json::Value;
use uuid::Uuid;

#[derive(Debug, Clone)]
pub enum Ask {
    Push {
        epoch: String,
        session: SessionId,
        client: ClientId,
        device_now: Ms,
        ops: Vec<Value>,
    },
    Pull {
        epoch: String,
        session: SessionId,
        after: u64,
        hash: String,
        limit: usize,
        client: ClientId,
        beside: Option<(u64, String)>,
    },
    Bind {
        session: SessionId,
        client: ClientId,
    },
    SignIn {
        person: PersonId,
        client: Option<ClientId>,
        browser: Uuid,
    },
    Live {
        session: SessionId,
    },
}

#[derive(Debug, Clone)]
pub enum Answer {
    Pushed { now: Ms, results: Vec<Told> },
    Page(Arc<Page>),
    Bound,
    SignedIn { session: SessionId, client: ClientId, epoch: String },
    LiveOpen { head: u64 },
    Failed(Failure),
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Failure {
    EpochChanged {
        epoch: String,
    },
    Gap {
        expected: u64,
    },
    Forked,
    /// 403: this sign-in may not deliver that client.
    NotYours,
    /// 401.
    SignIn,
    /// The person has left the shop.
    Gone,
    ClientTaken,
    /// 5xx, or no answer.
    Later,
}

/// One operation's verdict, as its phone is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    pub n: u64,
    pub seq: u64,
    pub verdict: Verdict,
    pub code: Option<String>,
    pub excepted: bool,
}

#[derive(Debug)]
pub struct Page {
    pub epoch: String,
    pub from: u64,
    pub to: u64,
    pub hash: String,
    pub more: bool,
    pub docs: Vec<Line>,
    pub last_n: u64,
    /// The server's head, and the chain's word there.
    pub head: (u64, String),
    pub now: Ms,
}

#[derive(Debug)]
pub struct Frame {
    pub epoch: String,
    pub from: u64,
    /// The chain's word at `from`: a frame of another history must not fit by its number.
    pub was: String,
    pub to: u64,
    pub hash: String,
    pub docs: Vec<Line>,
}

#[derive(Debug, Clone)]
pub struct Line {
    pub key: String,
    pub seq: u64,
    pub what: Change,
}

#[derive(Debug, Clone)]
pub enum Change {
    Body(Arc<Value>),
    Patch(Arc<Value>),
    Gone,
}

/// The same for equal JSON values whatever the order of their fields.
pub fn fingerprint(value: &Value) -> u64 {
    match value {
        Value::Null => 1,
        Value::Bool(b) => 2 + u64::from(*b),
        Value::Number(n) => mix(5, n.as_i64().map_or_else(|| n.to_string().len() as u64, |n| n as u64)),
        Value::String(s) => mix(7, bytes(s)),
        Value::Array(items) => items.iter().fold(11, |all, item| mix(all, fingerprint(item))),
        Value::Object(fields) => fields
            .iter()
            .fold(13, |all, (name, value)| all.wrapping_add(mix(bytes(name), fingerprint(value)))),
    }
}

/// One document's share of a copy's fingerprint: shares are added, so that a change is cheap.
pub fn share(key: &str, body: &Value) -> u64 {
    mix(bytes(key), fingerprint(body))
}

fn bytes(text: &str) -> u64 {
    // FNV-1a, 64 bits.
    text.bytes()
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x100_0000_01b3))
}

fn mix(a: u64, b: u64) -> u64 {
    let x = (a ^ b.rotate_left(29)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    (x ^ (x >> 32)).wrapping_mul(0xd6e8_feb8_6659_fd93)
}

//! One stored line:
//!
//! ```text
//! {"seq":8,"last":9,"check":"5e0f7a11","prev":"<hex>","hash":"<hex>","entry":<exact bytes>}
//! ```
//!
//! `last` is the number of the last entry of the same batch: a batch that lacks it was torn.
//! `hash` is SHA-256(prev ‖ entry). `check` covers seq, last and hash, which the chain does not:
//! without it one flipped bit in `last` would make a whole batch look torn.
//! There is exactly one spelling of a line, so every changed byte is seen.

use crate::types::{Hash, chain};
use sha2::{Digest, Sha256};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Line<'a> {
    pub seq: u64,
    pub last: u64,
    pub prev: Hash,
    pub hash: Hash,
    pub body: &'a [u8],
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum BadLine {
    Unreadable,
    Edited,
}

fn check(seq: u64, last: u64, hash: &Hash) -> [u8; 4] {
    let sum = Sha256::new().chain_update(seq.to_le_bytes()).chain_update(last.to_le_bytes());
    sum.chain_update(hash).finalize()[..4].try_into().expect("four of 32 bytes")
}

pub(crate) fn encode(out: &mut Vec<u8>, seq: u64, last: u64, prev: &Hash, body: &[u8]) -> Hash {
    let hash = chain(prev, body);
    let check = hex::encode(check(seq, last, &hash));
    let (p, h) = (hex::encode(prev), hex::encode(hash));
    let head = format!(r#"{{"seq":{seq},"last":{last},"check":"{check}","prev":"{p}","hash":"{h}","entry":"#);
    out.extend_from_slice(head.as_bytes());
    out.extend_from_slice(body);
    out.extend_from_slice(b"}\n");
    hash
}

/// `line` without its line break.
pub(crate) fn decode(line: &[u8]) -> Result<Line<'_>, BadLine> {
    let (seq, last, given, prev, hash, body) = split(line).ok_or(BadLine::Unreadable)?;
    if given != check(seq, last, &hash) || hash != chain(&prev, body) {
        return Err(BadLine::Edited);
    }
    Ok(Line { seq, last, prev, hash, body })
}

type Parts<'a> = (u64, u64, [u8; 4], Hash, Hash, &'a [u8]);

fn split(line: &[u8]) -> Option<Parts<'_>> {
    let mut rest = line;
    let seq = number(&mut rest, br#"{"seq":"#)?;
    let last = number(&mut rest, br#","last":"#)?;
    let check = hex_field(&mut rest, br#","check":""#)?;
    let prev = hex_field(&mut rest, br#"","prev":""#)?;
    let hash = hex_field(&mut rest, br#"","hash":""#)?;
    let body = rest.strip_prefix(br#"","entry":"#)?.strip_suffix(b"}")?;
    Some((seq, last, check, prev, hash, body))
}

fn number(rest: &mut &[u8], before: &[u8]) -> Option<u64> {
    let after = rest.strip_prefix(before)?;
    let len = after.iter().take_while(|b| b.is_ascii_digit()).count();
    let (digits, after) = after.split_at(len);
    if digits.len() > 1 && digits[0] == b'0' {
        return None;
    }
    *rest = after;
    std::str::from_utf8(digits).ok()?.parse().ok()
}

fn hex_field<const N: usize>(rest: &mut &[u8], before: &[u8]) -> Option<[u8; N]> {
    let after = rest.strip_prefix(before)?;
    let (digits, after) = after.split_at_checked(2 * N)?;
    // One spelling only: the decoder would take capitals too.
    if digits.iter().any(u8::is_ascii_uppercase) {
        return None;
    }
    let mut value = [0; N];
    hex::decode_to_slice(digits, &mut value).ok()?;
    *rest = after;
    Some(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::types::ZERO;

    #[test]
    fn a_line_is_read_back_and_any_flipped_bit_is_seen() {
        let mut line = Vec::new();
        encode(&mut line, 10, 12, &ZERO, br#"{"a":"b c","n":[1,2]}"#);
        line.pop();
        let read = decode(&line).unwrap();
        assert_eq!((read.seq, read.last, read.body), (10, 12, &br#"{"a":"b c","n":[1,2]}"#[..]));
        for at in 0..line.len() {
            for bit in 0..8 {
                let mut bad = line.clone();
                bad[at] ^= 1 << bit;
                assert!(decode(&bad).is_err(), "byte {at} bit {bit}");
            }
        }
        for len in 0..line.len() {
            assert!(decode(&line[..len]).is_err());
        }
    }

    /// The line is JSON for any other reader, and the hash is what `sha256sum` of the same bytes
    /// says: 32 zero bytes, then `{"a":1}`.
    #[test]
    fn other_programs_can_read_and_check_a_line() {
        let mut line = Vec::new();
        encode(&mut line, 1, 1, &ZERO, br#"{"a":1}"#);
        let json: serde_json::Value = serde_json::from_slice(&line).unwrap();
        assert_eq!(json["entry"]["a"], 1);
        let outside = "b06a229070741292512e8760f470dd7a4c46ccfdf253df781d88dabe58c1ccb1";
        assert_eq!(json["hash"], outside);
    }
}

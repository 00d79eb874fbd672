//! A compressed, checksummed copy in one file: sealed segments and snapshots.
//!
//! One JSON line that says what is inside, itself under a checksum, then a zstd frame.

use crate::types::{Hash, Head};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// Longest header line, for reading it alone.
pub(crate) const HEADER_MAX: usize = 512;

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Header {
    pub first: u64,
    pub last: u64,
    #[serde(with = "hex")]
    pub hash: Hash,
    pub bytes: u64,
    #[serde(with = "hex")]
    sha256: Hash,
    #[serde(with = "hex")]
    check: [u8; 4],
}

impl Header {
    fn sum(&self) -> [u8; 4] {
        let numbers = [self.first, self.last, self.bytes].map(u64::to_le_bytes).concat();
        let sum = Sha256::new().chain_update(numbers).chain_update(self.hash).chain_update(self.sha256);
        sum.finalize()[..4].try_into().expect("four of 32 bytes")
    }

    pub fn head(&self) -> Head {
        Head { seq: self.last, hash: self.hash }
    }
}

pub(crate) fn pack(first: u64, last: &Head, content: &[u8]) -> std::io::Result<Vec<u8>> {
    let sha256 = Sha256::digest(content).into();
    let bytes = content.len() as u64;
    let mut header = Header { first, last: last.seq, hash: last.hash, bytes, sha256, check: [0; 4] };
    header.check = header.sum();
    let mut out = serde_json::to_vec(&header).map_err(std::io::Error::other)?;
    out.push(b'\n');
    out.extend(zstd::bulk::compress(content, 3)?);
    Ok(out)
}

/// The header, if it is whole, and where the content starts.
pub(crate) fn header(file: &[u8]) -> Option<(Header, usize)> {
    let end = file.iter().take(HEADER_MAX).position(|b| *b == b'\n')?;
    let header: Header = serde_json::from_slice(&file[..end]).ok()?;
    (header.check == header.sum()).then_some((header, end + 1))
}

/// None: not whole.
pub(crate) fn unpack(file: &[u8]) -> Option<(Header, Vec<u8>)> {
    let (header, start) = header(file)?;
    let content = zstd::bulk::decompress(&file[start..], header.bytes.try_into().ok()?).ok()?;
    let whole = content.len() as u64 == header.bytes && Hash::from(Sha256::digest(&content)) == header.sha256;
    whole.then_some((header, content))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_flipped_bit_is_seen() {
        let content: Vec<u8> = (0..2000u32).flat_map(|n| n.to_string().into_bytes()).collect();
        let good = pack(3, &Head { seq: 9, hash: [7; 32] }, &content).unwrap();
        assert_eq!(unpack(&good).unwrap().1, content);
        for at in 0..good.len() {
            for bit in [0, 5] {
                let mut bad = good.clone();
                bad[at] ^= 1 << bit;
                // A header may be spelled differently and mean the same; its meaning is what counts.
                if let Some((header, read)) = unpack(&bad) {
                    assert_eq!((header.first, header.last, &read), (3, 9, &content), "byte {at}");
                }
            }
        }
    }
}

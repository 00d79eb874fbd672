//! A backup that only a passphrase opens.
//!
//! ```text
//! "turnbuckle sealed backup 1\n"   then 16 bytes of salt, then argon2id's memory (KiB), passes and lanes, each
//!                                   four bytes, little end first
//! pieces of 64 KiB, each sealed with ChaCha20-Poly1305 (RFC 8439) and its 16-byte tag; the last may be shorter
//! ```
//!
//! The key is argon2id (RFC 9106) of the passphrase and the salt, so it is another for every file. The nonce of a
//! piece is its number and whether it is the last, as in the STREAM construction: no piece can be left out, moved
//! or cut off at the end. What stands before the pieces is sealed with each of them.
//! Must not know: what is in it.

use std::io::{self, ErrorKind, Read, Write};

use argon2::{Algorithm, Argon2, Params, Version};
use aws_lc_rs::aead::{Aad, CHACHA20_POLY1305, LessSafeKey, Nonce, UnboundKey};

const MAGIC: &[u8] = b"turnbuckle sealed backup 1\n";
const PIECE: usize = 64 * 1024;
const TAG: usize = 16;
const HEAD: usize = MAGIC.len() + 16 + 12;
/// RFC 9106, 4: the second recommended choice, for machines with less memory.
const COST: [u32; 3] = [64 * 1024, 3, 4];
/// A file may not make the reader take more than this.
const MEMORY_KIB_MAX: u32 = 1024 * 1024;

pub const PASSPHRASE_CHARS_MIN: usize = 12;

fn broken(why: &str) -> io::Error {
    io::Error::new(ErrorKind::InvalidData, why)
}

fn key(passphrase: &str, head: &[u8]) -> io::Result<LessSafeKey> {
    let salt = &head[MAGIC.len()..MAGIC.len() + 16];
    let number = |i: usize| {
        let at = MAGIC.len() + 16 + 4 * i;
        u32::from_le_bytes([head[at], head[at + 1], head[at + 2], head[at + 3]])
    };
    let [memory, passes, lanes] = [number(0), number(1), number(2)];
    if memory > MEMORY_KIB_MAX || passes > 100 {
        return Err(broken("it asks for more memory than any backup of this program does"));
    }
    let params = Params::new(memory, passes, lanes, Some(32)).map_err(|e| broken(&e.to_string()))?;
    let mut bytes = [0; 32];
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
        .hash_password_into(passphrase.as_bytes(), salt, &mut bytes)
        .map_err(|e| broken(&e.to_string()))?;
    let key = UnboundKey::new(&CHACHA20_POLY1305, &bytes).map_err(|_| broken("no key can be made of it"))?;
    Ok(LessSafeKey::new(key))
}

fn nonce(piece: u64, last: bool) -> Nonce {
    let mut bytes = [0; 12];
    bytes[3..11].copy_from_slice(&piece.to_be_bytes());
    bytes[11] = u8::from(last);
    Nonce::assume_unique_for_key(bytes)
}

/// Seals what is written to it. [`Sealer::finish`] must follow, or the file is one that was cut short.
pub struct Sealer<W: Write> {
    to: W,
    head: Vec<u8>,
    key: LessSafeKey,
    held: Vec<u8>,
    piece: u64,
}

impl<W: Write> Sealer<W> {
    pub fn new(to: W, passphrase: &str) -> io::Result<Self> {
        Self::with_cost(to, passphrase, COST)
    }

    fn with_cost(mut to: W, passphrase: &str, cost: [u32; 3]) -> io::Result<Self> {
        let mut head = MAGIC.to_vec();
        let mut salt = [0; 16];
        getrandom::fill(&mut salt).map_err(|e| io::Error::other(e.to_string()))?;
        head.extend_from_slice(&salt);
        cost.iter().for_each(|number| head.extend_from_slice(&number.to_le_bytes()));
        let key = key(passphrase, &head)?;
        to.write_all(&head)?;
        Ok(Self { to, head, key, held: Vec::with_capacity(PIECE + TAG), piece: 0 })
    }

    fn seal(&mut self, last: bool) -> io::Result<()> {
        let aad = Aad::from(&self.head);
        let sealed = self.key.seal_in_place_append_tag(nonce(self.piece, last), aad, &mut self.held);
        sealed.map_err(|_| broken("it could not be sealed"))?;
        self.to.write_all(&self.held)?;
        self.held.clear();
        self.piece += 1;
        Ok(())
    }

    pub fn finish(mut self) -> io::Result<W> {
        self.seal(true)?;
        self.to.flush()?;
        Ok(self.to)
    }
}

impl<W: Write> Write for Sealer<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        // A full piece waits until there is more: the last one is sealed as the last.
        if self.held.len() == PIECE && !bytes.is_empty() {
            self.seal(false)?;
        }
        let fits = bytes.len().min(PIECE - self.held.len());
        self.held.extend_from_slice(&bytes[..fits]);
        Ok(fits)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

/// Whether a file that begins so is sealed.
pub fn is_sealed(beginning: &[u8]) -> bool {
    beginning.starts_with(MAGIC)
}

pub const BEGINNING: usize = MAGIC.len();

/// Reads what was sealed; every byte it gives was looked at first.
pub struct Opener<R: Read> {
    from: R,
    head: Vec<u8>,
    key: LessSafeKey,
    open: Vec<u8>,
    at: usize,
    /// Read ahead, to know whether the piece before it was the last.
    next: Vec<u8>,
    piece: u64,
    ended: bool,
}

impl<R: Read> Opener<R> {
    pub fn new(mut from: R, passphrase: &str) -> io::Result<Self> {
        let mut head = vec![0; HEAD];
        from.read_exact(&mut head)?;
        if !is_sealed(&head) {
            return Err(broken("it is no sealed backup"));
        }
        let key = key(passphrase, &head)?;
        let mut opener =
            Self { from, head, key, open: Vec::new(), at: 0, next: Vec::new(), piece: 0, ended: false };
        opener.next = opener.piece_ahead()?;
        Ok(opener)
    }

    fn piece_ahead(&mut self) -> io::Result<Vec<u8>> {
        let mut piece = Vec::new();
        self.from.by_ref().take((PIECE + TAG) as u64).read_to_end(&mut piece)?;
        Ok(piece)
    }

    fn turn(&mut self) -> io::Result<()> {
        let mut piece = std::mem::take(&mut self.next);
        self.next = if piece.len() == PIECE + TAG { self.piece_ahead()? } else { Vec::new() };
        let last = self.next.is_empty();
        let aad = Aad::from(&self.head);
        let opened = self.key.open_in_place(nonce(self.piece, last), aad, &mut piece);
        let length = opened.map_err(|_| broken(WRONG))?.len();
        piece.truncate(length);
        (self.open, self.at, self.ended) = (piece, 0, last);
        self.piece += 1;
        Ok(())
    }
}

const WRONG: &str = "the passphrase is not the one it was sealed with, or the file was changed or cut short";

impl<R: Read> Read for Opener<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while self.at == self.open.len() && !self.ended {
            self.turn()?;
        }
        let fits = into.len().min(self.open.len() - self.at);
        into[..fits].copy_from_slice(&self.open[self.at..self.at + fits]);
        self.at += fits;
        Ok(fits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIGHT: [u32; 3] = [8, 1, 1];

    fn sealed(plain: &[u8], passphrase: &str) -> Vec<u8> {
        let mut sealer = Sealer::with_cost(Vec::new(), passphrase, LIGHT).unwrap();
        sealer.write_all(plain).unwrap();
        sealer.finish().unwrap()
    }

    fn opened(sealed: &[u8], passphrase: &str) -> io::Result<Vec<u8>> {
        let mut plain = Vec::new();
        Opener::new(sealed, passphrase)?.read_to_end(&mut plain)?;
        Ok(plain)
    }

    #[test]
    fn what_was_sealed_comes_out_again_whatever_its_length() {
        for length in [0, 1, PIECE - 1, PIECE, PIECE + 1, 3 * PIECE, 3 * PIECE + 7] {
            let plain: Vec<u8> = (0..length).map(|i| (i % 251) as u8).collect();
            let kept = sealed(&plain, "a good passphrase");
            assert!(is_sealed(&kept));
            assert_eq!(opened(&kept, "a good passphrase").unwrap(), plain, "{length}");
            assert!(opened(&kept, "a bad passphrase").is_err());
        }
    }

    #[test]
    fn nothing_can_be_changed_moved_or_cut_off() {
        let plain = vec![7; 3 * PIECE];
        let kept = sealed(&plain, "a good passphrase");
        let whole = PIECE + TAG;
        for at in [0, MAGIC.len(), MAGIC.len() + 17, HEAD, HEAD + whole + 5, kept.len() - 1] {
            let mut changed = kept.clone();
            changed[at] ^= 1;
            assert!(opened(&changed, "a good passphrase").is_err(), "{at}");
        }
        for end in [HEAD, HEAD + whole, HEAD + 2 * whole, kept.len() - 1] {
            assert!(opened(&kept[..end], "a good passphrase").is_err(), "{end}");
        }
        let mut moved = kept.clone();
        moved[HEAD..HEAD + 2 * whole].rotate_left(whole);
        assert!(opened(&moved, "a good passphrase").is_err());
        let mut longer = kept.clone();
        longer.extend_from_slice(&kept[HEAD..]);
        assert!(opened(&longer, "a good passphrase").is_err());
    }
}

//! Passwords and PINs as they are kept: Argon2id in the PHC string format.
//!
//! Its memory is kept and used again. What is given back and asked for anew, 19 MiB aligned to a block,
//! glibc does not find again among what was freed, and the process grew with every try.

use std::sync::{Mutex, PoisonError};

use argon2::password_hash::{Output, ParamsString, PasswordHash, Salt, SaltString};
use argon2::{ARGON2ID_IDENT, Algorithm, Argon2, Block, Params, Version};

use super::random;
use crate::limits::HASHING_RUNNING;

static MEMORY: Mutex<Vec<Vec<Block>>> = Mutex::new(Vec::new());

/// A secret as it is kept.
pub fn hashed(secret: &str) -> Option<String> {
    let salt = SaltString::encode_b64(&random::<16>()).ok()?;
    let params = Params::default();
    let kept = PasswordHash {
        algorithm: ARGON2ID_IDENT,
        version: Some(Version::V0x13.into()),
        params: ParamsString::try_from(&params).ok()?,
        salt: Some(salt.as_salt()),
        hash: Some(digest(secret, salt.as_salt(), Version::V0x13, params, Params::DEFAULT_OUTPUT_LEN)?),
    };
    Some(kept.to_string())
}

pub fn fits(secret: &str, phc: &str) -> bool {
    let checked = || {
        let kept = PasswordHash::new(phc).ok().filter(|kept| kept.algorithm == ARGON2ID_IDENT)?;
        let version = Version::try_from(kept.version?).ok()?;
        let (wanted, params) = (kept.hash?, Params::try_from(&kept).ok()?);
        let found = digest(secret, kept.salt?, version, params, wanted.len())?;
        // Compared in constant time, by the crate.
        Some(found == wanted)
    };
    checked().unwrap_or(false)
}

fn digest(secret: &str, salt: Salt<'_>, version: Version, params: Params, length: usize) -> Option<Output> {
    let mut room = [0; Salt::MAX_LENGTH];
    let salt = salt.decode_b64(&mut room).ok()?;
    let mut memory = memory().pop().unwrap_or_default();
    memory.resize(params.block_count(), Block::default());
    let argon2 = Argon2::new(Algorithm::Argon2id, version, params);
    let made = Output::init_with(length, |out| {
        let done = argon2.hash_password_into_with_memory(secret.as_bytes(), salt, out, &mut memory);
        Ok(done?)
    });
    // What somebody's password filled it with does not lie about.
    memory.fill(Block::default());
    let mut kept = self::memory();
    if kept.len() < HASHING_RUNNING {
        kept.push(memory);
    }
    made.ok()
}

fn memory() -> std::sync::MutexGuard<'static, Vec<Vec<Block>>> {
    MEMORY.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use argon2::password_hash::{PasswordHasher, PasswordVerifier};

    use super::*;

    #[test]
    fn it_is_what_the_library_makes_and_reads() {
        let salt = SaltString::encode_b64(&[7; 16]).unwrap();
        let theirs = Argon2::default().hash_password(b"clamp-and-puller-9", &salt).unwrap().to_string();
        for _ in 0..3 {
            assert!(fits("clamp-and-puller-9", &theirs));
            assert!(!fits("clamp-and-puller-8", &theirs));
        }
        let ours = hashed("clamp-and-puller-9").unwrap();
        assert!(ours.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{ours}");
        let parsed = PasswordHash::new(&ours).unwrap();
        assert!(Argon2::default().verify_password(b"clamp-and-puller-9", &parsed).is_ok());
        assert!(fits("clamp-and-puller-9", &ours) && !fits("", &ours) && !fits("x", "nonsense"));
    }
}

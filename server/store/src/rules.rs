//! What may be stored: one set of rules for every backend, so that the memory store is as strict
//! as the others.

use crate::error::{AppendError, Error, PhotoError};
use crate::types::{Head, TableBatch};
use serde_json::value::RawValue;

/// Bytes of one entry; more is a mistake of the caller, and a line must fit into memory.
pub const MAX_BODY: usize = 4 << 20;

/// Bytes of one document key.
pub const MAX_KEY: usize = 256;

pub(crate) fn check_bodies(bodies: &[&[u8]]) -> Result<(), AppendError> {
    for (index, body) in bodies.iter().enumerate() {
        let invalid = |why| Err(AppendError::Invalid { index, why });
        if body.len() > MAX_BODY {
            return invalid("it is too large");
        }
        if body.iter().any(|b| *b == b'\n' || *b == b'\r') {
            return invalid("it holds a line break");
        }
        match serde_json::from_slice::<&RawValue>(body) {
            // The raw value is read back without the space around it, and then hashed.
            Ok(raw) if raw.get().len() == body.len() => {}
            Ok(_) => return invalid("it has space around it"),
            Err(_) => return invalid("it is not one JSON value"),
        }
    }
    Ok(())
}

pub(crate) fn check_batch(applied: Option<Head>, batch: &TableBatch) -> Result<(), Error> {
    let order = |why: String| Err(Error::Order { why });
    let floor = applied.map_or(0, |h| h.seq);
    if batch.seq <= floor && applied.is_some() {
        return order(format!("it ends at {}, but {floor} is applied", batch.seq));
    }
    let rows = (batch.docs.iter().map(|d| ("document", d.seq)))
        .chain(batch.verdicts.iter().map(|v| ("verdict", v.seq)))
        .chain(batch.notices.iter().map(|n| ("notice", n.at.seq)));
    for (what, seq) in rows {
        if seq <= floor || seq > batch.seq {
            return order(format!("a {what} of entry {seq} is not in {}..={}", floor + 1, batch.seq));
        }
    }
    for doc in &batch.docs {
        if doc.key.is_empty() || doc.key.len() > MAX_KEY {
            return order(format!("a document key has {} bytes (1 to {MAX_KEY} may be)", doc.key.len()));
        }
    }
    // Later changes of one document must come later, or "the last one counts" would go back in time.
    let mut last = std::collections::BTreeMap::new();
    for doc in &batch.docs {
        if let Some(before) = last.insert(&doc.key, doc.seq)
            && before > doc.seq
        {
            return order(format!("document {} goes back from {before} to {}", doc.key, doc.seq));
        }
    }
    Ok(())
}

pub(crate) fn check_tree(tree: &str) -> Result<(), Error> {
    if tree.is_empty() || tree.contains('\0') {
        return Err(Error::Order { why: "a tree's name is empty or holds a zero byte".into() });
    }
    Ok(())
}

/// Upload ids and preview names become file names.
pub(crate) fn check_name(name: &str) -> Result<(), PhotoError> {
    let good = |b: u8| b.is_ascii_alphanumeric() || b == b'-' || b == b'_';
    if name.is_empty() || name.len() > 64 || !name.bytes().all(good) {
        return Err(PhotoError::BadName { name: name.chars().take(80).collect() });
    }
    Ok(())
}

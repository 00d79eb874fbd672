//! Appending, sealing, compacting. One writer at a time; readers are never held up by a sync.

use super::line::encode;
use super::scan::LINES_PER_MARK;
use super::segment::{Segment, name};
use super::{Journal, Shared, State, Writer};
use crate::disk::{Mode, is_full};
use crate::error::AppendError;
use crate::memory::{lock, read, write};
use crate::rules::check_bodies;
use crate::types::{Hash, Head, ZERO};
use std::io;
use std::sync::Arc;

impl Journal {
    /// `expected` none: wherever the journal ends.
    pub fn append(&self, expected: Option<u64>, bodies: &[&[u8]]) -> Result<Head, AppendError> {
        check_bodies(bodies)?;
        let mut w = lock(&self.writer);
        let head = self.shared.writable(expected)?;
        if bodies.is_empty() {
            return Ok(head);
        }
        if w.file.is_none() || w.len >= self.options.segment_bytes {
            self.roll(&mut w, head)?;
        }
        let Some(file) = w.file.clone() else {
            return Err(AppendError::Io(io::Error::other("there is no segment to write to")));
        };
        let (buf, offsets, new) = encode_batch(head, bodies);
        if let Err(e) = file.write_at(w.len, &buf) {
            // Nothing was acknowledged, so taking the half-written batch back is safe. Synced, so that
            // its sectors cannot mix with those of the next batch.
            if let Err(cut) = file.set_len(w.len).and_then(|()| file.sync()) {
                return Err(self.shared.fail(&format!("{e}; then {cut}")));
            }
            return Err(not_written(e));
        }
        if let Err(e) = file.sync() {
            return Err(self.shared.fail(&format!("sync failed: {e}")));
        }
        let start = w.len;
        w.len += buf.len() as u64;
        let mut state = write(&self.shared.state);
        if let Some(segment) = state.segments.last() {
            add_marks(segment, head.seq, start, &offsets);
        }
        state.head = new;
        state.bytes += buf.len() as u64;
        Ok(new)
    }

    /// Starts a segment: its name is safe before anything in it is told.
    fn roll(&self, w: &mut Writer, head: Head) -> Result<(), AppendError> {
        let shared = &self.shared;
        let next = Segment::new(head, false);
        *lock(&next.marks) = Some(Arc::default());
        let file = shared.disk.open(&shared.path(&next.name()), Mode::Create).map_err(not_written)?;
        if let Err(e) = shared.disk.sync_dir(&shared.dir) {
            return Err(shared.fail(&format!("sync of the directory failed: {e}")));
        }
        let sealed = read(&shared.state).segments.last().cloned();
        write(&shared.state).segments.push(Arc::new(next));
        (w.file, w.len) = (Some(file), 0);
        if let Some(sealed) = sealed {
            self.seal_soon(w, sealed, head.seq);
        }
        Ok(())
    }

    fn seal_soon(&self, w: &mut Writer, segment: Arc<Segment>, last: u64) {
        if let Some(thread) = w.sealing.take() {
            let _ = thread.join();
        }
        let shared = self.shared.clone();
        let seal = move || {
            // Without its copy a segment is still whole; opening or verifying will say more.
            if let Err(e) = shared.seal(&segment, last) {
                tracing::warn!(segment = segment.name(), "no second copy: {e}");
            }
        };
        if !self.options.background {
            return seal();
        }
        match std::thread::Builder::new().name("seal".into()).spawn(seal) {
            Ok(thread) => w.sealing = Some(thread),
            Err(e) => tracing::warn!("no second copy until the next start: {e}"),
        }
    }

    /// Replaces everything by `bodies` in one rename. The chain restarts, the numbers go on.
    pub fn compact(&self, expected: u64, bodies: &[&[u8]]) -> Result<Head, AppendError> {
        check_bodies(bodies)?;
        let mut w = lock(&self.writer);
        let head = self.shared.writable(Some(expected))?;
        if let Some(thread) = w.sealing.take() {
            let _ = thread.join();
        }
        let shared = &self.shared;
        let start = Head { seq: head.seq, hash: ZERO };
        let (buf, offsets, new) = encode_batch(start, bodies);
        let base = Segment::new(start, true);
        add_marks(&base, head.seq, 0, &offsets);
        let path = shared.path(&base.name());
        let temporary = path.with_extension("base.tmp");
        let written = shared.disk.open(&temporary, Mode::Create).and_then(|file| {
            file.set_len(0)?;
            file.write_at(0, &buf)?;
            file.sync()?;
            Ok(file)
        });
        let file = match written {
            Ok(file) => file,
            Err(e) => {
                let _ = shared.disk.remove(&temporary);
                return Err(not_written(e));
            }
        };
        if let Err(e) = shared.disk.rename(&temporary, &path).and_then(|()| shared.disk.sync_dir(&shared.dir))
        {
            return Err(shared.fail(&format!("the compacted journal could not take its place: {e}")));
        }
        let bytes = buf.len() as u64;
        let kept = base.name();
        let state = State { head: new, segments: vec![Arc::new(base)], failed: None, bytes };
        let old = std::mem::replace(&mut *write(&shared.state), state).segments;
        (w.file, w.len) = (Some(file), bytes);
        // From here on the old files are void; opening removes what stays.
        for segment in old {
            for name in [segment.name(), segment.copy_name()] {
                // Compacting twice with nothing in between writes the same name again.
                if name == kept {
                    continue;
                }
                let _ = shared.disk.remove(&shared.path(&name));
            }
        }
        let _ = shared.disk.sync_dir(&shared.dir);
        Ok(new)
    }
}

impl Shared {
    fn writable(&self, expected: Option<u64>) -> Result<Head, AppendError> {
        let state = read(&self.state);
        if let Some(why) = &state.failed {
            return Err(AppendError::ReadOnly { why: why.clone() });
        }
        match expected {
            Some(expected) if expected != state.head.seq => {
                Err(AppendError::Conflict { expected, head: state.head.seq })
            }
            _ => Ok(state.head),
        }
    }

    fn fail(&self, why: &str) -> AppendError {
        tracing::error!(dir = %self.dir.display(), "read-only from now on: {why}");
        write(&self.state).failed = Some(why.to_owned());
        AppendError::ReadOnly { why: why.to_owned() }
    }
}

fn not_written(e: io::Error) -> AppendError {
    if is_full(&e) { AppendError::Full } else { AppendError::Io(e) }
}

/// The bytes, the offset of each line in them, and the head after them.
fn encode_batch(start: Head, bodies: &[&[u8]]) -> (Vec<u8>, Vec<u64>, Head) {
    let last = start.seq + bodies.len() as u64;
    let mut buf = Vec::with_capacity(bodies.iter().map(|b| b.len() + 240).sum());
    let mut offsets = Vec::with_capacity(bodies.len());
    let mut head = start;
    for body in bodies {
        offsets.push(buf.len() as u64);
        let seq = head.seq + 1;
        let hash: Hash = encode(&mut buf, seq, last, &head.hash, body);
        head = Head { seq, hash };
    }
    (buf, offsets, head)
}

fn add_marks(segment: &Segment, before: u64, start: u64, offsets: &[u64]) {
    let mut marks = lock(&segment.marks);
    let list = Arc::make_mut(marks.get_or_insert_default());
    let lines = before - segment.before.seq;
    for (i, offset) in (lines..).zip(offsets) {
        if i % LINES_PER_MARK == 0 {
            list.push(start + offset);
        }
    }
}

/// For a segment of the given first entry: used when a backup is written.
pub(crate) fn segment_name(first: u64) -> String {
    name(first, false)
}

//! Reading entries, every one checked against its hash and its neighbour.

use super::line::decode;
use super::scan::{LINES_PER_MARK, line_len};
use super::segment::{Segment, fault};
use super::{Journal, Shared};
use crate::disk::{Mode, read_at_most};
use crate::error::{Error, Fault, FaultKind};
use crate::memory::{lock, read};
use crate::types::{Hash, Head, Replay, Stored, ZERO};
use std::sync::Arc;

/// Read at once from a file.
const CHUNK: usize = 64 << 10;

/// What one step of a replay holds in memory at most (one entry may be larger).
const STEP_BYTES: usize = 4 << 20;
const STEP_ENTRIES: usize = 4096;

impl Journal {
    pub fn read(&self, from: u64, limit: usize) -> Result<Vec<Stored>, Error> {
        self.shared.read(from, limit, usize::MAX)
    }

    pub fn hash_at(&self, seq: u64) -> Result<Option<Hash>, Error> {
        let head = self.head();
        if seq == 0 {
            return Ok(Some(ZERO));
        }
        if seq == head.seq {
            return Ok(Some(head.hash));
        }
        Ok(self.read(seq, 1)?.first().filter(|e| e.seq == seq).map(|e| e.hash))
    }

    pub fn replay(&self, from: u64) -> Replay<'_, Stored> {
        let end = self.head().seq;
        Box::new(Steps {
            shared: &self.shared,
            next: from.max(1),
            end,
            prev: None,
            step: Vec::new().into_iter(),
        })
    }

    /// Everything after `at`, with no compaction in between: while it is read, nothing is written.
    /// None: there is no such entry here.
    pub fn replay_held(&self, at: Head) -> Result<Option<Replay<'_, Stored>>, Error> {
        let held = lock(&self.writer);
        if at.seq > 0 && (at.seq > self.head().seq || self.hash_at(at.seq)? != Some(at.hash)) {
            return Ok(None);
        }
        let mut steps = self.replay(at.seq + 1);
        Ok(Some(Box::new(std::iter::from_fn(move || {
            let _held = &held;
            steps.next()
        }))))
    }
}

struct Steps<'a> {
    shared: &'a Shared,
    next: u64,
    end: u64,
    prev: Option<Hash>,
    step: std::vec::IntoIter<Stored>,
}

impl Iterator for Steps<'_> {
    type Item = Result<Stored, Error>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.next > self.end {
            return None;
        }
        let Some(entry) = self.step.next() else {
            let limit = STEP_ENTRIES.min((self.end - self.next + 1) as usize);
            return match self.shared.read(self.next, limit, STEP_BYTES) {
                Ok(entries) if entries.is_empty() => None,
                Ok(entries) => {
                    self.step = entries.into_iter();
                    self.next()
                }
                Err(e) => {
                    self.next = u64::MAX;
                    Some(Err(e))
                }
            };
        };
        if self.prev.is_some_and(|p| p != entry.prev) {
            self.next = u64::MAX;
            let segment = self.shared.name_of(entry.seq);
            return Some(Err(fault(segment, 0, entry.seq, FaultKind::OutOfOrder, false).into()));
        }
        self.next = entry.seq + 1;
        self.prev = Some(entry.hash);
        Some(Ok(entry))
    }
}

impl Shared {
    fn read(&self, from: u64, limit: usize, max_bytes: usize) -> Result<Vec<Stored>, Error> {
        let mut out: Vec<Stored> = Vec::new();
        let mut bytes = 0;
        let mut next = from.max(1);
        let head = read(&self.state).head;
        while out.len() < limit && bytes < max_bytes {
            let Some((segment, last, sealed)) = self.segment_of(next, head) else { break };
            let first = next.max(segment.before.seq + 1);
            if first > last {
                // An empty base: its numbers went before the compaction.
                next = first;
                continue;
            }
            let part = match self.read_segment(&segment, first, last, limit - out.len(), max_bytes - bytes) {
                Err(Error::Damaged(found)) if sealed => {
                    self.mend(&segment, last, found)?;
                    self.read_segment(&segment, first, last, limit - out.len(), max_bytes - bytes)?
                }
                other => other?,
            };
            let Some(end) = part.last() else { break };
            next = end.seq + 1;
            bytes += part.iter().map(|e| e.body.len()).sum::<usize>();
            out.extend(part);
        }
        Ok(out)
    }

    /// The segment with that entry (or the first after it), its last durable entry, whether sealed.
    fn segment_of(&self, seq: u64, head: Head) -> Option<(Arc<Segment>, u64, bool)> {
        if seq > head.seq {
            return None;
        }
        let state = read(&self.state);
        let at = state.segments.partition_point(|s| s.before.seq < seq).saturating_sub(1);
        let segment = state.segments.get(at)?.clone();
        Some(match state.segments.get(at + 1) {
            Some(next) => (segment, next.before.seq, true),
            None => (segment, head.seq, false),
        })
    }

    fn name_of(&self, seq: u64) -> String {
        self.segment_of(seq, Head { seq, hash: ZERO }).map_or_else(String::new, |(s, ..)| s.name())
    }

    fn read_segment(
        &self,
        segment: &Segment,
        from: u64,
        last: u64,
        limit: usize,
        max_bytes: usize,
    ) -> Result<Vec<Stored>, Error> {
        let marks = self.load(segment, last)?;
        let line = from - segment.before.seq - 1;
        let mark = line / LINES_PER_MARK;
        let name = segment.name();
        let wrong =
            |seq: u64, kind| -> Fault { fault(name.clone(), seq - segment.before.seq, seq, kind, false) };
        let Some(&offset) = marks.get(mark as usize) else {
            return Err(wrong(from, FaultKind::Truncated).into());
        };
        let io = || Error::io(format!("cannot read {name}"));
        let file = self.disk.open(&self.path(&name), Mode::Read).map_err(io())?;
        let mut out: Vec<Stored> = Vec::new();
        let mut taken = 0;
        let mut seq = segment.before.seq + 1 + mark * LINES_PER_MARK;
        let mut prev: Option<Hash> = None;
        let mut buf: Vec<u8> = Vec::new();
        let (mut at, mut file_at) = (0, offset);
        while seq <= last && out.len() < limit && taken < max_bytes {
            let Some(len) = line_len(&buf[at..]) else {
                let chunk = read_at_most(&*file, file_at, CHUNK.max(buf.len() - at)).map_err(io())?;
                if chunk.is_empty() {
                    return Err(wrong(seq, FaultKind::Truncated).into());
                }
                file_at += chunk.len() as u64;
                buf.drain(..at);
                at = 0;
                buf.extend(chunk);
                continue;
            };
            let line = decode(&buf[at..at + len]).map_err(|e| wrong(seq, e.into()))?;
            if line.seq != seq || prev.is_some_and(|p| p != line.prev) {
                return Err(wrong(seq, FaultKind::OutOfOrder).into());
            }
            if seq >= from {
                let (prev, hash) = (line.prev, line.hash);
                out.push(Stored { seq, prev, hash, body: line.body.to_vec() });
                taken += line.body.len().max(1);
            }
            prev = Some(line.hash);
            at += len + 1;
            seq += 1;
        }
        Ok(out)
    }
}

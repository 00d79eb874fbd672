//! Reads the bytes of one segment and says how far they are what was written, and whether what
//! follows is a torn, never acknowledged tail or damage.

use super::line::{BadLine, Line, decode};
use crate::error::FaultKind;
use crate::types::Head;

/// An offset is remembered for every so many lines, so that reading from any entry starts near it.
pub(crate) const LINES_PER_MARK: u64 = 16;

/// Sectors reach the disk whole, in any order.
const SECTOR: usize = 512;

pub(crate) struct Scan {
    /// After the last good line.
    pub head: Head,
    pub lines: u64,
    /// Bytes up to the end of the last whole batch, and the head there.
    pub whole: usize,
    pub whole_head: Head,
    /// Where the last whole batch starts.
    pub last_batch: usize,
    pub marks: Vec<u64>,
    /// The first line that is not right: its number and what is wrong.
    pub bad: Option<(u64, FaultKind)>,
}

impl Scan {
    /// All bytes are whole batches.
    pub fn clean(&self) -> bool {
        self.bad.is_none() && self.head == self.whole_head
    }
}

/// Reads lines after `before`, at most up to entry `until`.
pub(crate) fn scan(bytes: &[u8], before: Head, until: u64) -> Scan {
    let mut s = Scan {
        head: before,
        lines: 0,
        whole: 0,
        whole_head: before,
        last_batch: 0,
        marks: Vec::new(),
        bad: None,
    };
    let (mut at, mut batch_start) = (0, 0);
    // The last entry of the batch being read.
    let mut batch: Option<u64> = None;
    while at < bytes.len() && s.head.seq < until {
        let bad = |kind| Some((s.lines + 1, kind));
        let Some(len) = line_len(&bytes[at..]) else {
            s.bad = bad(FaultKind::Truncated);
            break;
        };
        let line = match decode(&bytes[at..at + len]) {
            Ok(line) => line,
            Err(e) => {
                s.bad = bad(e.into());
                break;
            }
        };
        if !follows(&line, &s.head, batch) {
            s.bad = bad(FaultKind::OutOfOrder);
            break;
        }
        if s.lines.is_multiple_of(LINES_PER_MARK) {
            s.marks.push(at as u64);
        }
        if batch.is_none() {
            batch_start = at;
        }
        s.lines += 1;
        s.head = Head { seq: line.seq, hash: line.hash };
        at += len + 1;
        batch = (line.last > line.seq).then_some(line.last);
        if batch.is_none() {
            (s.last_batch, s.whole, s.whole_head) = (batch_start, at, s.head);
        }
    }
    s
}

fn follows(line: &Line, head: &Head, batch: Option<u64>) -> bool {
    line.seq == head.seq + 1
        && line.prev == head.hash
        && batch.map_or(line.last >= line.seq, |b| b == line.last)
}

pub(crate) fn line_len(bytes: &[u8]) -> Option<usize> {
    bytes.iter().position(|b| *b == b'\n')
}

impl From<BadLine> for FaultKind {
    fn from(e: BadLine) -> Self {
        match e {
            BadLine::Unreadable => FaultKind::Unreadable,
            BadLine::Edited => FaultKind::Edited,
        }
    }
}

/// Whether the bytes after the last whole batch are what a power cut leaves of one batch that was
/// being written: sectors in any order, missing ones read as zeros, the end of the file early.
///
/// Then every line in there is right and of one batch, or touched by a missing sector, or cut by
/// the end. Anything else, such as a changed byte in a batch that is all there, or a bad line with
/// another batch behind it, was acknowledged and is damage.
pub(crate) fn is_torn_tail(bytes: &[u8], s: &Scan) -> bool {
    let mut at = s.whole;
    let mut batch: Option<u64> = None;
    let mut end: Option<u64> = None;
    let mut torn = false;
    while at < bytes.len() {
        let terminated = line_len(&bytes[at..]);
        let len = terminated.unwrap_or(bytes.len() - at);
        let piece = &bytes[at..at + len];
        match decode(piece) {
            Ok(line) => {
                if *batch.get_or_insert(line.last) != line.last {
                    return false;
                }
                torn |= terminated.is_none();
                end = Some(line.seq);
            }
            Err(_) if has_hole(bytes, s.whole, at, at + len) => torn = true,
            Err(_) if terminated.is_none() => {
                // All there, and only the line break changed?
                let whole = piece.split_last().and_then(|(_, line)| decode(line).ok());
                if whole.is_some_and(|line| line.seq == line.last) {
                    return false;
                }
                torn = true;
            }
            Err(_) => return false,
        }
        at += len + 1;
    }
    torn || end != batch
}

/// A sector, as far as it lies after `start`, that is all zeros and meets `from..to`.
fn has_hole(bytes: &[u8], start: usize, from: usize, to: usize) -> bool {
    let mut sector = from / SECTOR * SECTOR;
    while sector < to.max(from + 1) {
        let part = &bytes[sector.max(start)..(sector + SECTOR).min(bytes.len())];
        if !part.is_empty() && part.iter().all(|b| *b == 0) {
            return true;
        }
        sector += SECTOR;
    }
    false
}

//! One segment file and its second copy: verifying, sealing, mending.

use super::Shared;
use super::scan::{Scan, is_torn_tail, scan};
use crate::disk::{Disk, Mode, read_at_most, read_file, write_file};
use crate::error::{Error, Fault, FaultKind};
use crate::memory::lock;
use crate::packed::{self, Header};
use crate::types::{Head, Report, ZERO};
use std::path::Path;
use std::sync::{Arc, Mutex};

pub(super) struct Segment {
    /// Where the chain stands before its first line.
    pub before: Head,
    pub base: bool,
    /// Offsets of every so many lines; none: not read yet.
    pub marks: Mutex<Option<Arc<Vec<u64>>>>,
}

impl Segment {
    pub fn new(before: Head, base: bool) -> Self {
        Segment { before, base, marks: Mutex::new(None) }
    }

    pub fn name(&self) -> String {
        name(self.before.seq + 1, self.base)
    }

    pub fn copy_name(&self) -> String {
        copy_name(self.before.seq + 1)
    }
}

pub(super) fn name(first: u64, base: bool) -> String {
    format!("{first:020}.{}", if base { "base" } else { "log" })
}

pub(super) fn copy_name(first: u64) -> String {
    format!("{first:020}.copy")
}

pub(super) fn fault(segment: String, line: u64, seq: u64, kind: FaultKind, mendable: bool) -> Fault {
    Fault { segment, line, seq, kind, mendable }
}

/// What is wrong with a segment that should end at entry `last`, if anything.
pub(super) fn incomplete(s: &Scan, last: u64) -> Option<(u64, FaultKind)> {
    match s.bad {
        Some(bad) => Some(bad),
        None if s.head.seq < last || !s.clean() => Some((s.lines + 1, FaultKind::Truncated)),
        None => None,
    }
}

pub(super) fn read_header(disk: &dyn Disk, path: &Path) -> Option<Header> {
    let file = disk.open(path, Mode::Read).ok()?;
    packed::header(&read_at_most(&*file, 0, packed::HEADER_MAX).ok()?).map(|(h, _)| h)
}

/// The segment after this one is missing: this one's copy says that it ends before `last`.
pub(super) fn missing_after(disk: &dyn Disk, dir: &Path, segment: &Segment, last: u64) -> Option<Fault> {
    let header = read_header(disk, &dir.join(segment.copy_name()))?;
    let ends = header.first == segment.before.seq + 1 && header.last >= header.first && header.last < last;
    ends.then(|| fault(name(header.last + 1, false), 0, header.last + 1, FaultKind::Missing, false))
}

/// The content of a copy, if it is whole, and is the chain from `before` to `last`.
pub(super) fn good_copy(disk: &dyn Disk, dir: &Path, before: Head, last: u64) -> Option<(Head, Vec<u8>)> {
    let file = read_file(disk, &dir.join(copy_name(before.seq + 1))).ok()??;
    let (header, content) = packed::unpack(&file)?;
    let s = scan(&content, before, u64::MAX);
    (incomplete(&s, last).is_none() && s.head == header.head() && s.head.seq == last)
        .then_some((s.head, content))
}

/// Reads every segment of the chain; changes nothing. `head`: where it must end; none: at the end
/// of the last file, a torn tail not counted.
pub(super) fn verify(
    disk: &dyn Disk,
    dir: &Path,
    segments: &[Arc<Segment>],
    head: Option<Head>,
) -> Result<Report, Fault> {
    let mut report = Report { head: Head::default(), entries: 0, segments: 0, warnings: Vec::new() };
    let Some(first) = segments.first() else { return Ok(report) };
    let mut at = first.before;
    for (i, segment) in segments.iter().enumerate() {
        let next = segments.get(i + 1);
        let name = segment.name();
        let last = next.map_or(head.map_or(at.seq, |h| h.seq), |n| n.before.seq);
        let mendable = |before| next.is_some() && good_copy(disk, dir, before, last).is_some();
        let wrong = |line, seq, kind| fault(name.clone(), line, seq, kind, mendable(at));
        if segment.before.seq != at.seq {
            return Err(fault(
                super::segment::name(at.seq + 1, false),
                0,
                at.seq + 1,
                FaultKind::Missing,
                false,
            ));
        }
        let bytes = match read_file(disk, &dir.join(&name)) {
            Ok(Some(bytes)) => bytes,
            Ok(None) => return Err(wrong(0, at.seq + 1, FaultKind::Missing)),
            Err(_) => return Err(wrong(0, at.seq + 1, FaultKind::Unreadable)),
        };
        if let Some(fault) = missing_after(disk, dir, segment, last).filter(|_| next.is_some()) {
            return Err(fault);
        }
        let until = if next.is_none() { head.map_or(u64::MAX, |h| h.seq) } else { u64::MAX };
        let s = scan(&bytes, at, until);
        let tail_may_be_torn = next.is_none() && head.is_none();
        if tail_may_be_torn && !s.clean() && is_torn_tail(&bytes, &s) {
            report.warnings.push(format!("{name} ends in a batch that was never acknowledged"));
        } else if let Some((line, kind)) = incomplete(&s, last) {
            return Err(wrong(line, s.head.seq + 1, kind));
        }
        // More entries than the next segment's name allows: one file stands in for another.
        if next.is_some() && s.head.seq != last {
            return Err(wrong(s.lines, last + 1, FaultKind::OutOfOrder));
        }
        if next.is_some() && good_copy(disk, dir, at, last).is_none() {
            let copy = segment.copy_name();
            report
                .warnings
                .push(format!("{copy} is missing or damaged; delete it and open the store to make it"));
        }
        at = s.whole_head;
        report.entries += at.seq - segment.before.seq;
        report.segments += 1;
    }
    if let Some(head) = head
        && head != at
    {
        let name = segments.last().map_or(String::new(), |s| s.name());
        return Err(fault(name, 0, head.seq, FaultKind::Edited, false));
    }
    report.head = at;
    Ok(report)
}

impl Shared {
    /// Writes the second copy of a segment that now has a follower. The bytes are checked first, so
    /// a copy is never made of damage.
    pub(super) fn seal(&self, segment: &Segment, last: u64) -> Result<Head, Error> {
        let name = segment.name();
        let bytes =
            read_file(&*self.disk, &self.path(&name)).map_err(Error::io(format!("cannot read {name}")))?;
        let Some(bytes) = bytes else {
            return Err(fault(name, 0, segment.before.seq + 1, FaultKind::Missing, false).into());
        };
        let s = scan(&bytes, segment.before, u64::MAX);
        let wrong = incomplete(&s, last).or((s.head.seq != last).then_some((s.lines, FaultKind::OutOfOrder)));
        if let Some((line, kind)) = wrong {
            return Err(fault(name, line, s.head.seq + 1, kind, false).into());
        }
        let copy = packed::pack(segment.before.seq + 1, &s.head, &bytes)
            .map_err(Error::io(format!("cannot compress {name}")))?;
        write_file(&*self.disk, &self.dir, &segment.copy_name(), &copy)
            .map_err(Error::io(format!("cannot write the copy of {name}")))?;
        *lock(&segment.marks) = Some(Arc::new(s.marks));
        Ok(s.head)
    }

    /// Puts the copy in the place of a damaged or missing segment.
    pub(super) fn mend(&self, segment: &Segment, last: u64, found: Fault) -> Result<(Head, Vec<u8>), Error> {
        let _one = lock(&self.mending);
        let Some((head, content)) = good_copy(&*self.disk, &self.dir, segment.before, last) else {
            return Err(Fault { mendable: false, ..found }.into());
        };
        let name = segment.name();
        write_file(&*self.disk, &self.dir, &name, &content)
            .map_err(Error::io(format!("cannot mend {name}")))?;
        *lock(&segment.marks) = None;
        tracing::warn!(segment = name, line = found.line, kind = ?found.kind, "mended from its copy");
        Ok((head, content))
    }

    /// A sealed segment's bytes, read from its start, checked, mended if need be.
    pub(super) fn load(&self, segment: &Segment, last: u64) -> Result<Arc<Vec<u64>>, Error> {
        if let Some(marks) = &*lock(&segment.marks) {
            return Ok(marks.clone());
        }
        let name = segment.name();
        let bytes =
            read_file(&*self.disk, &self.path(&name)).map_err(Error::io(format!("cannot read {name}")))?;
        let s = scan(bytes.as_deref().unwrap_or(&[]), segment.before, last);
        let marks = match incomplete(&s, last) {
            None => s.marks,
            Some((line, kind)) => {
                let (_, content) =
                    self.mend(segment, last, fault(name, line, s.head.seq + 1, kind, false))?;
                scan(&content, segment.before, last).marks
            }
        };
        let marks = Arc::new(marks);
        *lock(&segment.marks) = Some(marks.clone());
        Ok(marks)
    }
}

/// The head before a segment whose predecessor is void or was never there.
pub(super) fn chain_start(first: u64) -> Head {
    Head { seq: first - 1, hash: ZERO }
}

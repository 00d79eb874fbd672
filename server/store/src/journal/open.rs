//! Opening: find the segments, mend what has a copy, cut off a torn tail, trust nothing that is
//! not synced.

use super::scan::{is_torn_tail, scan};
use super::segment::{self, Segment, chain_start, copy_name, fault, name, read_header};
use super::{Journal, JournalOptions, Shared, State, Writer};
use crate::disk::{Disk, Mode, make_dir, read_at_most, remove_temporary};
use crate::error::{Error, Fault, FaultKind};
use crate::memory::lock;
use crate::types::{Head, Report};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::{Arc, Mutex, RwLock};

/// The files of a journal, by first entry.
struct Listing {
    /// Whether it is a base.
    segments: BTreeMap<u64, bool>,
    copies: BTreeSet<u64>,
    void: Vec<String>,
}

fn list(disk: &dyn Disk, dir: &Path) -> std::io::Result<Listing> {
    let mut all = Listing { segments: BTreeMap::new(), copies: BTreeSet::new(), void: Vec::new() };
    let mut found = Vec::new();
    for name in disk.list(dir)? {
        let Some((first, kind)) = name.split_once('.') else { continue };
        // Only the names this code writes.
        if let (20, Ok(first)) = (first.len(), first.parse::<u64>())
            && first > 0
        {
            found.push((first, kind.to_owned(), name));
        }
    }
    let base = found.iter().filter(|f| f.1 == "base").map(|f| f.0).max();
    for (first, kind, name) in found {
        let void = base.is_some_and(|b| first < b || (first == b && kind == "log"));
        match kind.as_str() {
            "log" | "base" | "copy" if void => all.void.push(name),
            "log" | "base" => _ = all.segments.insert(first, kind == "base"),
            "copy" => _ = all.copies.insert(first),
            _ => {}
        }
    }
    Ok(all)
}

impl Journal {
    pub fn open(disk: Arc<dyn Disk>, dir: &Path, options: JournalOptions) -> Result<Self, Error> {
        let io = |what: &str| Error::io(format!("{what} {}", dir.display()));
        make_dir(&*disk, dir).map_err(io("cannot make"))?;
        remove_temporary(&*disk, dir).map_err(io("cannot clean"))?;
        // What a crashed process named but did not sync is visible now; make it so for good.
        disk.sync_dir(dir).map_err(io("cannot sync"))?;
        let listing = list(&*disk, dir).map_err(io("cannot list"))?;
        for name in &listing.void {
            disk.remove(&dir.join(name)).map_err(io("cannot clean"))?;
        }
        if !listing.void.is_empty() {
            disk.sync_dir(dir).map_err(io("cannot sync"))?;
        }
        let state = State { head: Head::default(), segments: Vec::new(), failed: None, bytes: 0 };
        let shared = Shared { disk, dir: dir.to_owned(), state: RwLock::new(state), mending: Mutex::new(()) };
        let (state, writer) = shared.recover(&listing)?;
        *crate::memory::write(&shared.state) = state;
        Ok(Journal { shared: Arc::new(shared), options, writer: Mutex::new(writer) })
    }
}

impl Shared {
    fn recover(&self, listing: &Listing) -> Result<(State, Writer), Error> {
        let mut state = State { head: Head::default(), segments: Vec::new(), failed: None, bytes: 0 };
        let mut writer = Writer { file: None, len: 0, sealing: None };
        let firsts: Vec<u64> = listing
            .segments
            .keys()
            .chain(&listing.copies)
            .copied()
            .collect::<BTreeSet<_>>()
            .into_iter()
            .collect();
        for (i, &first) in firsts.iter().enumerate() {
            let base = listing.segments.get(&first).copied().unwrap_or(false);
            let start = if i == 0 && base { chain_start(first) } else { state.head };
            let missing = |first| fault(name(first, false), 0, first, FaultKind::Missing, false);
            if first != start.seq + 1 {
                return Err(missing(start.seq + 1).into());
            }
            let segment = Segment::new(start, base);
            match firsts.get(i + 1) {
                Some(next) => {
                    if let Some(fault) = segment::missing_after(&*self.disk, &self.dir, &segment, next - 1) {
                        return Err(fault.into());
                    }
                    let there = listing.segments.contains_key(&first);
                    let (head, len) = self.check_sealed(&segment, next - 1, there)?;
                    (state.head, state.bytes) = (head, state.bytes + len);
                }
                None if listing.copies.contains(&first) => {
                    let last =
                        read_header(&*self.disk, &self.path(&copy_name(first))).map_or(first, |h| h.last);
                    return Err(missing(last + 1).into());
                }
                None => {
                    (state.head, writer) = self.check_last(&segment)?;
                    state.bytes += writer.len;
                }
            }
            state.segments.push(Arc::new(segment));
        }
        Ok((state, writer))
    }

    /// A sealed segment is not read whole here if its copy's header vouches for where it ends and
    /// its length is right; reading checks every line anyway.
    fn check_sealed(&self, segment: &Segment, last: u64, there: bool) -> Result<(Head, u64), Error> {
        let io = || Error::io(format!("cannot read {}", segment.name()));
        let found = |kind| fault(segment.name(), 0, segment.before.seq + 1, kind, false);
        let file_len = || self.disk.open(&self.path(&segment.name()), Mode::Read)?.size();
        let header = read_header(&*self.disk, &self.path(&segment.copy_name()));
        let header = header.filter(|h| h.first == segment.before.seq + 1 && h.last == last);
        let mended = |(head, content): (Head, Vec<u8>)| (head, content.len() as u64);
        match header {
            _ if !there => self.mend(segment, last, found(FaultKind::Missing)).map(mended),
            Some(header) => match file_len().map_err(io())? {
                len if len == header.bytes => Ok((header.head(), len)),
                _ => self.mend(segment, last, found(FaultKind::Truncated)).map(mended),
            },
            // No copy yet (a crash came first) or a damaged one.
            None => Ok((self.seal(segment, last)?, file_len().map_err(io())?)),
        }
    }

    fn check_last(&self, segment: &Segment) -> Result<(Head, Writer), Error> {
        let name = segment.name();
        let io = |what| Error::io(format!("cannot {what} {name}"));
        let file = self.disk.open(&self.path(&name), Mode::Write).map_err(io("open"))?;
        let len = file.size().map_err(io("read"))?;
        let bytes = read_at_most(&*file, 0, len as usize).map_err(io("read"))?;
        let s = scan(&bytes, segment.before, u64::MAX);
        if !s.clean() {
            if !is_torn_tail(&bytes, &s) {
                let (line, kind) = s.bad.unwrap_or((s.lines + 1, FaultKind::Truncated));
                return Err(fault(name, line, s.head.seq + 1, kind, false).into());
            }
            tracing::warn!(
                segment = name,
                bytes = bytes.len() - s.whole,
                "cut off a batch never acknowledged"
            );
            file.set_len(s.whole as u64).map_err(io("cut"))?;
        }
        // Was the last batch ever synced? Its pages may count as clean after a failed sync, so only
        // writing them again makes the sync real.
        file.write_at(s.last_batch as u64, &bytes[s.last_batch..s.whole]).map_err(io("write"))?;
        file.sync().map_err(io("sync"))?;
        let mut marks = s.marks;
        marks.truncate(whole_marks(s.whole_head.seq - segment.before.seq));
        *lock(&segment.marks) = Some(Arc::new(marks));
        Ok((s.whole_head, Writer { file: Some(file), len: s.whole as u64, sealing: None }))
    }
}

fn whole_marks(lines: u64) -> usize {
    lines.div_ceil(super::scan::LINES_PER_MARK) as usize
}

/// Verifies a journal that nobody has open (or somebody has: then its tail may look torn). Changes
/// nothing, needs no right to write.
pub fn verify_dir(disk: &dyn Disk, dir: &Path) -> Result<Report, Error> {
    let listing = list(disk, dir).map_err(Error::io(format!("cannot list {}", dir.display())))?;
    let firsts: BTreeSet<u64> = listing.segments.keys().chain(&listing.copies).copied().collect();
    let mut segments = Vec::new();
    for &first in &firsts {
        let base = listing.segments.get(&first).copied().unwrap_or(false);
        segments.push(Arc::new(Segment::new(chain_start(first), base)));
    }
    if let (Some(&first), Some(base)) = (firsts.first(), listing.segments.values().next())
        && first != 1
        && !base
    {
        return Err(fault(name(1, false), 0, 1, FaultKind::Missing, false).into());
    }
    if let Some(first) = firsts.last().filter(|f| listing.copies.contains(f)) {
        let last = read_header(disk, &dir.join(copy_name(*first))).map_or(*first, |h| h.last);
        let lost: Fault = fault(name(last + 1, false), 0, last + 1, FaultKind::Missing, false);
        return Err(lost.into());
    }
    Ok(segment::verify(disk, dir, &segments, None)?)
}

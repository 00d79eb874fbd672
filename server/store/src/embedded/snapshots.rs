//! Snapshots of the fold: `<seq>.snap`, written whole, the last two kept.

use crate::disk::{Disk, Mode, make_dir, read_at_most, read_file, remove_temporary, write_file};
use crate::error::Error;
use crate::packed;
use crate::types::{Hash, Head, Snapshot, Snapshots};
use std::path::{Path, PathBuf};
use std::sync::Arc;

const KEPT: usize = 2;

pub(super) struct DiskSnapshots {
    disk: Arc<dyn Disk>,
    dir: PathBuf,
}

fn name(seq: u64) -> String {
    format!("{seq:020}.snap")
}

impl DiskSnapshots {
    pub fn open(disk: Arc<dyn Disk>, dir: &Path) -> Result<Self, Error> {
        make_dir(&*disk, dir)
            .and_then(|()| remove_temporary(&*disk, dir))
            .and_then(|()| disk.sync_dir(dir))
            .map_err(Error::io(format!("cannot prepare {}", dir.display())))?;
        Ok(DiskSnapshots { disk, dir: dir.to_owned() })
    }

    /// Newest first.
    fn seqs(&self) -> Result<Vec<u64>, Error> {
        let names = self.disk.list(&self.dir).map_err(Error::io("cannot list the snapshots"))?;
        let mut seqs: Vec<u64> = names.iter().filter_map(|n| n.strip_suffix(".snap")?.parse().ok()).collect();
        seqs.sort_unstable_by(|a, b| b.cmp(a));
        Ok(seqs)
    }

    /// By its header, which has a checksum of its own: a damaged one says nothing about the log.
    pub fn newest_seq(&self) -> Result<Option<u64>, Error> {
        let io = || Error::io("cannot read a snapshot");
        for seq in self.seqs()? {
            let file = self.disk.open(&self.dir.join(name(seq)), Mode::Read).map_err(io())?;
            let begin = read_at_most(&*file, 0, packed::HEADER_MAX).map_err(io())?;
            if packed::header(&begin).is_some_and(|(header, _)| header.last == seq) {
                return Ok(Some(seq));
            }
        }
        Ok(None)
    }

    pub fn remove_beyond(&self, head: u64) -> Result<(), Error> {
        for seq in self.seqs()?.into_iter().filter(|s| *s > head) {
            self.disk.remove(&self.dir.join(name(seq))).map_err(Error::io("cannot remove a snapshot"))?;
        }
        Ok(())
    }
}

impl Snapshots for DiskSnapshots {
    fn put_snapshot(&self, seq: u64, hash: &Hash, bytes: &[u8]) -> Result<(), Error> {
        let file = packed::pack(seq, &Head { seq, hash: *hash }, bytes)
            .map_err(Error::io("cannot compress the snapshot"))?;
        write_file(&*self.disk, &self.dir, &name(seq), &file)
            .map_err(Error::io("cannot write the snapshot"))?;
        for old in self.seqs()?.into_iter().skip(KEPT) {
            self.disk.remove(&self.dir.join(name(old))).map_err(Error::io("cannot remove a snapshot"))?;
        }
        Ok(())
    }

    fn latest_snapshot(&self) -> Result<Option<Snapshot>, Error> {
        for seq in self.seqs()? {
            let file = read_file(&*self.disk, &self.dir.join(name(seq)))
                .map_err(Error::io("cannot read a snapshot"))?;
            match file.as_deref().and_then(packed::unpack) {
                Some((h, bytes)) if h.last == seq => return Ok(Some(Snapshot { seq, hash: h.hash, bytes })),
                _ => tracing::warn!(seq, "a damaged snapshot is passed over"),
            }
        }
        Ok(None)
    }

    /// Durable on return: one that came back with the power would be read by the next start.
    fn clear(&self) -> Result<(), Error> {
        self.remove_beyond(0)?;
        self.disk.sync_dir(&self.dir).map_err(Error::io("cannot make sure that the snapshots are removed"))
    }
}

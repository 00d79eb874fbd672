//! Photos and uploads as files.
//!
//! ```text
//! photos/ab/abcd…            the photo with that SHA-256; never changes
//! photos/ab/abcd….thumb      a preview, may be lost
//! uploads/<id>               bytes so far
//! uploads/<id>.told          one line per acknowledged piece: how many bytes are safe
//! ```
//!
//! An upload's offset is the last whole line of `.told`: after a power cut the file itself may be
//! longer, with a hole in it.

use crate::disk::{
    Disk, DiskFile, Mode, is_full, make_dir, read_at_most, read_file, remove_temporary, write_file,
};
use crate::error::{Error, PhotoError};
use crate::memory::lock;
use crate::rules::check_name;
use crate::types::{Hash, PhotoFile, Photos};
use sha2::{Digest, Sha256};
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

/// `<16 hex of the length> <8 hex of its checksum>` and a line break.
const TOLD_LINE: usize = 26;

const CHUNK: usize = 256 << 10;

pub(super) struct DiskPhotos {
    disk: Arc<dyn Disk>,
    photos: PathBuf,
    uploads: PathBuf,
    /// Uploads change one at a time: pieces are few and large, and two of one upload must not meet.
    uploading: Mutex<()>,
}

fn io(what: &'static str) -> impl FnOnce(io::Error) -> PhotoError {
    move |e| if is_full(&e) { PhotoError::Full } else { Error::io(what)(e).into() }
}

fn told_line(len: u64) -> String {
    let sum = hex::encode(&Sha256::digest(len.to_le_bytes())[..4]);
    format!("{len:016x} {sum}\n")
}

/// How many whole lines there are, and the length in the last.
fn read_told(told: &[u8]) -> (usize, u64) {
    let line = |line: &[u8]| {
        let len = u64::from_str_radix(std::str::from_utf8(line.get(..16)?).ok()?, 16).ok()?;
        (line == told_line(len).as_bytes()).then_some(len)
    };
    told.chunks(TOLD_LINE).map_while(line).fold((0, 0), |(n, _), len| (n + 1, len))
}

impl DiskPhotos {
    pub fn open(disk: Arc<dyn Disk>, dir: &Path) -> Result<Self, Error> {
        let (photos, uploads) = (dir.join("photos"), dir.join("uploads"));
        make_dir(&*disk, &photos)
            .and_then(|()| make_dir(&*disk, &uploads))
            .and_then(|()| remove_temporary(&*disk, &uploads))
            .map_err(Error::io(format!("cannot prepare {}", photos.display())))?;
        let all = DiskPhotos { disk, photos, uploads, uploading: Mutex::new(()) };
        all.make_sure()?;
        Ok(all)
    }

    /// What a killed process left is visible and may not be safe, even after a failed sync. Before it
    /// is told to anybody: names are synced, and the last piece of each upload is written again (all
    /// earlier ones were acknowledged).
    fn make_sure(&self) -> Result<(), PhotoError> {
        let shown = "cannot make sure of photos";
        for dir in self.disk.list(&self.photos).map_err(io(shown))? {
            self.disk.sync_dir(&self.photos.join(dir)).map_err(io(shown))?;
        }
        for (id, len) in self.uploads()? {
            let (lines, _) = self.told(&id)?;
            let path = self.told_path(&id);
            let told = read_file(&*self.disk, &path).map_err(io(shown))?.unwrap_or_default();
            let last_line = lines.saturating_sub(1) * TOLD_LINE;
            let before = read_told(&told[..last_line]).1;
            let data = self.open_upload(&id)?;
            let again = || {
                let piece = read_at_most(&*data, before, (len - before) as usize)?;
                data.write_at(before, &piece)?;
                data.sync()?;
                let file = self.disk.open(&path, Mode::Write)?;
                file.write_at(last_line as u64, told_line(len).as_bytes())?;
                file.sync()
            };
            again().map_err(io(shown))?;
        }
        self.disk.sync_dir(&self.uploads).map_err(io(shown))
    }

    fn photo_dir(&self, sha256: &Hash) -> PathBuf {
        self.photos.join(hex::encode(&sha256[..1]))
    }

    fn photo_path(&self, sha256: &Hash) -> PathBuf {
        self.photo_dir(sha256).join(hex::encode(sha256))
    }

    fn told_path(&self, id: &str) -> PathBuf {
        self.uploads.join(format!("{id}.told"))
    }

    fn told(&self, id: &str) -> Result<(usize, u64), PhotoError> {
        let told = read_file(&*self.disk, &self.told_path(id)).map_err(io("cannot read an upload"))?;
        let told = told.ok_or_else(|| PhotoError::Unknown { id: id.to_owned() })?;
        Ok(read_told(&told))
    }

    fn open_upload(&self, id: &str) -> Result<Arc<dyn DiskFile>, PhotoError> {
        self.disk.open(&self.uploads.join(id), Mode::Create).map_err(io("cannot open an upload"))
    }

    fn remove_upload(&self, id: &str) -> Result<(), PhotoError> {
        for path in [self.told_path(id), self.uploads.join(id)] {
            match self.disk.remove(&path) {
                Err(e) if e.kind() != ErrorKind::NotFound => return Err(io("cannot remove an upload")(e)),
                _ => {}
            }
        }
        Ok(())
    }
}

impl Photos for DiskPhotos {
    fn free_share(&self) -> Option<f64> {
        self.disk.free_share(&self.photos)
    }

    fn begin_upload(&self, id: &str) -> Result<(), PhotoError> {
        check_name(id)?;
        let _one = lock(&self.uploading);
        if self.told(id).is_ok() {
            return Err(PhotoError::Exists { id: id.to_owned() });
        }
        let data = self.open_upload(id)?;
        let make = || {
            data.set_len(0)?;
            data.sync()?;
            let told = self.disk.open(&self.told_path(id), Mode::Create)?;
            told.write_at(0, told_line(0).as_bytes())?;
            told.sync()?;
            self.disk.sync_dir(&self.uploads)
        };
        make().map_err(io("cannot begin an upload"))
    }

    fn write_at(&self, id: &str, offset: u64, bytes: &[u8]) -> Result<u64, PhotoError> {
        check_name(id)?;
        let _one = lock(&self.uploading);
        let (lines, expected) = self.told(id)?;
        if expected != offset {
            return Err(PhotoError::Offset { id: id.to_owned(), expected, given: offset });
        }
        if bytes.is_empty() {
            return Ok(offset);
        }
        let data = self.open_upload(id)?;
        let new = offset + bytes.len() as u64;
        let write = || {
            data.write_at(offset, bytes)?;
            data.sync()?;
            let told = self.disk.open(&self.told_path(id), Mode::Write)?;
            told.write_at((lines * TOLD_LINE) as u64, told_line(new).as_bytes())?;
            told.sync()
        };
        write().map_err(io("cannot write an upload"))?;
        Ok(new)
    }

    fn offset(&self, id: &str) -> Result<u64, PhotoError> {
        check_name(id)?;
        Ok(self.told(id)?.1)
    }

    fn uploads(&self) -> Result<Vec<(String, u64)>, PhotoError> {
        let names = self.disk.list(&self.uploads).map_err(io("cannot list the uploads"))?;
        let mut ids: Vec<_> = names.iter().filter_map(|n| n.strip_suffix(".told")).collect();
        ids.sort_unstable();
        ids.into_iter().map(|id| Ok((id.to_owned(), self.told(id)?.1))).collect()
    }

    fn finish(&self, id: &str, expected_sha256: &Hash) -> Result<(), PhotoError> {
        check_name(id)?;
        let _one = lock(&self.uploading);
        let (_, len) = self.told(id)?;
        let data = self.open_upload(id)?;
        let mut sum = Sha256::new();
        let mut at = 0;
        while at < len {
            let piece = read_at_most(&*data, at, CHUNK.min((len - at) as usize));
            let piece = piece.map_err(io("cannot read an upload"))?;
            if piece.is_empty() {
                break;
            }
            at += piece.len() as u64;
            sum.update(piece);
        }
        if at != len || Hash::from(sum.finalize()) != *expected_sha256 {
            // A crash came after the photo took its place and before the upload was forgotten.
            if at == 0 && len > 0 && self.exists(expected_sha256)? {
                return self.remove_upload(id);
            }
            self.remove_upload(id)?;
            return Err(PhotoError::WrongHash { id: id.to_owned() });
        }
        let dir = self.photo_dir(expected_sha256);
        let store = || {
            data.set_len(len)?;
            data.sync()?;
            make_dir(&*self.disk, &dir)?;
            // Over a photo that is there already: the same bytes, and good ones.
            self.disk.rename(&self.uploads.join(id), &self.photo_path(expected_sha256))?;
            self.disk.sync_dir(&dir)
        };
        store().map_err(io("cannot store the photo"))?;
        self.remove_upload(id)
    }

    fn delete_upload(&self, id: &str) -> Result<(), PhotoError> {
        check_name(id)?;
        let _one = lock(&self.uploading);
        self.remove_upload(id)
    }

    fn exists(&self, sha256: &Hash) -> Result<bool, PhotoError> {
        Ok(self.open(sha256)?.is_some())
    }

    fn open(&self, sha256: &Hash) -> Result<Option<PhotoFile>, PhotoError> {
        match self.disk.open(&self.photo_path(sha256), Mode::Read) {
            Ok(file) => {
                let size = file.size().map_err(io("cannot read a photo"))?;
                Ok(Some(PhotoFile { size, reader: Box::new(Reader { file, at: 0 }) }))
            }
            Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
            Err(e) => Err(io("cannot read a photo")(e)),
        }
    }

    fn list(&self) -> Result<Vec<Hash>, PhotoError> {
        let mut all = Vec::new();
        for dir in self.disk.list(&self.photos).map_err(io("cannot list the photos"))? {
            for name in self.disk.list(&self.photos.join(dir)).map_err(io("cannot list the photos"))? {
                let mut sha256 = [0; 32];
                if hex::decode_to_slice(&name, &mut sha256).is_ok() {
                    all.push(sha256);
                }
            }
        }
        all.sort_unstable();
        Ok(all)
    }

    fn remove(&self, sha256: &Hash) -> Result<(), PhotoError> {
        let dir = self.photo_dir(sha256);
        let named = hex::encode(sha256);
        let remove = || {
            let names = match self.disk.list(&dir) {
                Err(e) if e.kind() == ErrorKind::NotFound => return Ok(()),
                names => names?,
            };
            for name in names.iter().filter(|name| name.split('.').next() == Some(&named)) {
                self.disk.remove(&dir.join(name))?;
            }
            self.disk.sync_dir(&dir)
        };
        remove().map_err(io("cannot remove a photo"))
    }

    fn put_derived(&self, sha256: &Hash, name: &str, bytes: &[u8]) -> Result<(), PhotoError> {
        check_name(name)?;
        let dir = self.photo_dir(sha256);
        make_dir(&*self.disk, &dir)
            .and_then(|()| write_file(&*self.disk, &dir, &format!("{}.{name}", hex::encode(sha256)), bytes))
            .map_err(io("cannot write a preview"))
    }

    fn get_derived(&self, sha256: &Hash, name: &str) -> Result<Option<Vec<u8>>, PhotoError> {
        check_name(name)?;
        let path = self.photo_dir(sha256).join(format!("{}.{name}", hex::encode(sha256)));
        read_file(&*self.disk, &path).map_err(io("cannot read a preview"))
    }
}

struct Reader {
    file: Arc<dyn DiskFile>,
    at: u64,
}

impl Read for Reader {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = self.file.read_at(self.at, buf)?;
        self.at += n as u64;
        Ok(n)
    }
}

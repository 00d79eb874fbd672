//! Photos and uploads in maps.

use super::lock;
use crate::error::PhotoError;
use crate::rules::check_name;
use crate::types::{Hash, PhotoFile, Photos};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::io::Cursor;
use std::sync::{Arc, Mutex};

#[derive(Default)]
pub(super) struct MemoryPhotos(Mutex<State>);

#[derive(Default)]
struct State {
    uploads: BTreeMap<String, Vec<u8>>,
    photos: BTreeMap<Hash, Arc<[u8]>>,
    derived: BTreeMap<(Hash, String), Vec<u8>>,
    free: Option<f64>,
}

fn unknown(id: &str) -> PhotoError {
    PhotoError::Unknown { id: id.to_owned() }
}

impl MemoryPhotos {
    pub fn set_free_share(&self, free: Option<f64>) {
        lock(&self.0).free = free;
    }
}

impl Photos for MemoryPhotos {
    fn free_share(&self) -> Option<f64> {
        lock(&self.0).free
    }

    fn begin_upload(&self, id: &str) -> Result<(), PhotoError> {
        check_name(id)?;
        let mut s = lock(&self.0);
        if s.uploads.contains_key(id) {
            return Err(PhotoError::Exists { id: id.to_owned() });
        }
        s.uploads.insert(id.to_owned(), Vec::new());
        Ok(())
    }

    fn write_at(&self, id: &str, offset: u64, bytes: &[u8]) -> Result<u64, PhotoError> {
        check_name(id)?;
        let mut s = lock(&self.0);
        let upload = s.uploads.get_mut(id).ok_or_else(|| unknown(id))?;
        let expected = upload.len() as u64;
        if expected != offset {
            return Err(PhotoError::Offset { id: id.to_owned(), expected, given: offset });
        }
        upload.extend_from_slice(bytes);
        Ok(upload.len() as u64)
    }

    fn offset(&self, id: &str) -> Result<u64, PhotoError> {
        check_name(id)?;
        lock(&self.0).uploads.get(id).map(|u| u.len() as u64).ok_or_else(|| unknown(id))
    }

    fn uploads(&self) -> Result<Vec<(String, u64)>, PhotoError> {
        Ok(lock(&self.0).uploads.iter().map(|(id, u)| (id.clone(), u.len() as u64)).collect())
    }

    fn finish(&self, id: &str, expected_sha256: &Hash) -> Result<(), PhotoError> {
        check_name(id)?;
        let mut s = lock(&self.0);
        let upload = s.uploads.remove(id).ok_or_else(|| unknown(id))?;
        if Hash::from(Sha256::digest(&upload)) != *expected_sha256 {
            return Err(PhotoError::WrongHash { id: id.to_owned() });
        }
        s.photos.insert(*expected_sha256, upload.into());
        Ok(())
    }

    fn delete_upload(&self, id: &str) -> Result<(), PhotoError> {
        check_name(id)?;
        lock(&self.0).uploads.remove(id);
        Ok(())
    }

    fn exists(&self, sha256: &Hash) -> Result<bool, PhotoError> {
        Ok(lock(&self.0).photos.contains_key(sha256))
    }

    fn open(&self, sha256: &Hash) -> Result<Option<PhotoFile>, PhotoError> {
        Ok(lock(&self.0)
            .photos
            .get(sha256)
            .map(|p| PhotoFile { size: p.len() as u64, reader: Box::new(Cursor::new(p.clone())) }))
    }

    fn list(&self) -> Result<Vec<Hash>, PhotoError> {
        Ok(lock(&self.0).photos.keys().copied().collect())
    }

    fn remove(&self, sha256: &Hash) -> Result<(), PhotoError> {
        let mut s = lock(&self.0);
        s.photos.remove(sha256);
        s.derived.retain(|(of, _), _| of != sha256);
        Ok(())
    }

    fn put_derived(&self, sha256: &Hash, name: &str, bytes: &[u8]) -> Result<(), PhotoError> {
        check_name(name)?;
        lock(&self.0).derived.insert((*sha256, name.to_owned()), bytes.to_vec());
        Ok(())
    }

    fn get_derived(&self, sha256: &Hash, name: &str) -> Result<Option<Vec<u8>>, PhotoError> {
        check_name(name)?;
        Ok(lock(&self.0).derived.get(&(*sha256, name.to_owned())).cloned())
    }
}

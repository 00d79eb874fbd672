//! Epoch and served mark: one small file, replaced as a whole.

use crate::disk::{Disk, read_file, write_file};
use crate::error::Error;
use crate::memory::lock;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

const NAME: &str = "meta";

/// Of the whole directory. A greater one was written by a newer version.
const FORMAT: u32 = 1;

pub(super) struct DiskMeta {
    disk: Arc<dyn Disk>,
    dir: PathBuf,
    now: Mutex<Values>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Values {
    pub epoch: u64,
    pub served: u64,
}

#[derive(Serialize, Deserialize)]
struct File {
    format: u32,
    /// Text, because not every JSON reader keeps 64 bits.
    epoch: String,
    served: u64,
    check: String,
}

impl Values {
    fn check(&self) -> String {
        let numbers = [self.epoch, self.served].map(u64::to_le_bytes).concat();
        hex::encode(&Sha256::digest(numbers)[..4])
    }

    fn encode(&self) -> Result<Vec<u8>, Error> {
        let epoch = format!("{:016x}", self.epoch);
        let file = File { format: FORMAT, epoch, served: self.served, check: self.check() };
        let mut bytes = crate::error::json("meta", &file)?;
        bytes.push(b'\n');
        Ok(bytes)
    }

    fn decode(bytes: &[u8]) -> Result<(u32, Values), String> {
        let file: File = serde_json::from_slice(bytes).map_err(|e| e.to_string())?;
        let epoch = u64::from_str_radix(&file.epoch, 16).map_err(|e| e.to_string())?;
        let values = Values { epoch, served: file.served };
        match file.format > FORMAT || file.check == values.check() {
            true => Ok((file.format, values)),
            false => Err("its checksum is wrong".to_owned()),
        }
    }
}

impl DiskMeta {
    /// `empty`: the journals hold nothing, so the directory is new.
    pub fn open(
        disk: Arc<dyn Disk>,
        dir: &Path,
        epoch: u64,
        new_epoch: Option<u64>,
        empty: bool,
        head: u64,
    ) -> Result<Self, Error> {
        let file = dir.join(NAME);
        let found = read_file(&*disk, &file).map_err(Error::io("cannot read meta"))?;
        let found = found.as_deref().map(Values::decode);
        if let Some(Ok((format, _))) = found
            && format > FORMAT
        {
            return Err(Error::NewerFormat { file, format });
        }
        let (now, changed) = match (found, new_epoch) {
            (_, Some(epoch)) => (Values { epoch, served: head }, true),
            (Some(Ok((_, values))), None) => (values, false),
            // The first start was cut short, before anything was stored.
            (None, None) if empty => (Values { epoch, served: 0 }, true),
            (None, None) => return Err(Error::Meta { file, why: "there is no such file".into() }),
            (Some(Err(why)), None) => return Err(Error::Meta { file, why }),
        };
        let meta = DiskMeta { disk, dir: dir.to_owned(), now: Mutex::new(now) };
        if changed {
            meta.write(now)?;
        }
        Ok(meta)
    }

    pub fn now(&self) -> Values {
        *lock(&self.now)
    }

    pub fn change(&self, change: impl FnOnce(Values) -> Values) -> Result<(), Error> {
        let mut now = lock(&self.now);
        let new = change(*now);
        if new != *now {
            self.write(new)?;
            *now = new;
        }
        Ok(())
    }

    fn write(&self, values: Values) -> Result<(), Error> {
        write_file(&*self.disk, &self.dir, NAME, &values.encode()?).map_err(Error::io("cannot write meta"))
    }
}

//! A server for the tests of durability: small log segments, and, as the control that must fail, a
//! disk that says it has synced and has not. Not part of the product.
//!
//! usage: served DIR SEGMENT_BYTES synced|unsynced

use std::io;
use std::path::Path;
use std::sync::Arc;

use store::disk::{Disk, DiskFile, Held, LockError, Mode, RealDisk};
use store::{Embedded, EmbeddedOptions};
use tls::door::Door;
use turnbuckle::auth;
use turnbuckle::clock::Clock;
use turnbuckle::serve::{begin, open_store, start};

struct Liar;

struct LyingFile(Arc<dyn DiskFile>);

impl Disk for Liar {
    fn open(&self, path: &Path, mode: Mode) -> io::Result<Arc<dyn DiskFile>> {
        Ok(Arc::new(LyingFile(RealDisk.open(path, mode)?)))
    }
    fn make_dir(&self, dir: &Path) -> io::Result<()> {
        RealDisk.make_dir(dir)
    }
    fn list(&self, dir: &Path) -> io::Result<Vec<String>> {
        RealDisk.list(dir)
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        RealDisk.rename(from, to)
    }
    fn remove(&self, path: &Path) -> io::Result<()> {
        RealDisk.remove(path)
    }
    fn sync_dir(&self, _: &Path) -> io::Result<()> {
        Ok(())
    }
    fn lock(&self, path: &Path) -> Result<Held, LockError> {
        RealDisk.lock(path)
    }
}

impl DiskFile for LyingFile {
    fn read_at(&self, offset: u64, buf: &mut [u8]) -> io::Result<usize> {
        self.0.read_at(offset, buf)
    }
    fn write_at(&self, offset: u64, bytes: &[u8]) -> io::Result<()> {
        self.0.write_at(offset, bytes)
    }
    fn size(&self) -> io::Result<u64> {
        self.0.size()
    }
    fn set_len(&self, len: u64) -> io::Result<()> {
        self.0.set_len(len)
    }
    fn sync(&self) -> io::Result<()> {
        Ok(())
    }
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let mut options = EmbeddedOptions::new(11);
    options.segment_bytes = args[2].parse().unwrap();
    if args[3] == "unsynced" {
        options.disk = Arc::new(Liar);
    }
    let store = Arc::new(Embedded::open(Path::new(&args[1]), options).unwrap());
    let shop = open_store(store, Clock::System).unwrap();
    let first = begin(&shop).unwrap().unwrap();
    actix_web::rt::System::new().block_on(async move {
        let running = start(shop.clone(), &Door::plain("127.0.0.1:0"), None).unwrap();
        let (token, _) = auth::invite(&shop, first, first, false).unwrap();
        println!("{}/#join={token}", running.address);
        running.server.await.unwrap();
    });
}

//! The contract suite over every backend that needs nothing installed.

use std::path::Path;
use std::sync::Arc;
use store::contract::Bench;
use store::sim::SimDisk;
use store::{Embedded, EmbeddedOptions, Error, Memory, Store, TablesIn};

struct InMemory(Memory);

impl Bench for InMemory {
    fn open(&self) -> Result<Arc<dyn Store>, Error> {
        Ok(Arc::new(self.0.clone()))
    }
    fn exclusive(&self) -> bool {
        false
    }
}

struct OnDisk(tempfile::TempDir);

fn small(epoch: u64) -> EmbeddedOptions {
    // Small segments, so that every check crosses some.
    EmbeddedOptions { segment_bytes: 4096, ..EmbeddedOptions::new(epoch) }
}

impl Bench for OnDisk {
    fn open(&self) -> Result<Arc<dyn Store>, Error> {
        Ok(Arc::new(Embedded::open(self.0.path(), small(7))?))
    }
    fn exclusive(&self) -> bool {
        true
    }
}

struct Simulated(SimDisk);

impl Bench for Simulated {
    fn open(&self) -> Result<Arc<dyn Store>, Error> {
        let disk = Arc::new(self.0.clone());
        let options = EmbeddedOptions { disk, tables: TablesIn::Memory, background: false, ..small(7) };
        Ok(Arc::new(Embedded::open(Path::new("/shop"), options)?))
    }
    fn exclusive(&self) -> bool {
        true
    }
}

store::contract_tests!(memory, || Box::new(super::InMemory(store::Memory::new(7))));
store::contract_tests!(embedded, || Box::new(super::OnDisk(tempfile::tempdir().unwrap())));
store::contract_tests!(simulated, || Box::new(super::Simulated(store::sim::SimDisk::new(7))));

//! Who was erased, as a list of its own: an older backup does not know it, so every restore is told by it.
//!
//! It stands in the data directory and beside the backups, and holds ids and times: nothing that names anybody.

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use domain::Ms;
use domain::ids::PersonId;
use domain::stored::Act;
use serde::{Deserialize, Serialize};

use super::{Failure, data::existing};
use crate::control::Record;
use crate::serve::accepted;
use crate::shop::{OwnOp, Shop};

pub const NAME: &str = "erasures.ndjson";

#[derive(Serialize, Deserialize)]
struct Line {
    person: PersonId,
    at: Ms,
}

pub type Erasures = BTreeMap<PersonId, Ms>;

/// None of them if there is no such file.
fn read(path: &Path) -> Result<Erasures, Failure> {
    let cannot = || format!("the list of erasures {} cannot be read", path.display());
    let text = match std::fs::read_to_string(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Erasures::new()),
        text => text.map_err(Failure::io(cannot()))?,
    };
    let lines = text.lines().filter(|line| !line.trim().is_empty()).map(serde_json::from_str::<Line>);
    let lines: Result<Vec<Line>, _> = lines.collect();
    Ok(lines
        .map_err(|error| Failure::io(cannot())(error.into()))?
        .into_iter()
        .map(|l| (l.person, l.at))
        .collect())
}

/// Adds to what stands there already; whole or not at all.
fn write(path: &Path, all: Erasures) -> Result<(), Failure> {
    let mut joined = read(path)?;
    let before = joined.len();
    joined.extend(all);
    if joined.len() == before {
        return Ok(());
    }
    let cannot = || format!("the list of erasures {} cannot be written", path.display());
    let draft = path.with_extension("ndjson.new");
    let made = OpenOptions::new().write(true).create(true).truncate(true).mode(0o600).open(&draft);
    let mut file = made.map_err(Failure::io(cannot()))?;
    for (person, at) in joined {
        let line = serde_json::to_string(&Line { person, at });
        let line = line.map_err(|error| Failure::io(cannot())(error.into()))?;
        writeln!(file, "{line}").map_err(Failure::io(cannot()))?;
    }
    file.sync_all().and_then(|()| std::fs::rename(&draft, path)).map_err(Failure::io(cannot()))
}

fn of(shop: &Shop) -> Erasures {
    shop.control.read().erased.clone()
}

/// In the data directory, for a restore that replaces it.
pub fn keep(shop: &Shop, dir: &Path) -> Result<(), Failure> {
    write(&dir.join(NAME), of(shop))
}

/// The same after each further one.
pub async fn follow(shop: Arc<Shop>, dir: PathBuf) {
    let mut views = shop.watch();
    let mut known = of(&shop).len();
    while views.changed().await.is_ok() {
        let count = of(&shop).len();
        if count != known {
            known = count;
            if let Err(error) = keep(&shop, &dir) {
                tracing::error!(%error, "the list of who was erased could not be written; restart the server");
            }
        }
    }
}

/// Beside a backup, for all of those in the same folder.
pub fn put_beside(shop: &Shop, backup: &Path) -> Result<(), Failure> {
    write(&beside(backup), of(shop))
}

fn beside(backup: &Path) -> PathBuf {
    backup.parent().unwrap_or(Path::new("")).join(NAME)
}

/// From beside the backup, and from where else it was said to be.
pub fn gathered(backup: &Path, lists: &[PathBuf]) -> Result<Erasures, Failure> {
    let mut all = read(&beside(backup))?;
    for list in lists {
        let path = if list.is_dir() { list.join(NAME) } else { list.clone() };
        if !path.exists() {
            return Err(Failure::Said(format!("{} holds no list of erasures", path.display())));
        }
        all.extend(read(&path)?);
    }
    Ok(all)
}

/// In a shop that was restored: what it does not know.
pub fn apply(dir: &Path, mut all: Erasures) -> Result<(), Failure> {
    let shop = existing(dir)?;
    all.retain(|person, _| !of(&shop).contains_key(person));
    let count = all.len();
    let known = |person: &PersonId| shop.view().state.people.contains_key(person);
    // Whoever was taken on after the backup may come back with what phones send again.
    let unknown = all.iter().filter(|(person, _)| !known(person));
    let unknown = unknown.map(|(person, at)| Record::Erased { person: *person, at: *at }).collect();
    shop.control.write(unknown)?;
    for person in all.keys().filter(|person| known(person)) {
        let erase = OwnOp::system(Act::ErasePerson { person: *person });
        accepted(shop.own_now(vec![erase]).map_err(crate::serve::ServeError::from)?)?;
    }
    keep(&shop, dir)?;
    match count {
        0 => {}
        1 => say!("1 person who was erased since is erased in it too.")?,
        _ => say!("{count} people who were erased since are erased in it too.")?,
    }
    Ok(())
}

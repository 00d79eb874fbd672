//! Commands that look after a data directory.

use std::fs::{File, OpenOptions};
use std::io::{BufReader, BufWriter, Read, Seek, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

use domain::ids::{DepartmentId, PersonId};
use domain::stored::{Act, Person, Role};
use serde_json::json;
use store::{Embedded, EmbeddedOptions};
use uuid::Uuid;

use super::{Failure, Format, KeyArg, RoleArg, erasures, tables};
use crate::auth::{self, rekey};
use crate::clock::Clock;
use crate::http::auth::link_to;
use crate::seal::{BEGINNING, Opener, PASSPHRASE_CHARS_MIN, Sealer, is_sealed};
use crate::serve::{ServeError, accepted, begin, open};
use crate::shop::{OwnOp, Shop};

/// A command about a shop must not make one by a slip of the finger.
pub(super) fn existing(dir: &Path) -> Result<std::sync::Arc<Shop>, Failure> {
    if !dir.join("log").is_dir() {
        return Err(Failure::Said(format!(
            "{} holds no shop; name its directory with --data",
            dir.display()
        )));
    }
    Ok(open(dir, Clock::System)?)
}

pub fn verify(dir: &Path) -> Result<(), Failure> {
    if !dir.join("log").is_dir() {
        return Err(Failure::Said(format!(
            "{} holds no shop; name its directory with --data",
            dir.display()
        )));
    }
    let (log, control) = Embedded::verify_dir(dir)?;
    say!(
        "shop log: {} entries in {} segments, chain whole up to {}",
        log.entries,
        log.segments,
        hex::encode(log.head.hash)
    )?;
    say!("control journal: {} records in {} segments, chain whole", control.entries, control.segments)?;
    for warning in log.warnings.iter().chain(&control.warnings) {
        say!("note: {warning}")?;
    }
    Ok(())
}

/// What seals a backup: from a file or the environment, for a command line can be read by everybody on the machine.
fn passphrase(file: Option<&Path>) -> Result<Option<String>, Failure> {
    let said = match file {
        Some(path) => {
            let cannot = format!("{} cannot be read", path.display());
            Some(std::fs::read_to_string(path).map_err(Failure::io(cannot))?)
        }
        None => std::env::var("TURNBUCKLE_PASSPHRASE").ok(),
    };
    Ok(said.map(|text| text.trim_end_matches(['\r', '\n']).to_owned()).filter(|text| !text.is_empty()))
}

fn sealing(seal: bool, file: Option<&Path>) -> Result<Option<String>, Failure> {
    if !seal && file.is_none() {
        return Ok(None);
    }
    let said = passphrase(file)?.ok_or_else(|| {
        Failure::Usage("a sealed backup needs --passphrase-file FILE or TURNBUCKLE_PASSPHRASE".into())
    })?;
    if said.chars().count() < PASSPHRASE_CHARS_MIN {
        return Err(Failure::Usage(format!("a passphrase has {PASSPHRASE_CHARS_MIN} characters at least")));
    }
    Ok(Some(said))
}

pub fn backup(dir: &Path, file: &Path, seal: bool, passphrase_file: Option<&Path>) -> Result<(), Failure> {
    let passphrase = sealing(seal, passphrase_file)?;
    let shop = existing(dir)?;
    let cannot = || format!("{} cannot be written", file.display());
    // It holds the shop's keys: its owner's only.
    let made = OpenOptions::new().write(true).create_new(true).mode(0o600).open(file);
    let mut dest = BufWriter::new(made.map_err(Failure::io(cannot()))?);
    let (head, dest) = match &passphrase {
        None => (store::backup(&*shop.store, &mut dest)?, dest),
        Some(passphrase) => {
            let mut sealer = Sealer::new(dest, passphrase).map_err(Failure::io(cannot()))?;
            let head = store::backup(&*shop.store, &mut sealer)?;
            (head, sealer.finish().map_err(Failure::io(cannot()))?)
        }
    };
    let dest = dest.into_inner().map_err(|e| Failure::io(cannot())(e.into_error()))?;
    dest.sync_all().map_err(Failure::io(cannot()))?;
    say!("{} holds the shop up to entry {}.", file.display(), head.seq)?;
    erasures::put_beside(&shop, file)?;
    Ok(())
}

pub fn restore(
    dir: &Path,
    file: &Path,
    passphrase_file: Option<&Path>,
    lists: &[PathBuf],
) -> Result<(), Failure> {
    let erased = erasures::gathered(file, lists)?;
    let cannot = || format!("{} cannot be read", file.display());
    let mut source = BufReader::new(File::open(file).map_err(Failure::io(cannot()))?);
    let sealed = {
        let mut beginning = [0; BEGINNING];
        let read = source.read_exact(&mut beginning);
        source.rewind().map_err(Failure::io(cannot()))?;
        read.is_ok() && is_sealed(&beginning)
    };
    let mut source: Box<dyn Read> = if sealed {
        let said = passphrase(passphrase_file)?.ok_or_else(|| {
            Failure::Usage(format!(
                "{} is sealed; give --passphrase-file FILE or TURNBUCKLE_PASSPHRASE",
                file.display()
            ))
        })?;
        Box::new(Opener::new(source, &said).map_err(Failure::io(cannot()))?)
    } else {
        Box::new(source)
    };
    let epoch = u64::from_be_bytes(Uuid::new_v4().as_bytes()[..8].try_into().unwrap_or_default());
    let restored = store::restore_dir(&mut source, dir, EmbeddedOptions::new(epoch))?;
    say!(
        "{} holds the shop up to entry {}, with {} photos, under a new epoch: phones send again what is not in it.",
        dir.display(),
        restored.head.seq,
        restored.photos
    )?;
    erasures::apply(dir, erased)
}

/// Each key, and what follows for the shop's phones.
pub fn rekey(dir: &Path, keys: &[KeyArg], keep_days: u32) -> Result<(), Failure> {
    let shop = existing(dir)?;
    for key in keys {
        match key {
            KeyArg::Tokens => {
                let until = rekey::tokens(&shop, keep_days)?;
                let date =
                    jiff::Timestamp::from_millisecond(until).unwrap_or_default().strftime("%Y-%m-%d %H:%M");
                if keep_days == 0 {
                    say!(
                        "Sign-ins have a new key, and what the old one signed counts no longer: everybody signs in anew, by a link, password or passkey. What phones have not sent stays on them and goes out after that."
                    )?;
                } else {
                    say!(
                        "Sign-ins have a new key. What the old one signed counts until {date} UTC: phones that reach the server before then change over by themselves, others sign in anew and then send what they have."
                    )?;
                }
            }
            KeyArg::Shop => {
                rekey::shop(&shop)?;
                say!(
                    "The shop has a new key towards its sister shops. In each of them an administrator takes this shop off and enters its new connection code (Setting up, Sister shops); until then nobody comes over from here. Cookies carry the shop's name by this key, so everybody signs in anew here too; what phones have not sent goes out after that."
                )?;
            }
            KeyArg::Authority => {
                rekey::authority(&shop)?;
                tls::forget(&dir.join("tls")).map_err(ServeError::from)?;
                say!(
                    "The next start makes a new certificate authority. Every device opens the page for new devices once more and trusts the new certificate; take the old one off the devices. Until then they do not reach the server, and keep what they have not sent."
                )?;
            }
        }
    }
    Ok(())
}

pub fn export(dir: &Path, format: Format, folder: Option<&Path>) -> Result<(), Failure> {
    let shop = existing(dir)?;
    let mut out = BufWriter::new(std::io::stdout().lock());
    match (format, folder) {
        (Format::Ndjson, Some(_)) => {
            return Err(Failure::Usage("--out names a folder for tables: use it with --format csv".into()));
        }
        (Format::Ndjson, None) => {
            let epoch = shop.store.meta().epoch();
            let header = json!({"turnbuckle": "shop log", "v": 1, "epoch": format!("{epoch:016x}")});
            writeln!(out, "{header}").map_err(Failure::io("the export cannot be written"))?;
            for stored in shop.store.log().replay(1) {
                let stored = stored?;
                let body = String::from_utf8_lossy(&stored.body);
                let (prev, hash) = (hex::encode(stored.prev), hex::encode(stored.hash));
                writeln!(
                    out,
                    "{{\"seq\":{},\"prev\":\"{prev}\",\"hash\":\"{hash}\",\"entry\":{body}}}",
                    stored.seq
                )
                .map_err(Failure::io("the export cannot be written"))?;
            }
        }
        (Format::Csv, Some(folder)) => {
            tables::write_folder(&shop.view(), shop.clock.now(), folder)?;
            writeln!(out, "{} holds the tables; columns.csv says what is in them.", folder.display())
                .map_err(Failure::io("the export cannot be written"))?;
        }
        (Format::Csv, None) => tables::write_spans(&shop.view(), shop.clock.now(), &mut out)?,
    }
    out.flush().map_err(Failure::io("the export cannot be written"))
}

pub fn doctor(dir: &Path) -> Result<(), Failure> {
    verify(dir)?;
    let shop = existing(dir)?;
    let view = shop.view();
    let meta = shop.store.meta();
    say!("epoch {:016x}, head {}, served up to {}", meta.epoch(), view.head.seq, meta.served())?;
    let scrubbed = shop.store.tables().scrub()?;
    say!(
        "tables: {} documents, {} verdicts, {} notices, all whole",
        scrubbed.docs,
        scrubbed.verdicts,
        scrubbed.notices
    )?;
    let photos = shop.store.photos();
    let missing = view.state.photos.values().filter(|p| p.here).filter(|p| {
        let sha: Option<[u8; 32]> = hex::decode(&p.sha256).ok().and_then(|bytes| bytes.try_into().ok());
        !sha.is_some_and(|sha| photos.exists(&sha).unwrap_or(false))
    });
    match missing.count() {
        0 => say!("photos: all that arrived are here")?,
        n => return Err(Failure::Said(format!("{n} photos that had arrived are missing; restore a backup"))),
    }
    Ok(())
}

pub fn invite(
    dir: &Path,
    role: RoleArg,
    name: &str,
    department: Option<String>,
    address: &str,
) -> Result<(), Failure> {
    let shop = open(dir, Clock::System)?;
    begin(&shop)?;
    let role = match role {
        RoleArg::Technician => Role::Technician,
        RoleArg::Parts => Role::Parts,
        RoleArg::Planner => Role::Planner,
        RoleArg::Manager => Role::Manager,
        RoleArg::Admin => Role::Admin,
    };
    let view = shop.view();
    let known = view.state.people.values().find(|p| p.name == name && !p.retired).map(|p| p.id);
    let person = match known {
        Some(id) => id,
        None => {
            let first = || view.state.departments.values().min_by_key(|d| d.rank).map(|d| d.id.clone());
            let department = department.map(DepartmentId).or_else(first);
            let department =
                department.ok_or_else(|| Failure::Said("the shop has no department yet".into()))?;
            sign_up(&shop, role, name, department)?
        }
    };
    let (token, _) = auth::invite(&shop, person, person, false).map_err(ServeError::from)?;
    say!("{}", link_to(address, &token))?;
    Ok(())
}

fn sign_up(shop: &Shop, role: Role, name: &str, department: DepartmentId) -> Result<PersonId, Failure> {
    let id = PersonId(Uuid::now_v7());
    let person = Person {
        id,
        name: name.to_owned(),
        department,
        also: Vec::new(),
        role,
        language: shop.view().state.shop.as_ref().map_or_else(|| "en".into(), |s| s.language.clone()),
        qualifications: Default::default(),
        calendar: None,
        away: Vec::new(),
        retired: false,
        retired_at: None,
        erased_at: None,
    };
    accepted(shop.own_now(vec![OwnOp::system(Act::SetPerson { person })]).map_err(ServeError::from)?)?;
    Ok(id)
}

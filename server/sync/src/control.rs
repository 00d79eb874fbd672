//! Who may come in: people's contacts, invitations, devices, sign-ins, passwords; and the texts that
//! stand beside the log. Kept in the control journal, never in the shop log.
//!
//! Invariants: a record is durable before it counts; secrets are kept as hashes only; what a token may
//! do is decided here, what a person may do is decided by `domain`.

mod access;
mod compact;
mod record;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use store::{Head, Store};

pub use access::*;
pub use record::*;

/// What the journal said up to a record, so that a start need not read it from its beginning, where
/// nearly everything is texts.
#[derive(Serialize, Deserialize)]
struct Gist {
    /// Of which build: another may have understood other records.
    build: String,
    seq: u64,
    hash: String,
    access: Access,
}

/// Where it is kept: in the tables, which may be lost.
const GIST: (&str, &[u8]) = ("control", b"gist");
/// The number rises with every new kind of record and every new part of [`Access`].
const BUILD: &str = concat!(env!("CARGO_PKG_VERSION"), " 5");

/// The control journal and what it says.
pub struct Control {
    store: Arc<dyn Store>,
    access: Mutex<Access>,
}

fn read_gist(store: &dyn Store) -> Option<(Head, Access)> {
    let bytes = store.tables().kv_get(GIST.0, GIST.1).ok()??;
    let gist: Gist = serde_json::from_slice(&bytes).ok()?;
    let hash = hex::decode(gist.hash).ok()?.try_into().ok()?;
    (gist.build == BUILD).then_some((Head { seq: gist.seq, hash }, gist.access))
}

/// Texts by digest; needed only to replay the log.
pub type Texts = BTreeMap<String, String>;

/// How the line of a text begins.
const TEXT: &[u8] = b"{\"text\":";

impl Control {
    /// Reads the journal, from the kept snapshot on if that can be used.
    pub fn open(store: Arc<dyn Store>) -> Result<Self, store::Error> {
        let mut access = Access::default();
        let mut rest = None;
        if let Some((at, kept)) = read_gist(&*store)
            && let Some(later) = store.control().replay_after(at)?
        {
            (access, rest) = (kept, Some(later));
        }
        for line in rest.unwrap_or_else(|| store.control().replay()) {
            let line = line?;
            // Nearly all of them after a few years, and nothing that says who may come in.
            if line.starts_with(TEXT) {
                continue;
            }
            match serde_json::from_slice(&line) {
                Ok(record) => access.apply(record),
                Err(error) => tracing::warn!(%error, "a control record of another version was passed over"),
            }
        }
        Ok(Self { store, access: Mutex::new(access) })
    }

    /// What the journal says now, for the next start. Fine to leave out.
    pub fn put_gist(&self) -> Result<(), store::Error> {
        let mut access = self.read();
        let Head { seq, hash } = self.store.control().head();
        let gist =
            Gist { build: BUILD.into(), seq, hash: hex::encode(hash), access: std::mem::take(&mut access) };
        let bytes = store::json("the gist of the control journal", &gist);
        *access = gist.access;
        self.store.tables().kv_put(GIST.0, GIST.1, &bytes?)
    }

    /// The texts under these digests, as far as they are still there.
    pub fn texts(store: &dyn Store, wanted: &BTreeSet<String>) -> Result<Texts, store::Error> {
        let mut texts = Texts::new();
        if wanted.is_empty() {
            return Ok(texts);
        }
        for line in store.control().replay() {
            let line = line?;
            if !line.starts_with(TEXT) {
                continue;
            }
            if let Ok(Record::Text { digest, text, .. }) = serde_json::from_slice(&line)
                && wanted.contains(&digest)
            {
                texts.insert(digest, text);
            }
        }
        Ok(texts)
    }

    /// Takes these texts out of the journal, and what it says about people who were erased besides whose sign-ins
    /// were theirs.
    pub fn forget(&self, digests: &BTreeSet<String>) -> Result<(), store::Error> {
        // Nobody comes in or goes meanwhile.
        let mut access = self.read();
        let head = self.store.control().head();
        let lines: Vec<Vec<u8>> = self.store.control().replay().collect::<Result<_, _>>()?;
        let stays = |line: &&Vec<u8>| match serde_json::from_slice(line) {
            Ok(Record::Text { digest, .. }) => !digests.contains(&digest),
            Ok(
                Record::Contact { person, .. }
                | Record::Kin { person, .. }
                | Record::Password { person, .. }
                | Record::Pin { person, .. }
                | Record::Tried { person, .. },
            ) => !access.erased.contains_key(&person),
            // What another version wrote is not understood, and stays.
            _ => true,
        };
        let kept: Vec<&[u8]> = lines.iter().filter(stays).map(Vec::as_slice).collect();
        self.store.control().compact(head.seq, &kept).map_err(cannot_write)?;
        *access = compact::said_by(&kept);
        drop(access);
        self.put_gist()
    }

    /// What is so now. Holds the lock: nobody comes in meanwhile.
    pub fn read(&self) -> MutexGuard<'_, Access> {
        self.access.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Durable first, then true.
    pub fn write(&self, records: Vec<Record>) -> Result<(), store::Error> {
        self.write_if(|_| Ok::<_, store::Error>(((), records)))
    }

    /// Decides on what is so now and records the decision, as one step.
    pub fn write_if<T, E: From<store::Error>>(
        &self,
        decide: impl FnOnce(&Access) -> Result<(T, Vec<Record>), E>,
    ) -> Result<T, E> {
        let mut access = self.read();
        let (answer, records) = decide(&access)?;
        if !records.is_empty() {
            let lines: Result<Vec<Vec<u8>>, _> =
                records.iter().map(|record| store::json("a control record", record)).collect();
            let lines = lines.map_err(E::from)?;
            let lines: Vec<&[u8]> = lines.iter().map(Vec::as_slice).collect();
            self.store.control().append(&lines).map_err(|error| E::from(cannot_write(error)))?;
            records.into_iter().for_each(|record| access.apply(record));
        }
        Ok(answer)
    }
}

/// The journal's refusal, as an error of the store.
pub fn cannot_write(error: store::AppendError) -> store::Error {
    store::Error::from(error)
}

/// The digest under which a text stands in the log, and the record that keeps it.
pub fn keep_text(text: &str, salt: [u8; 16]) -> (String, Record) {
    let mut hash = Sha256::new();
    hash.update(salt);
    hash.update(text.as_bytes());
    let digest = hex::encode(&hash.finalize()[..16]);
    let record = Record::Text { digest: digest.clone(), salt: hex::encode(salt), text: text.to_owned() };
    (digest, record)
}

/// Secrets in links are kept as hashes only.
pub fn token_hash(token: &str) -> String {
    hex::encode(Sha256::digest(token.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::ids::{ClientId, PersonId, SessionId};
    use store::Memory;
    use uuid::Uuid;

    fn passkey(person: PersonId) -> Passkey {
        Passkey {
            person,
            name: "Laptop".into(),
            credential: "AQID".into(),
            key: "pQ".into(),
            rp: "shop.lan".into(),
            since: 7,
            count: 1,
            used_at: None,
            browser: None,
        }
    }

    /// Lines as the first release that wrote them did: every later one reads them so. Never edited.
    #[test]
    fn lines_of_passkeys_and_what_is_told_are_promises() {
        let one = "01890000-0000-7000-8000-000000000001";
        let lines = [
            format!(
                r#"{{"passkey":{{"id":"{one}","person":"{one}","name":"Laptop","credential":"AQID","key":"pQ","rp":"shop.lan","since":7,"count":1}}}}"#
            ),
            format!(r#"{{"passkey_used":{{"id":"{one}","count":2,"at":8}}}}"#),
            format!(r#"{{"passkey_named":{{"id":"{one}","name":"Ring"}}}}"#),
            format!(r#"{{"passkey_gone":{{"id":"{one}","at":9}}}}"#),
            format!(r#"{{"told":{{"person":"{one}","what":"link","by":"{one}","at":8}}}}"#),
            format!(r#"{{"told_read":{{"person":"{one}","at":9}}}}"#),
            format!(
                r#"{{"noted":{{"at":8,"what":"locked_out","about":"{one}","address":"192.168.4.7","detail":"password"}}}}"#
            ),
        ];
        for line in &lines {
            let record: Record = serde_json::from_str(line).unwrap();
            assert_eq!(serde_json::to_string(&record).unwrap(), *line);
        }
        let mut access = Access::default();
        access.apply(serde_json::from_str(&lines[0]).unwrap());
        let id: Uuid = one.parse().unwrap();
        assert_eq!(access.passkeys[&id], passkey(PersonId(id)));
    }

    /// A new kind of record, or a new part of [`Access`], is in the gist or the next start forgets it.
    #[test]
    fn a_start_from_the_gist_knows_what_a_start_from_the_beginning_knows() {
        let id = |n: u128| Uuid::from_u128(n);
        let (person, other) = (PersonId(id(1)), PersonId(id(2)));
        let (session, client) = (SessionId(id(3)), ClientId(id(4)));
        let sister = |n: u8| Sister {
            id: shop_id(&[n; 32]),
            name: format!("Shop {n}"),
            address: "https://shop.lan".into(),
            key: hex::encode([n; 32]),
        };
        let invited = |token: &str, display| Record::Invited {
            token: token.into(),
            person,
            by: other,
            until: 9,
            transfer: false,
            display,
            proved: None,
        };
        let records = vec![
            Record::Key { hex: "00ff".into() },
            Record::Rekeyed { hex: "11ff".into(), at: 1, until: 9 },
            Record::Authority { pem: "pem".into() },
            Record::Identity { pkcs8: "aa".into(), public: "bb".into() },
            Record::Sister { sister: sister(1), by: person, at: 1 },
            Record::Sister { sister: sister(2), by: person, at: 1 },
            Record::SisterGone { id: sister(2).id, by: person, at: 2 },
            keep_text("a text", [1; 16]).1,
            invited("used", true),
            invited("open", false),
            Record::SignedIn {
                session,
                person,
                device: "phone".into(),
                at: 3,
                token: Some("used".into()),
                browser: Some(id(5)),
                passkey: None,
            },
            Record::Bound { client, person, browser: Some(id(5)), at: Some(3) },
            Record::Refreshed { session, generation: 7, at: 4, used: Some("one".into()) },
            Record::EndsFrom { at: 4 },
            Record::Kin {
                shop: sister(1).id,
                there: other,
                name: "R. Q.".into(),
                person,
                pass: "one".into(),
                at: 5,
            },
            Record::KinGone { shop: sister(1).id, person: other, at: 5 },
            Record::CameOver {
                session: SessionId(id(6)),
                person,
                device: "phone".into(),
                at: 6,
                shop: sister(1).id,
                pass: "two".into(),
                browser: Some(id(5)),
            },
            Record::SignedOut { session, at: 7, revoked: true },
            Record::Proved { session: SessionId(id(7)), person, at: 7 },
            Record::Password { person, phc: "phc".into() },
            Record::Pin { person, phc: "pin".into() },
            Record::PinTried { session, at: 8 },
            Record::PinFitted { session: SessionId(id(6)), at: 8 },
            Record::Contact { person, contact: Contact { email: Some("a@b.test".into()), mail: true } },
            Record::Read { person, upto: 8 },
            Record::Tried { person, count: 7, at: 8 },
            Record::Passkey { id: id(8), passkey: passkey(person) },
            Record::PasskeyUsed { id: id(8), count: 2, at: 8 },
            Record::PasskeyNamed { id: id(8), name: "Ring".into() },
            Record::Passkey { id: id(9), passkey: passkey(other) },
            Record::Passkey { id: id(10), passkey: passkey(person) },
            Record::PasskeyGone { id: id(10), at: 8 },
            Record::Told { person, told: Told { what: ToldOf::Link, by: other, at: 8 } },
            Record::Told { person: other, told: Told { what: ToldOf::Contact, by: person, at: 8 } },
            Record::ToldRead { person: other, at: 8 },
            Record::OthersSignedOut { person, session, at: 8 },
            Record::Removed { person: other, at: 9 },
            Record::Erased { person: other, at: 9 },
        ];
        let store: Arc<dyn Store> = Arc::new(Memory::new(1));
        let control = Control::open(store.clone()).unwrap();
        control.write(records).unwrap();
        control.put_gist().unwrap();
        let (at, kept) = read_gist(&*store).unwrap();
        assert_eq!(at, store.control().head());
        assert_eq!(kept, *control.read());
        let passkeys: Vec<_> =
            kept.passkeys.iter().map(|(at, p)| (*at, &*p.name, p.count, p.used_at)).collect();
        assert_eq!(passkeys, [(id(8), "Ring", 2, Some(8))], "used, named; gone; taken away with its person");
        assert_eq!(kept.told.keys().collect::<Vec<_>>(), [&person]);
        // Every part of it was put to the test.
        let json = serde_json::to_value(&kept).unwrap();
        let empty = serde_json::to_value(Access::default()).unwrap();
        for (part, value) in json.as_object().unwrap() {
            assert_ne!(*value, empty[part], "{part} is in no record above");
        }
    }
}

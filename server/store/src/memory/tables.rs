//! Tables in ordered maps.

use super::{read, write};
use crate::error::Error;
use crate::rules::{check_batch, check_tree};
use crate::types::*;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Bound::{Excluded, Unbounded};
use std::sync::RwLock;

/// Tables in memory: filled anew at every start.
#[derive(Default)]
pub struct MemoryTables(RwLock<State>);

#[derive(Default)]
struct State {
    applied: Option<Head>,
    docs: BTreeMap<String, (u64, Option<Vec<u8>>)>,
    order: BTreeSet<(u64, String)>,
    verdicts: BTreeMap<([u8; 16], u64), u64>,
    notices: BTreeMap<([u8; 16], NoticeAt), Vec<u8>>,
    kv: BTreeMap<(String, Vec<u8>), Vec<u8>>,
}

impl State {
    fn doc(&self, key: &str) -> Option<Doc> {
        self.docs.get(key).map(|(seq, body)| Doc { key: key.to_owned(), seq: *seq, body: body.clone() })
    }
}

impl Tables for MemoryTables {
    fn applied(&self) -> Result<Option<Head>, Error> {
        Ok(read(&self.0).applied)
    }

    fn apply(&self, batch: &TableBatch) -> Result<(), Error> {
        let mut s = write(&self.0);
        check_batch(s.applied, batch)?;
        let mut verdicts = BTreeMap::new();
        for v in &batch.verdicts {
            let known = s.verdicts.get(&(v.client, v.n)).copied();
            if let Some(seq) = known.or(verdicts.insert((v.client, v.n), v.seq)) {
                return Err(Error::Order { why: format!("operation {} was answered by entry {seq}", v.n) });
            }
        }
        let mut notices = BTreeMap::new();
        for n in &batch.notices {
            if notices.insert((n.person, n.at), n.body.clone()).is_some() {
                return Err(Error::Order { why: format!("two notices are number {} of an entry", n.at.idx) });
            }
        }
        s.verdicts.append(&mut verdicts);
        s.notices.append(&mut notices);
        for doc in &batch.docs {
            if let Some((seq, _)) = s.docs.insert(doc.key.clone(), (doc.seq, doc.body.clone())) {
                s.order.remove(&(seq, doc.key.clone()));
            }
            s.order.insert((doc.seq, doc.key.clone()));
        }
        s.applied = Some(Head { seq: batch.seq, hash: batch.hash });
        Ok(())
    }

    fn docs_after(&self, after: u64, limit: usize, up_to: u64) -> Result<DocPage, Error> {
        let s = read(&self.0);
        let up_to = up_to.min(s.applied.map_or(0, |h| h.seq));
        let mut page = DocPage { docs: Vec::new(), to: up_to.max(after), more: false };
        for (seq, key) in s.order.range((after.saturating_add(1), String::new())..) {
            if *seq > up_to {
                break;
            }
            if let Some(last) = page.docs.last()
                && page.docs.len() >= limit.max(1)
                && last.seq != *seq
            {
                page.to = last.seq;
                page.more = true;
                break;
            }
            page.docs.extend(s.doc(key));
        }
        Ok(page)
    }

    fn doc(&self, key: &str) -> Result<Option<Doc>, Error> {
        Ok(read(&self.0).doc(key))
    }

    fn verdict(&self, client: &[u8; 16], n: u64) -> Result<Option<u64>, Error> {
        Ok(read(&self.0).verdicts.get(&(*client, n)).copied())
    }

    fn notices_after(&self, person: &[u8; 16], after: NoticeAt, limit: usize) -> Result<Vec<Notice>, Error> {
        let s = read(&self.0);
        let own = s.notices.range((Excluded((*person, after)), Unbounded));
        Ok(own
            .take_while(|((p, _), _)| p == person)
            .take(limit)
            .map(|((person, at), body)| Notice { person: *person, at: *at, body: body.clone() })
            .collect())
    }

    fn kv_get(&self, tree: &str, key: &[u8]) -> Result<Option<Vec<u8>>, Error> {
        check_tree(tree)?;
        Ok(read(&self.0).kv.get(&(tree.to_owned(), key.to_vec())).cloned())
    }

    fn kv_put(&self, tree: &str, key: &[u8], value: &[u8]) -> Result<(), Error> {
        check_tree(tree)?;
        write(&self.0).kv.insert((tree.to_owned(), key.to_vec()), value.to_vec());
        Ok(())
    }

    fn kv_delete(&self, tree: &str, key: &[u8]) -> Result<(), Error> {
        check_tree(tree)?;
        write(&self.0).kv.remove(&(tree.to_owned(), key.to_vec()));
        Ok(())
    }

    fn kv_list(&self, tree: &str) -> Result<Vec<KvPair>, Error> {
        check_tree(tree)?;
        let s = read(&self.0);
        let rows = s.kv.range((tree.to_owned(), Vec::new())..);
        Ok(rows.take_while(|((t, _), _)| t == tree).map(|((_, k), v)| (k.clone(), v.clone())).collect())
    }

    fn clear(&self) -> Result<(), Error> {
        let mut s = write(&self.0);
        let kv = std::mem::take(&mut s.kv);
        *s = State { kv, ..State::default() };
        Ok(())
    }

    fn scrub(&self) -> Result<Scrub, Error> {
        let s = read(&self.0);
        if s.docs.len() != s.order.len() {
            return Err(Error::Rebuild { why: "documents and their order differ in number".into() });
        }
        Ok(Scrub {
            docs: s.docs.len() as u64,
            verdicts: s.verdicts.len() as u64,
            notices: s.notices.len() as u64,
        })
    }
}

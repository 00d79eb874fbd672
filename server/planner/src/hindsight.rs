//! What the past taught ([`accuracy`]), read from the log once a day and kept over restarts, because a log
//! of many years takes half a minute.
//!
//! Invariants: nobody who can be answered with yesterday's result waits for today's; the result is kept in the
//! tables, may be lost, and is only used by the build that made it.

use std::sync::{Arc, Mutex, PoisonError};

use domain::Ms;
use domain::calendar::local_date;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::accuracy::{self, Past};
use sync::shop::{OpenError, Shop};

/// What the past taught, as of one day.
#[derive(Clone)]
pub struct Looked {
    /// The shop's local day on which the log was read.
    pub day: Date,
    /// What was found.
    pub past: Arc<Past>,
}

#[derive(Serialize, Deserialize)]
struct Kept {
    build: String,
    day: String,
    past: Past,
}

const PLACE: (&str, &[u8]) = ("hindsight", b"past");
const BUILD: &str = concat!(env!("CARGO_PKG_VERSION"), " 1");

/// Reads the past once a day for everybody who asks.
pub struct Hindsight {
    shop: Arc<Shop>,
    last: Mutex<Option<Looked>>,
    /// One reader at a time; everybody who asks meanwhile waits for the same answer.
    reading: tokio::sync::Mutex<()>,
}

impl Hindsight {
    /// Begins with what the tables still have from an earlier day.
    pub fn new(shop: Arc<Shop>) -> Arc<Self> {
        let last = Mutex::new(read(&shop));
        Arc::new(Self { shop, last, reading: Default::default() })
    }

    /// The last result, of whatever day.
    pub fn last(&self) -> Option<Looked> {
        self.last.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Whether this was read today.
    pub fn is_of(&self, now: Ms, looked: &Looked) -> bool {
        looked.day == local_date(now, &self.shop.view().zone)
    }

    /// Today's result. The first call of a day takes seconds.
    pub async fn today(self: Arc<Self>, now: Ms) -> Result<Looked, OpenError> {
        let _one = self.reading.lock().await;
        if let Some(looked) = self.last().filter(|looked| self.is_of(now, looked)) {
            return Ok(looked);
        }
        let reader = self.clone();
        let read = tokio::task::spawn_blocking(move || reader.look(now)).await;
        read.map_err(|_| OpenError::Closed)?
    }

    fn look(&self, now: Ms) -> Result<Looked, OpenError> {
        let day = local_date(now, &self.shop.view().zone);
        let looked = Looked { day, past: Arc::new(accuracy::past(&self.shop, now)?) };
        *self.last.lock().unwrap_or_else(PoisonError::into_inner) = Some(looked.clone());
        let kept = Kept { build: BUILD.into(), day: day.to_string(), past: (*looked.past).clone() };
        let kept = store::json("what the past taught", &kept);
        let kept = kept.and_then(|bytes| self.shop.store.tables().kv_put(PLACE.0, PLACE.1, &bytes));
        if let Err(error) = kept {
            tracing::warn!(%error, "what the past taught is not kept; the next start reads it again");
        }
        Ok(looked)
    }
}

fn read(shop: &Shop) -> Option<Looked> {
    let bytes = shop.store.tables().kv_get(PLACE.0, PLACE.1).ok()??;
    let kept: Kept = serde_json::from_slice(&bytes).ok()?;
    let day = kept.day.parse().ok()?;
    (kept.build == BUILD).then(|| Looked { day, past: Arc::new(kept.past) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::calendar::instant;
    use domain::stored::{Role, Verdict};
    use jiff::tz::TimeZone;
    use store::Memory;
    use sync::clock::Clock;
    use sync::shop::OwnOp;

    const DAY: Ms = 24 * 3_600_000;

    #[test]
    fn what_was_read_is_there_after_a_restart_and_is_of_its_day() {
        let zone = TimeZone::get("America/Chicago").unwrap();
        let now = instant("2026-05-20".parse().unwrap(), 10 * 60, &zone).unwrap();
        let shop = Shop::open(Arc::new(Memory::new(1)), Clock::at(now)).unwrap();
        // A clock that ran ahead before it was corrected: entries dated by it do not end the day.
        shop.clock.advance(400 * DAY);
        let early = vec![OwnOp::system(starter::shop("Too early", "America/Chicago", "en"))];
        let outcome = shop.own_now(early).unwrap();
        assert!(outcome.ops.iter().all(|op| op.verdict != Verdict::Refused));
        shop.clock.advance(-400 * DAY);
        for op in demo::build(1, 21, now, &zone).ops {
            let role = shop.view().state.people.get(&op.by).map_or(Role::Admin, |person| person.role);
            shop.own_now(vec![OwnOp { by: op.by, role, id: op.op, act: op.act, at: Some(op.at) }]).unwrap();
        }
        let hindsight = Hindsight::new(shop.clone());
        assert!(hindsight.last().is_none());
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        let looked = runtime.block_on(hindsight.today(now)).unwrap();
        assert!(
            looked.past.accuracy.moments.iter().any(|m| m.vehicles > 0),
            "three weeks have taught something"
        );

        let again = Hindsight::new(shop);
        let last = again.last().unwrap();
        assert_eq!((last.day, &last.past), (looked.day, &looked.past));
        again.shop.close();
        assert!(matches!(accuracy::past(&again.shop, now), Err(OpenError::Closed)), "nobody waits for it");
        assert!(again.is_of(now, &last) && !again.is_of(now + DAY, &last));
    }
}

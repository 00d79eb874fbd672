//! The one place where the time comes from, so that tests can set it.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::{SystemTime, UNIX_EPOCH};

use domain::Ms;

/// Where the present time comes from.
#[derive(Clone)]
pub enum Clock {
    /// The machine's clock.
    System,
    /// The machine's clock, so many milliseconds ahead: a demo on another day.
    Ahead(Ms),
    /// Stands still until a test moves it.
    Set(Arc<AtomicI64>),
}

impl Clock {
    /// A clock that stands still at this time.
    pub fn at(ms: Ms) -> Self {
        Clock::Set(Arc::new(AtomicI64::new(ms)))
    }

    /// The present, UTC ms.
    pub fn now(&self) -> Ms {
        match self {
            Clock::System => system_now(),
            Clock::Ahead(ms) => system_now() + ms,
            Clock::Set(ms) => ms.load(Ordering::Relaxed),
        }
    }

    /// Moves a set clock; the machine's goes on by itself.
    pub fn advance(&self, ms: Ms) {
        if let Clock::Set(now) = self {
            now.fetch_add(ms, Ordering::Relaxed);
        }
    }
}

fn system_now() -> Ms {
    SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_millis() as Ms)
}

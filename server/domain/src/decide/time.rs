//! When did it happen? The server's best answer from a phone's clock, and whether to trust it.

use super::EARLIEST;
use crate::{MINUTE, Ms};

/// What is known about the time of one act.
#[derive(Debug, Clone, Copy)]
pub struct Clocks {
    /// The phone's clock when it was done, UTC ms.
    pub device_at: Ms,
    /// Server minus phone, measured before the act.
    pub offset_then: Option<i64>,
    /// Server minus phone, measured now, as it is sent.
    pub offset_now: i64,
    /// The latest moment it must come after: the server time of what the phone had seen, the same client's
    /// previous act, the start of the work it ends.
    pub floor: Ms,
    /// The server's clock as it arrives, UTC ms.
    pub now: Ms,
}

/// Two offsets further apart than this: somebody set the clock in between.
const OFFSET_APART_MAX: Ms = 2 * MINUTE;

/// Nobody remembers anything this late: it still counts at its own time, and is marked as uncertain.
const LATE_MAX: Ms = 14 * 24 * 60 * MINUTE;

/// The corrected time, never before `floor` or [`EARLIEST`] and never after `now`; and whether it is in doubt,
/// because the clocks disagreed, claimed the impossible, or it arrives very late.
pub fn best_time(clocks: Clocks) -> (Ms, bool) {
    let offset = clocks.offset_then.unwrap_or(clocks.offset_now);
    let corrected = clocks.device_at.saturating_add(offset);
    let apart = offset.abs_diff(clocks.offset_now) > OFFSET_APART_MAX.unsigned_abs();
    let cannot_be = corrected < EARLIEST || corrected > clocks.now.saturating_add(OFFSET_APART_MAX);
    let late = clocks.now.saturating_sub(corrected) > LATE_MAX;
    (corrected.max(clocks.floor).max(EARLIEST).min(clocks.now), apart || cannot_be || late)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clocks(device_at: Ms) -> Clocks {
        Clocks { device_at, offset_then: None, offset_now: 0, floor: 0, now: 100 * MINUTE }
    }

    #[test]
    fn offline_work_counts_from_when_it_was_done() {
        assert_eq!(best_time(clocks(62 * MINUTE)), (62 * MINUTE, false));
    }

    #[test]
    fn a_wrong_clock_is_corrected_by_its_offset() {
        let slow = Clocks { offset_now: 50 * MINUTE, ..clocks(12 * MINUTE) };
        assert_eq!(best_time(slow), (62 * MINUTE, false));
    }

    #[test]
    fn what_comes_months_later_counts_where_it_happened_and_is_marked() {
        let day = 24 * 60 * MINUTE;
        let now = EARLIEST + 200 * day;
        let sent = |days: Ms| Clocks { now, ..clocks(now - days * day) };
        assert_eq!(best_time(sent(150)), (now - 150 * day, true));
        assert_eq!(best_time(sent(10)), (now - 10 * day, false), "two weeks without a network happen");
    }

    #[test]
    fn the_future_is_now_and_uncertain() {
        assert_eq!(best_time(clocks(500 * MINUTE)), (100 * MINUTE, true));
    }

    #[test]
    fn never_before_what_it_follows() {
        assert_eq!(best_time(Clocks { floor: 70 * MINUTE, ..clocks(62 * MINUTE) }), (70 * MINUTE, false));
    }

    #[test]
    fn a_clock_set_in_between_is_uncertain() {
        let set = Clocks { offset_then: Some(0), offset_now: 5 * MINUTE, ..clocks(62 * MINUTE) };
        assert_eq!(best_time(set), (62 * MINUTE, true));
    }
}

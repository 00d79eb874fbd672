//! How much one sign-in may write: a long offline day at once, and a steady share of the hour after it.

use std::collections::BTreeMap;

use domain::Ms;
use uuid::Uuid;

use crate::limits::{WRITE_BYTES, WRITE_BYTES_AN_HOUR, WRITE_OPS, WRITE_OPS_AN_HOUR};

const HOUR: f64 = 3_600_000.0;

/// What each sign-in has left; who has all of it is not remembered.
#[derive(Debug, Default)]
pub struct Budgets(BTreeMap<Uuid, Left>);

#[derive(Debug, Clone, Copy)]
struct Left {
    ops: f64,
    bytes: f64,
    at: Ms,
}

impl Left {
    fn at(self, now: Ms) -> Self {
        let hours = (now - self.at).max(0) as f64 / HOUR;
        Self {
            ops: (self.ops + hours * WRITE_OPS_AN_HOUR).min(WRITE_OPS),
            bytes: (self.bytes + hours * WRITE_BYTES_AN_HOUR).min(WRITE_BYTES),
            at: now,
        }
    }
}

impl Budgets {
    /// Takes it off the budget, or says in how many seconds there is enough.
    pub fn spend(&mut self, who: Uuid, ops: usize, bytes: usize, now: Ms) -> Result<(), u64> {
        self.0.retain(|_, left| {
            *left = left.at(now);
            left.ops < WRITE_OPS || left.bytes < WRITE_BYTES
        });
        let left = self.0.get(&who).copied().unwrap_or(Left { ops: WRITE_OPS, bytes: WRITE_BYTES, at: now });
        let (ops, bytes) = (left.ops - ops as f64, left.bytes - bytes as f64);
        let lacks = (-ops / WRITE_OPS_AN_HOUR).max(-bytes / WRITE_BYTES_AN_HOUR);
        if lacks > 0.0 {
            return Err((lacks * HOUR / 1_000.0).ceil() as u64);
        }
        self.0.insert(who, Left { ops, bytes, at: now });
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_day_goes_at_once_and_more_within_the_hour() {
        let (mut budgets, one, other) = (Budgets::default(), Uuid::from_u128(1), Uuid::from_u128(2));
        for _ in 0..WRITE_OPS as usize / 100 {
            assert_eq!(budgets.spend(one, 100, 1_000, 0), Ok(()));
        }
        let wait = budgets.spend(one, 100, 1_000, 0).unwrap_err();
        assert_eq!(wait, (100.0 / WRITE_OPS_AN_HOUR * 3_600.0).ceil() as u64);
        assert_eq!(budgets.spend(other, 100, 1_000, 0), Ok(()));
        assert_eq!(budgets.spend(one, 100, 1_000, wait as Ms * 1_000), Ok(()));
    }

    #[test]
    fn bytes_count_too_and_a_full_budget_is_not_remembered() {
        let mut budgets = Budgets::default();
        assert_eq!(budgets.spend(Uuid::from_u128(1), 1, WRITE_BYTES as usize, 0), Ok(()));
        assert!(budgets.spend(Uuid::from_u128(1), 1, 1_000, 0).is_err());
        let later = 24 * 3_600_000;
        assert_eq!(budgets.spend(Uuid::from_u128(2), 1, 1, later), Ok(()));
        assert_eq!(budgets.0.len(), 1);
    }
}

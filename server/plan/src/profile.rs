//! Free capacity over time as steps.
//!
//! Invariant: neighbouring steps differ, so taking something and giving it back restores the exact same steps.

use crate::grid::Grid;
use crate::{FAR, Time};

/// From `at` up to the next step there is `free` (negative where facts overbook).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Level {
    pub at: Time,
    pub free: i32,
}

#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub(crate) struct Profile {
    levels: Vec<Level>,
}

impl Profile {
    pub(crate) fn new(capacity: i32) -> Self {
        Self { levels: vec![Level { at: Time::MIN, free: capacity }] }
    }

    /// Writes the levels from `origin` on, one number a minute.
    pub(crate) fn fill(&self, origin: Time, free: &mut [i16]) {
        let mut i = self.at(origin);
        for (k, f) in free.iter_mut().enumerate() {
            let t = origin + k as Time;
            while i + 1 < self.levels.len() && self.levels[i + 1].at <= t {
                i += 1;
            }
            *f = self.levels[i].free.clamp(-30_000, 30_000) as i16;
        }
    }

    /// The same at all times.
    pub(crate) fn is_flat(&self) -> bool {
        self.levels.len() == 1
    }

    pub(crate) fn overbooked(&self) -> bool {
        self.levels.iter().any(|l| l.free < 0)
    }

    pub(crate) fn copy_from(&mut self, other: &Self) {
        self.levels.clear();
        self.levels.extend_from_slice(&other.levels);
    }

    /// Index of the step that holds `t`.
    #[inline]
    fn at(&self, t: Time) -> usize {
        // Most work happens near the end of what is already planned: look there first.
        let n = self.levels.len();
        if self.levels[n - 1].at <= t {
            return n - 1;
        }
        self.levels.partition_point(|l| l.at <= t) - 1
    }

    /// First stretch inside [from, to) with less than `qty` free: its last minute's end and where it bites.
    #[inline]
    pub(crate) fn conflict(&self, from: Time, to: Time, qty: i32) -> Option<(Time, Time)> {
        if from >= to {
            return None;
        }
        let mut i = self.at(from);
        loop {
            let l = self.levels[i];
            if l.free < qty {
                let bite = l.at.max(from);
                while i + 1 < self.levels.len() && self.levels[i].free < qty {
                    i += 1;
                }
                let end = if self.levels[i].free < qty { FAR } else { self.levels[i].at };
                return Some((bite, end));
            }
            i += 1;
            if i >= self.levels.len() || self.levels[i].at >= to {
                return None;
            }
        }
    }

    /// Earliest start at or after `from` with `qty` free for `d` minutes; `FAR` if never.
    #[inline]
    pub(crate) fn earliest(&self, from: Time, d: Time, qty: i32) -> Time {
        let mut i = self.at(from);
        let mut s = from;
        loop {
            if self.levels[i].free < qty {
                loop {
                    i += 1;
                    if i >= self.levels.len() {
                        return FAR;
                    }
                    if self.levels[i].free >= qty {
                        break;
                    }
                }
                s = self.levels[i].at;
            }
            i += 1;
            if i >= self.levels.len() || self.levels[i].at - s >= d {
                return s;
            }
        }
    }

    /// Takes `qty` in [from, to); negative gives it back.
    pub(crate) fn take(&mut self, from: Time, to: Time, qty: i32) {
        if from >= to || qty == 0 {
            return;
        }
        let mut i = self.at(from);
        let n = self.levels.len();
        // Where the change begins.
        if self.levels[i].at < from {
            let free = self.levels[i].free;
            let end_inside = i + 1 == n || self.levels[i + 1].at > to;
            if end_inside {
                let tail = [Level { at: from, free: free - qty }, Level { at: to, free }];
                if to >= FAR {
                    self.levels.insert(i + 1, tail[0]);
                } else {
                    self.levels.splice(i + 1..i + 1, tail);
                }
                return;
            }
            self.levels.insert(i + 1, Level { at: from, free: free - qty });
            i += 2;
        } else {
            let before = if i > 0 { Some(self.levels[i - 1].free) } else { None };
            let free = self.levels[i].free;
            if before == Some(free - qty) {
                self.levels.remove(i);
            } else {
                self.levels[i].free = free - qty;
                i += 1;
            }
            // The stretch from here up to `to` may end inside the step just changed.
            if i >= self.levels.len() || self.levels[i].at > to {
                if to < FAR {
                    self.levels.insert(i, Level { at: to, free });
                }
                return;
            }
        }
        let mut last = self.levels[i - 1].free + qty;
        while i < self.levels.len() && self.levels[i].at < to {
            last = self.levels[i].free;
            self.levels[i].free -= qty;
            i += 1;
        }
        if to >= FAR {
            return;
        }
        if i < self.levels.len() && self.levels[i].at == to {
            if self.levels[i].free == last - qty {
                self.levels.remove(i);
            }
        } else {
            self.levels.insert(i, Level { at: to, free: last });
        }
    }
}

/// A resource's free capacity, in the form that suits it.
#[derive(Clone, Debug)]
pub(crate) enum Capacity {
    Steps(Profile),
    Grid(Grid),
}

impl Capacity {
    pub(crate) fn copy_from(&mut self, other: &Self) {
        match (self, other) {
            (Self::Steps(a), Self::Steps(b)) => a.copy_from(b),
            (Self::Grid(a), Self::Grid(b)) => a.copy_from(b),
            (a, b) => *a = b.clone(),
        }
    }
    #[inline]
    pub(crate) fn earliest(&self, from: Time, d: Time, qty: i32) -> Time {
        match self {
            Self::Steps(p) => p.earliest(from, d, qty),
            Self::Grid(g) => g.earliest(from, d, qty),
        }
    }
    #[inline]
    pub(crate) fn conflict(&self, from: Time, to: Time, qty: i32) -> Option<(Time, Time)> {
        match self {
            Self::Steps(p) => p.conflict(from, to, qty),
            Self::Grid(g) => g.conflict(from, to, qty),
        }
    }
    #[inline]
    pub(crate) fn take(&mut self, from: Time, to: Time, qty: i32) {
        match self {
            Self::Steps(p) => p.take(from, to, qty),
            Self::Grid(g) => g.take(from, to, qty),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rng::Rng;

    /// Against a plain array of minutes.
    #[test]
    fn matches_a_minute_by_minute_table() {
        let mut rng = Rng::new(7);
        for _ in 0..200 {
            let mut p = Profile::new(3);
            let mut table = [3i32; 60];
            let mut taken = Vec::new();
            for _ in 0..30 {
                if taken.len() > 4 && rng.below(3) == 0 {
                    let (a, b, q): (Time, Time, i32) = taken.swap_remove(rng.below(taken.len()));
                    p.take(a, b, -q);
                    (a..b).for_each(|t| table[t as usize] += q);
                } else {
                    let a = rng.below(50) as Time;
                    let b = a + 1 + rng.below(9) as Time;
                    let q = 1 + rng.below(2) as i32;
                    taken.push((a, b, q));
                    p.take(a, b, q);
                    (a..b).for_each(|t| table[t as usize] -= q);
                }
                assert!(p.levels.windows(2).all(|w| w[0].at < w[1].at && w[0].free != w[1].free), "{p:?}");
                for t in 0..60 {
                    assert_eq!(p.levels[p.at(t)].free, table[t as usize], "at {t} {p:?}");
                }
                let (from, d, q) = (rng.below(40) as Time, 1 + rng.below(8) as Time, 1 + rng.below(2) as i32);
                let fits = |s: Time| (s..s + d).all(|t| table.get(t as usize).copied().unwrap_or(3) >= q);
                assert_eq!(p.earliest(from, d, q), (from..).find(|&s| fits(s)).unwrap());
                let clash = (from..from + d).find(|&t| table[t as usize] < q);
                assert_eq!(p.conflict(from, from + d, q).map(|c| c.0), clash);
            }
            for (a, b, q) in taken {
                p.take(a, b, -q);
            }
            assert_eq!(p, Profile::new(3));
        }
    }

    #[test]
    fn without_end_and_closed_again() {
        let mut p = Profile::new(1);
        p.take(10, FAR, 1);
        assert_eq!(p.earliest(5, 6, 1), FAR);
        assert_eq!(p.earliest(4, 6, 1), 4);
        p.take(30, FAR, -1);
        assert_eq!(p.earliest(5, 6, 1), 30);
    }
}

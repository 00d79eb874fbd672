//! Free capacity minute by minute up to a horizon, with a bit per minute: "one is free".
//!
//! Faster than steps where many tasks share a resource. Invariant: bit t is set exactly if free[t] ≥ 1; what would reach past
//! the horizon does not fit, so the horizon must lie well behind any plan worth having.

use crate::profile::Profile;
use crate::{FAR, Time};

#[derive(Clone, Debug)]
pub(crate) struct Grid {
    origin: Time,
    len: Time,
    /// Empty for a resource of which there is one and which is never overbooked: the bits say it all.
    free: Vec<i16>,
    bits: Vec<u64>,
}

impl Grid {
    /// The same as `steps` from `origin` on. `single`: never more than one, never overbooked while decoding.
    pub(crate) fn new(steps: &Profile, origin: Time, len: Time, single: bool) -> Self {
        let mut free = vec![0i16; len as usize];
        steps.fill(origin, &mut free);
        let mut bits = vec![0u64; (len as usize).div_ceil(64)];
        for (t, _) in free.iter().enumerate().filter(|(_, f)| **f >= 1) {
            bits[t / 64] |= 1 << (t % 64);
        }
        if single {
            free = Vec::new();
        }
        Self { origin, len, free, bits }
    }

    pub(crate) fn copy_from(&mut self, other: &Self) {
        self.free.copy_from_slice(&other.free);
        self.bits.copy_from_slice(&other.bits);
    }

    /// First minute at or after `t` whose bit is `set`; `len` if there is none.
    #[inline]
    fn next(&self, t: usize, set: bool) -> usize {
        let flip = if set { 0 } else { u64::MAX };
        let mut w = t / 64;
        if w >= self.bits.len() {
            return self.len as usize;
        }
        let mut word = (self.bits[w] ^ flip) & (u64::MAX << (t % 64));
        while word == 0 {
            w += 1;
            if w == self.bits.len() {
                return self.len as usize;
            }
            word = self.bits[w] ^ flip;
        }
        (w * 64 + word.trailing_zeros() as usize).min(self.len as usize)
    }

    pub(crate) fn earliest(&self, from: Time, d: Time, qty: i32) -> Time {
        let (len, d) = (self.len as usize, d as usize);
        let mut s = (from - self.origin).max(0) as usize;
        if qty == 1 {
            loop {
                if s + d > len {
                    return FAR;
                }
                let busy = self.next(s, false);
                if busy >= s + d {
                    return self.origin + s as Time;
                }
                s = self.next(busy, true);
            }
        }
        // From the back: one clash rules out every start up to it.
        let q = qty as i16;
        'again: loop {
            if s + d > len {
                return FAR;
            }
            let mut t = s + d;
            while t > s {
                t -= 1;
                if self.level(t) < q {
                    s = t + 1;
                    continue 'again;
                }
            }
            return self.origin + s as Time;
        }
    }

    #[inline]
    fn level(&self, t: usize) -> i16 {
        if self.free.is_empty() { (self.bits[t / 64] >> (t % 64) & 1) as i16 } else { self.free[t] }
    }

    pub(crate) fn conflict(&self, from: Time, to: Time, qty: i32) -> Option<(Time, Time)> {
        if from >= to {
            return None;
        }
        let len = self.len as usize;
        let a = (from - self.origin).max(0) as usize;
        let b = (to - self.origin).max(0) as usize;
        let absolute = |t: usize| if t >= len { FAR } else { self.origin + t as Time };
        if qty == 1 {
            let bite = self.next(a, false);
            return (bite < b).then(|| (self.origin + bite as Time, absolute(self.next(bite, true))));
        }
        let q = qty as i16;
        let bite = (a..b.min(len)).find(|&t| self.level(t) < q).or((b > len).then_some(len))?;
        let end = (bite..len).find(|&t| self.level(t) >= q).unwrap_or(len);
        Some((self.origin + bite as Time, absolute(end)))
    }

    pub(crate) fn take(&mut self, from: Time, to: Time, qty: i32) {
        let a = (from - self.origin).clamp(0, self.len) as usize;
        let b = (to.min(FAR) - self.origin).clamp(0, self.len) as usize;
        if a >= b || qty == 0 {
            return;
        }
        let (first, last) = (a / 64, (b - 1) / 64);
        if self.free.is_empty() {
            for w in first..=last {
                let mask = Self::mask(w, a, b);
                if qty > 0 {
                    self.bits[w] &= !mask;
                } else {
                    self.bits[w] |= mask;
                }
            }
            return;
        }
        let q = qty as i16;
        let span = &mut self.free[a..b];
        let mut least = i16::MAX;
        for f in span {
            *f -= q;
            least = least.min(*f);
        }
        // Mostly no bit changes, or all are set: only what has run out needs a closer look.
        if least >= 1 {
            if qty < 0 {
                for w in first..=last {
                    self.bits[w] |= Self::mask(w, a, b);
                }
            }
            return;
        }
        for w in first..=last {
            let (from, to) = (a.max(w * 64), b.min(w * 64 + 64));
            let mut ones = 0u64;
            for (k, f) in self.free[from..to].iter().enumerate() {
                ones |= u64::from(*f >= 1) << k;
            }
            let mask = Self::mask(w, a, b);
            self.bits[w] = (self.bits[w] & !mask) | (ones << (from % 64));
        }
    }

    #[inline]
    fn mask(w: usize, a: usize, b: usize) -> u64 {
        let low = if w == a / 64 { u64::MAX << (a % 64) } else { u64::MAX };
        let high = if w == (b - 1) / 64 { u64::MAX >> (63 - (b - 1) % 64) } else { u64::MAX };
        low & high
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rng::Rng;

    /// The same answers as steps, as long as nothing reaches the horizon.
    #[test]
    fn agrees_with_steps() {
        let mut rng = Rng::new(3);
        for round in 0..300 {
            let capacity = 1 + round % 3;
            let mut steps = Profile::new(capacity);
            let mut base = Profile::new(capacity);
            for p in [&mut steps, &mut base] {
                p.take(20, 40, 1);
            }
            let mut grid = Grid::new(&base, -5, 700, capacity == 1);
            let mut taken: Vec<(Time, Time, i32)> = Vec::new();
            for _ in 0..40 {
                let q = 1 + rng.below(capacity as usize) as i32;
                let d = 1 + rng.below(30) as Time;
                let from = rng.below(250) as Time - 5;
                assert_eq!(grid.earliest(from, d, q), steps.earliest(from, d, q));
                assert_eq!(grid.conflict(from, from + d, q), steps.conflict(from, from + d, q));
                if taken.len() > 6 {
                    let (a, b, q) = taken.swap_remove(rng.below(taken.len()));
                    steps.take(a, b, -q);
                    grid.take(a, b, -q);
                }
                let s = steps.earliest(from, d, q);
                steps.take(s, s + d, q);
                grid.take(s, s + d, q);
                taken.push((s, s + d, q));
            }
        }
    }

    #[test]
    fn nothing_fits_past_the_horizon() {
        let grid = Grid::new(&Profile::new(2), 0, 100, false);
        assert_eq!(grid.earliest(95, 5, 1), 95);
        assert_eq!(grid.earliest(96, 5, 1), FAR);
        assert_eq!(grid.earliest(96, 5, 2), FAR);
        assert_eq!(grid.conflict(96, 101, 2), Some((100, FAR)));
        assert_eq!(grid.conflict(96, 101, 1), Some((100, FAR)));
    }
}

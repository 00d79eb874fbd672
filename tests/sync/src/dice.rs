//! Chance from a seed.
//!
//! Invariant: the same seed draws the same numbers on every machine; nothing else in this package draws.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use uuid::{Builder, Uuid};

pub struct Dice(ChaCha8Rng);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// 0 to `sides` - 1; 0 when there are none.
    pub fn below(&mut self, sides: usize) -> usize {
        if sides == 0 { 0 } else { (self.0.next_u64() % sides as u64) as usize }
    }

    pub fn between(&mut self, from: i64, to: i64) -> i64 {
        from + self.below((to - from + 1) as usize) as i64
    }

    /// True so many times in a thousand.
    pub fn chance(&mut self, in_thousand: usize) -> bool {
        self.below(1_000) < in_thousand
    }

    pub fn pick<'a, T>(&mut self, all: &'a [T]) -> Option<&'a T> {
        all.get(self.below(all.len()))
    }

    pub fn word(&mut self) -> u64 {
        self.0.next_u64()
    }

    pub fn uuid(&mut self) -> Uuid {
        let mut bytes = [0; 16];
        self.0.fill_bytes(&mut bytes);
        Builder::from_random_bytes(bytes).into_uuid()
    }
}

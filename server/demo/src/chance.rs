//! A small seeded generator (SplitMix64, Steele, Lea and Flood 2014): the same numbers on every machine.

pub(super) struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A whole number from `low` to `high`, both included.
    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        let width = (high - low).max(0) as u64 + 1;
        low + (self.next() % width) as i64
    }

    pub fn percent(&mut self, chance: i64) -> bool {
        self.between(1, 100) <= chance
    }

    pub fn pick<'a, T: ?Sized>(&mut self, from: &[&'a T]) -> &'a T {
        from[self.next() as usize % from.len()]
    }

    pub fn bytes(&mut self) -> [u8; 10] {
        let (a, b) = (self.next().to_le_bytes(), self.next().to_le_bytes());
        [a[0], a[1], a[2], a[3], a[4], a[5], a[6], a[7], b[0], b[1]]
    }

    /// Work takes from two thirds to one and three quarters of its plan, mostly a little more than planned.
    pub fn stretch(&mut self, minutes: u32) -> i64 {
        let percent = self.between(66, 105)
            + self.between(0, 35)
            + if self.percent(12) { self.between(10, 40) } else { 0 };
        i64::from(minutes) * percent * 600 + self.between(0, 59_000)
    }
}

//! The engine's own generator: the same numbers on every machine and in every release.
//!
//! splitmix64 seeding a xorshift64* stream; both are public constants of the literature (Steele et al. 2014, Vigna 2016).

#[derive(Clone, Debug)]
pub(crate) struct Rng {
    state: u64,
}

impl Rng {
    pub(crate) fn new(seed: u64) -> Self {
        let mut z = seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        Self { state: (z ^ (z >> 31)) | 1 }
    }

    #[inline]
    pub(crate) fn next(&mut self) -> u64 {
        self.state ^= self.state >> 12;
        self.state ^= self.state << 25;
        self.state ^= self.state >> 27;
        self.state.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// Uniform below `n` (n ≥ 1).
    #[inline]
    pub(crate) fn below(&mut self, n: usize) -> usize {
        (((self.next() >> 32) * n as u64) >> 32) as usize
    }

    /// True in `parts` of `whole` cases.
    #[inline]
    pub(crate) fn chance(&mut self, parts: usize, whole: usize) -> bool {
        self.below(whole) < parts
    }
}

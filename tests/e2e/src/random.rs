//! Numbers that look random and are the same in every run.

/// The generator splitmix64 (Steele, Lea and Flood, OOPSLA 2014).
pub struct Random(u64);

impl Random {
    /// A sequence of its own for each seed.
    #[must_use]
    pub fn new(seed: u64) -> Random {
        Random(seed)
    }

    /// A number below `limit`; 0 where `limit` is 0.
    pub fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        if limit == 0 {
            0
        } else {
            usize::try_from(z % limit as u64).unwrap_or(0)
        }
    }

    /// True once in `n` times.
    pub fn once_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    /// One of these.
    ///
    /// # Panics
    /// When there are none.
    pub fn pick<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.below(all.len())]
    }
}

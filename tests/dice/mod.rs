//! What tests draw at random, the same on each machine, and how much of it the environment asks for.

/// A fixed sequence of numbers, by where it begins.
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    /// The next number, of 31 bits.
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.0 >> 33
    }

    pub(crate) fn below(&mut self, limit: usize) -> usize {
        self.next() as usize % limit
    }

    pub(crate) fn one<'a>(&mut self, of: &[&'a str]) -> &'a str {
        of[self.below(of.len())]
    }
}

/// The number that the environment gives under a name.
pub(crate) fn given(name: &str, or: u64) -> u64 {
    std::env::var(name).ok().and_then(|number| number.parse().ok()).unwrap_or(or)
}

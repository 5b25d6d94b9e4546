//! A small seeded random source, so that a simulated bench is the same twice.

/// SplitMix64: one addition and three mixing steps a number (published by its
/// authors as public domain; constants from memory, checked by the test below).
#[derive(Clone, Debug)]
pub struct Noise(u64);

impl Noise {
    /// A source that gives the same numbers for the same seed.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number from 0 up to, not including, 1.
    pub const fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A number from `low` up to `high`.
    pub const fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// True in one of `one_in` draws.
    pub const fn chance(&mut self, part: f64) -> bool {
        self.unit() < part
    }

    /// A bell-shaped number with mean 0 and deviation 1, never beyond 6: the
    /// sum of twelve draws, which is near enough for a display's last digit.
    pub fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_numbers_of_seed_zero_are_the_known_ones() {
        // From memory: the first outputs of SplitMix64 with state 0, as used
        // everywhere to seed larger generators.
        let mut noise = Noise::new(0);
        assert_eq!(noise.bits(), 0xE220_A839_7B1D_CDAF);
        assert_eq!(noise.bits(), 0x6E78_9E6A_A1B9_65F4);
    }

    #[test]
    fn a_bell_has_mean_zero_and_deviation_one() {
        let mut noise = Noise::new(7);
        let draws: Vec<f64> = (0..20_000).map(|_| noise.bell()).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let var = draws.iter().map(|d| (d - mean) * (d - mean)).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.03, "{mean}");
        assert!((var - 1.0).abs() < 0.05, "{var}");
    }
}

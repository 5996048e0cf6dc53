//! Seeded random numbers: stream `k` of a seed is the same whatever thread draws it, and in whatever order.

use rand_xoshiro::rand_core::{Rng as _, SeedableRng as _};
use rand_xoshiro::{SplitMix64, Xoshiro256PlusPlus};

/// A source of random numbers with its own state.
#[derive(Debug, Clone)]
pub struct RandomStream {
    generator: Xoshiro256PlusPlus,
    /// The polar method makes two normal values at a time.
    spare_normal: Option<f64>,
}

impl RandomStream {
    /// Stream number `index` of `seed`: give each simulation its own index, and its numbers do not depend on threads.
    ///
    /// # Units
    /// Any two whole numbers.
    ///
    /// # Source
    /// xoshiro256++ (Blackman & Vigna 2021, ACM Trans. Math. Softw. 47, 36), its state from two rounds of `SplitMix64`.
    ///
    /// # Example
    /// ```
    /// use stillwell_stats::random::RandomStream;
    /// let mut a = RandomStream::new(7, 3);
    /// let mut b = RandomStream::new(7, 3);
    /// assert_eq!(a.uniform(), b.uniform());
    /// ```
    pub fn new(seed: u64, index: u64) -> Self {
        let hashed_seed = SplitMix64::seed_from_u64(seed).next_u64();
        let hashed_pair = SplitMix64::seed_from_u64(hashed_seed ^ index).next_u64();
        Self { generator: Xoshiro256PlusPlus::seed_from_u64(hashed_pair), spare_normal: None }
    }

    /// A uniform value strictly between 0 and 1: an odd multiple of 2⁻⁵³.
    ///
    /// # Units
    /// Pure number.
    ///
    /// # Source
    /// Common practice, no source: the upper 52 bits, shifted by half a step.
    ///
    /// # Example
    /// ```
    /// let u = stillwell_stats::random::RandomStream::new(1, 0).uniform();
    /// assert!(u > 0.0 && u < 1.0);
    /// ```
    pub fn uniform(&mut self) -> f64 {
        const STEP: f64 = 1.0 / 4_503_599_627_370_496.0; // 2^-52
        ((self.generator.next_u64() >> 12) as f64 + 0.5) * STEP
    }

    /// A standard normal value.
    ///
    /// # Units
    /// Pure number.
    ///
    /// # Source
    /// Polar method, Marsaglia & Bray 1964, SIAM Rev. 6, 260.
    ///
    /// # Example
    /// ```
    /// let mut stream = stillwell_stats::random::RandomStream::new(1, 0);
    /// let noise_a: Vec<f64> = (0..3).map(|_| 2e-9 * stream.normal()).collect();
    /// assert!(noise_a.iter().all(|v| v.is_finite()));
    /// ```
    pub fn normal(&mut self) -> f64 {
        if let Some(value) = self.spare_normal.take() {
            return value;
        }
        loop {
            let x = 2.0 * self.uniform() - 1.0;
            let y = 2.0 * self.uniform() - 1.0;
            let square = x * x + y * y;
            if square < 1.0 {
                let factor = libm::sqrt(-2.0 * libm::log(square) / square);
                self.spare_normal = Some(y * factor);
                return x * factor;
            }
        }
    }
}

//! Random numbers by the column, for Monte Carlo: eight seeded generators side by side, inverse distributions from a table.

#![expect(
    clippy::inline_always,
    reason = "code inlined into the copies for wider registers is compiled for them; calls would not be"
)]

use rand_xoshiro::SplitMix64;
use rand_xoshiro::rand_core::{Rng as _, SeedableRng as _};

/// Generators side by side.
const LANES: usize = 8;

type State = [[u64; LANES]; 4];

/// A source of whole columns of random numbers: stream `index` of a seed is the same whatever thread draws it.
///
/// The arithmetic is + − × ÷ √ and comparisons only, without fused operations, so that wider registers, where the processor has
/// them, change the time and not the bits.
#[derive(Debug, Clone)]
pub struct RandomBlock {
    state: State,
}

impl RandomBlock {
    /// Stream number `index` of `seed`: give each block of trials its own index, and its numbers do not depend on threads.
    ///
    /// # Units
    /// Any two whole numbers.
    ///
    /// # Source
    /// Eight xoshiro256++ (Blackman & Vigna 2021, ACM Trans. Math. Softw. 47, 36), their states one after the other from one
    /// `SplitMix64` that is seeded from both numbers. Apart from [`crate::random::RandomStream`]: the numbers differ.
    ///
    /// # Example
    /// ```
    /// use stillwell_stats::random_block::RandomBlock;
    /// let (mut a, mut b) = ([0.0; 5], [0.0; 5]);
    /// RandomBlock::new(7, 3).fill_uniform(&mut a);
    /// RandomBlock::new(7, 3).fill_uniform(&mut b);
    /// assert_eq!(a, b);
    /// ```
    pub fn new(seed: u64, index: u64) -> Self {
        let hashed_seed = SplitMix64::seed_from_u64(seed).next_u64();
        let mut words = SplitMix64::seed_from_u64(hashed_seed ^ index.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        let mut state = [[0; LANES]; 4];
        for lane in 0..LANES {
            for word in &mut state {
                word[lane] = words.next_u64();
            }
        }
        Self { state }
    }

    /// Fills a column with uniform values strictly between 0 and 1: odd multiples of 2⁻⁵³.
    ///
    /// # Units
    /// Pure numbers.
    ///
    /// # Source
    /// Common practice, no source: the upper 52 bits, shifted by half a step.
    ///
    /// # Example
    /// ```
    /// let mut column = [0.0; 100];
    /// stillwell_stats::random_block::RandomBlock::new(1, 0).fill_uniform(&mut column);
    /// assert!(column.iter().all(|u| *u > 0.0 && *u < 1.0));
    /// ```
    pub fn fill_uniform(&mut self, column: &mut [f64]) {
        on_this_processor::<Uniforms>(&mut self.state, column);
    }

    /// Fills a column with standard normal values.
    ///
    /// # Units
    /// Pure numbers.
    ///
    /// # Source
    /// Box & Muller 1958, Ann. Math. Statist. 29, 610. Logarithm, sine and cosine are polynomials that lie within
    /// 1e-12 of the exact functions. No value lies farther out than 8.6.
    ///
    /// # Example
    /// ```
    /// let mut column = [0.0; 1000];
    /// stillwell_stats::random_block::RandomBlock::new(1, 0).fill_normal(&mut column);
    /// let mean: f64 = column.iter().sum::<f64>() / 1000.0;
    /// assert!(mean.abs() < 0.1);
    /// ```
    pub fn fill_normal(&mut self, column: &mut [f64]) {
        on_this_processor::<Normals>(&mut self.state, column);
    }

    /// Fills a column from any distribution that is symmetric about zero.
    ///
    /// # Units
    /// Those of the table.
    ///
    /// # Source
    /// Inverse of the distribution function, as [`SymmetricTable`] holds it.
    ///
    /// # Example
    /// ```
    /// use stillwell_stats::{distributions::student_t_quantile, random_block::{RandomBlock, SymmetricTable}};
    /// let table = SymmetricTable::new(|tail| student_t_quantile(tail, 4.0));
    /// let mut column = [0.0; 8];
    /// RandomBlock::new(1, 0).fill_symmetric(&table, &mut column);
    /// assert!(column.iter().all(|t| t.is_finite()));
    /// ```
    pub fn fill_symmetric(&mut self, table: &SymmetricTable, column: &mut [f64]) {
        fill(&mut self.state, column, |bits| table.value(bits));
    }
}

/// The next 64 bits of each generator.
#[inline(always)]
fn next_bits(state: &mut State) -> [u64; LANES] {
    let [s0, s1, s2, s3] = state;
    let mut bits = [0; LANES];
    for lane in 0..LANES {
        bits[lane] = s0[lane].wrapping_add(s3[lane]).rotate_left(23).wrapping_add(s0[lane]);
    }
    for lane in 0..LANES {
        let shifted = s1[lane] << 17;
        s2[lane] ^= s0[lane];
        s3[lane] ^= s1[lane];
        s1[lane] ^= s2[lane];
        s0[lane] ^= s3[lane];
        s2[lane] ^= shifted;
        s3[lane] = s3[lane].rotate_left(45);
    }
    bits
}

#[inline(always)]
fn fill(state: &mut State, column: &mut [f64], value: impl Fn(u64) -> f64) {
    let mut own = *state;
    let mut chunks = column.chunks_exact_mut(LANES);
    for chunk in &mut chunks {
        let bits = next_bits(&mut own);
        for lane in 0..LANES {
            chunk[lane] = value(bits[lane]);
        }
    }
    let rest = chunks.into_remainder();
    if !rest.is_empty() {
        for (place, bits) in rest.iter_mut().zip(next_bits(&mut own)) {
            *place = value(bits);
        }
    }
    *state = own;
}

/// 52 random digits after 1, less 1 − 2⁻⁵³: exact, and without a conversion.
#[inline(always)]
fn uniform(bits: u64) -> f64 {
    const BELOW_ONE: f64 = 1.0 - 0.5 * f64::EPSILON;
    f64::from_bits(bits >> 12 | ONE) - BELOW_ONE
}

const ONE: u64 = 1.0_f64.to_bits();
const MANTISSA: u64 = 0x000f_ffff_ffff_ffff;

/// Code that fills a column, to be compiled for more than one kind of register.
trait Filling {
    fn fill(state: &mut State, column: &mut [f64]);
}

struct Uniforms;

impl Filling for Uniforms {
    #[inline(always)]
    fn fill(state: &mut State, column: &mut [f64]) {
        fill(state, column, uniform);
    }
}

struct Normals;

impl Filling for Normals {
    #[inline(always)]
    fn fill(state: &mut State, column: &mut [f64]) {
        fill_normal(state, column);
    }
}

#[cfg(not(target_arch = "x86_64"))]
fn on_this_processor<F: Filling>(state: &mut State, column: &mut [f64]) {
    F::fill(state, column);
}

/// The same code compiled three times: plain, for AVX2, for AVX-512.
#[cfg(target_arch = "x86_64")]
#[expect(
    unsafe_code,
    reason = "the processor was asked for the instructions that the callee is compiled for"
)]
fn on_this_processor<F: Filling>(state: &mut State, column: &mut [f64]) {
    #[target_feature(enable = "avx512f,avx512dq")]
    fn wide<F: Filling>(state: &mut State, column: &mut [f64]) {
        F::fill(state, column);
    }
    #[target_feature(enable = "avx2")]
    fn middle<F: Filling>(state: &mut State, column: &mut [f64]) {
        F::fill(state, column);
    }
    if std::is_x86_feature_detected!("avx512f") && std::is_x86_feature_detected!("avx512dq") {
        // SAFETY: both features are there.
        unsafe { wide::<F>(state, column) }
    } else if std::is_x86_feature_detected!("avx2") {
        // SAFETY: the feature is there.
        unsafe { middle::<F>(state, column) }
    } else {
        F::fill(state, column);
    }
}

/// Two draws of the generators make sixteen values: first the eight sines, then the eight cosines.
#[inline(always)]
fn fill_normal(state: &mut State, column: &mut [f64]) {
    let mut own = *state;
    let mut chunks = column.chunks_exact_mut(2 * LANES);
    for chunk in &mut chunks {
        normal_pairs(&mut own, chunk);
    }
    let rest = chunks.into_remainder();
    if !rest.is_empty() {
        let mut last = [0.0; 2 * LANES];
        normal_pairs(&mut own, &mut last);
        rest.copy_from_slice(&last[..rest.len()]);
    }
    *state = own;
}

#[inline(always)]
fn normal_pairs(state: &mut State, sixteen: &mut [f64]) {
    let (radius_bits, angle_bits) = (next_bits(state), next_bits(state));
    let (sines, cosines) = sixteen.split_at_mut(LANES);
    for lane in 0..LANES {
        let radius = (-2.0 * ln(uniform(radius_bits[lane]))).sqrt();
        let (sine, cosine) = sine_and_cosine(angle_bits[lane]);
        sines[lane] = radius * sine;
        cosines[lane] = radius * cosine;
    }
}

/// Natural logarithm of a number between 2⁻⁵³ and 1, within 1e-12 relative.
///
/// ln m = 2 artanh s with s = (m − 1)/(m + 1), m between √½ and √2.
#[inline(always)]
fn ln(u: f64) -> f64 {
    const ROOT_HALF: u64 = 0x3fe6_a09e_0000_0000;
    // 2⁵² with the exponent in its last digits is 2⁵² + exponent.
    const SHIFTED: u64 = 0x4330_0000_0000_0000;
    const UNSHIFTED: f64 = 4_503_599_627_370_496.0 + 1023.0;
    let bits = u.to_bits().wrapping_add(ONE - ROOT_HALF);
    let exponent = f64::from_bits(bits >> 52 | SHIFTED) - UNSHIFTED;
    let m = f64::from_bits((bits & MANTISSA).wrapping_add(ROOT_HALF));
    let s = (m - 1.0) / (m + 1.0);
    let z = s * s;
    let series = horner(z, ARTANH);
    exponent * std::f64::consts::LN_2 + 2.0 * s * (1.0 + z * series)
}

/// Sine and cosine of a random angle: 52 digits choose it between −π/4 and π/4, three more the octant.
#[inline(always)]
fn sine_and_cosine(bits: u64) -> (f64, f64) {
    let x = std::f64::consts::FRAC_PI_2 * (f64::from_bits(bits >> 12 | ONE) - 1.5);
    let z = x * x;
    let sine = (x + x * z * horner(z, SINE)).to_bits();
    let cosine = (1.0 + z * horner(z, COSINE)).to_bits();
    let swapped = (bits & 1).wrapping_neg() & (sine ^ cosine);
    let (sine_sign, cosine_sign) = ((bits & 2) << 62, (bits & 4) << 61);
    (f64::from_bits(sine ^ swapped ^ sine_sign), f64::from_bits(cosine ^ swapped ^ cosine_sign))
}

/// (artanh s / s − 1)/z by z = s², (sin x / x − 1)/z and (cos x − 1)/z by z = x²: through the Chebyshev nodes of the ranges
/// used, within 2.3e-13 of the whole function.
const ARTANH: [f64; 5] =
    [0.3333333333368755, 0.1999999939866635, 0.14285877268456285, 0.11095700383470285, 0.09681327472711147];
const SINE: [f64; 5] = [
    -0.16666666666663885,
    0.008333333331079223,
    -0.00019841266916985966,
    2.755599092956532e-06,
    -2.4805636241834762e-08,
];
const COSINE: [f64; 5] = [
    -0.4999999999996389,
    0.04166666663739607,
    -0.00138888850913992,
    2.4799862190148396e-05,
    -2.7237140418016e-07,
];

#[inline(always)]
fn horner<const N: usize>(z: f64, coefficients: [f64; N]) -> f64 {
    let mut sum = coefficients[N - 1];
    for at in (0..N - 1).rev() {
        sum = coefficients[at] + z * sum;
    }
    sum
}

/// Binary digits of the place inside an octave.
const DIVISION_BITS: u32 = 4;
const DIVISIONS: usize = 1 << DIVISION_BITS;
const N_NODES: usize = 6;
/// Uniform values reach down to 2⁻⁵³, which lies in octave 53 below 1.
const OCTAVES: usize = 53;
/// Biased exponent of the lowest octave, followed by the place inside it.
const FIRST: u64 = (1023 - OCTAVES as u64) << DIVISION_BITS;

/// The inverse of a distribution function that is symmetric about zero, as polynomials of degree five: 16 of them for each halving of the
/// tail's probability, so that the far tail is as exact as the middle.
///
/// The binary exponent and the first four digits of twice the tail's probability are the place in the table, its other
/// digits the place inside the polynomial: no search and no branch.
#[derive(Debug, Clone)]
pub struct SymmetricTable {
    pieces: Vec<[f64; N_NODES]>,
}

impl SymmetricTable {
    /// Tables the distance from zero beyond which a tail of the given probability lies.
    ///
    /// # Units
    /// `quantile` takes the probability of the lower tail, 0 to ½, and answers in any unit; the sign of the answer is ignored.
    ///
    /// # Source
    /// Common practice, no source: interpolation at six Chebyshev nodes a piece. For the normal distribution and Student's t the
    /// error stays below 1e-9 relative.
    ///
    /// # Example
    /// ```
    /// use stillwell_stats::{distributions::normal_quantile, random_block::SymmetricTable};
    /// let table = SymmetricTable::new(normal_quantile);
    /// ```
    pub fn new(quantile: impl Fn(f64) -> f64) -> Self {
        let piece = |at: usize| {
            let (octave, division) = (at / DIVISIONS, at % DIVISIONS);
            let width = f64::from_bits((1023 - OCTAVES as u64 + octave as u64) << 52);
            let from = width * (1.0 + division as f64 / DIVISIONS as f64);
            let step = width / DIVISIONS as f64;
            interpolated(|t| quantile(0.5 * (from + step * t)).abs())
        };
        Self { pieces: (0..OCTAVES * DIVISIONS).map(piece).collect() }
    }

    /// The value that belongs to 64 random bits: 52 choose the distance from zero, the lowest the side.
    #[inline]
    #[expect(clippy::cast_possible_truncation, reason = "the place is below 53 × 16")]
    fn value(&self, bits: u64) -> f64 {
        let doubled_tail = uniform(bits).to_bits();
        let place = (doubled_tail >> (52 - DIVISION_BITS)) - FIRST;
        let inside = doubled_tail << DIVISION_BITS & MANTISSA | ONE;
        let t = f64::from_bits(inside) - 1.0;
        let distance = horner(t, self.pieces[place as usize]);
        f64::from_bits(distance.to_bits() ^ (bits << 63))
    }
}

/// (1 ± cos(kπ/12))/2 for k = 1, 3, 5.
const NODES: [f64; N_NODES] = [
    0.017037086855465844,
    0.14644660940672627,
    0.37059047744873963,
    0.6294095225512604,
    0.8535533905932737,
    0.9829629131445341,
];

/// The polynomial through six values of `f` at the Chebyshev nodes of 0 … 1, in powers of the place (Newton's divided differences).
fn interpolated(f: impl Fn(f64) -> f64) -> [f64; N_NODES] {
    let mut difference = NODES.map(f);
    for order in 1..N_NODES {
        for at in (order..N_NODES).rev() {
            difference[at] = (difference[at] - difference[at - 1]) / (NODES[at] - NODES[at - order]);
        }
    }
    let mut powers = [0.0; N_NODES];
    for (node, divided) in NODES.iter().zip(difference).rev() {
        // Multiply by (t − node) and add the next difference.
        for at in (1..N_NODES).rev() {
            powers[at] = powers[at - 1] - node * powers[at];
        }
        powers[0] = divided - node * powers[0];
    }
    powers
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::distributions::{normal_quantile, student_t_quantile};

    /// Largest distance between table and quantile at `n` places, half of them deep in the tail.
    fn worst(quantile: impl Fn(f64) -> f64) -> f64 {
        let table = SymmetricTable::new(&quantile);
        let mut random = SplitMix64::seed_from_u64(5);
        (0..200_000)
            .map(|at| {
                let mut bits = random.next_u64() & !1;
                if at % 2 == 1 {
                    bits >>= random.next_u64() % 52;
                    bits &= !1;
                }
                let exact = quantile(0.5 * uniform(bits)).abs();
                (table.value(bits) - exact).abs() / exact.max(1.0)
            })
            .fold(0.0, f64::max)
    }

    #[test]
    fn tables_hold_the_inverse_closely_in_the_middle_and_in_the_tail() {
        let normal = worst(normal_quantile);
        let student = worst(|tail| student_t_quantile(tail, 3.0));
        println!("normal {normal:.1e}, Student t with 3 degrees of freedom {student:.1e}");
        assert!(normal < 1e-9 && student < 1e-9);
        let table = SymmetricTable::new(normal_quantile);
        assert!((table.value(0) - 8.29).abs() < 0.01 && table.value(u64::MAX).abs() < 1e-9);
    }

    #[test]
    fn polynomials_stand_for_the_functions() {
        let mut random = SplitMix64::seed_from_u64(9);
        let mut worst = [0.0_f64; 3];
        for at in 0..200_000_u64 {
            let bits = random.next_u64() >> (at % 53);
            let u = uniform(bits);
            let exact = libm::log(u);
            worst[0] = worst[0].max((ln(u) / exact - 1.0).abs());
            let angle_bits = random.next_u64() & !7;
            let x = std::f64::consts::FRAC_PI_2 * (f64::from_bits(angle_bits >> 12 | ONE) - 1.5);
            let (sine, cosine) = sine_and_cosine(angle_bits);
            worst[1] = worst[1].max((sine - libm::sin(x)).abs());
            worst[2] = worst[2].max((cosine - libm::cos(x)).abs());
        }
        println!("ln {:.1e}, sine {:.1e}, cosine {:.1e}", worst[0], worst[1], worst[2]);
        assert!(worst.iter().all(|apart| *apart < 1e-12));
    }

    #[test]
    fn every_processor_gives_the_bits_of_the_plain_code() {
        let mut block = RandomBlock::new(3, 8);
        let mut plain_state = block.state;
        let (mut here, mut plain) = (vec![0.0; 4003], vec![0.0; 4003]);
        block.fill_normal(&mut here);
        fill_normal(&mut plain_state, &mut plain);
        assert_eq!(here, plain);
        block.fill_uniform(&mut here);
        fill(&mut plain_state, &mut plain, uniform);
        assert_eq!(here, plain);
    }

    /// Any octant, either side, near and far: the fractions beyond some distances are those of the normal distribution.
    #[test]
    fn tails_of_ten_million_normal_values_are_right() {
        let mut block = RandomBlock::new(20_260_102, 0);
        let (mut column, mut beyond) = (vec![0.0; 10_000], [[0_u32; 2]; 5]);
        for _ in 0..1000 {
            block.fill_normal(&mut column);
            for z in &column {
                for (distance, counts) in beyond.iter_mut().enumerate() {
                    counts[0] += u32::from(*z > distance as f64);
                    counts[1] += u32::from(*z < -(distance as f64));
                }
            }
        }
        for (distance, counts) in beyond.iter().enumerate() {
            let expected = 1e7 * crate::distributions::normal_cdf(-(distance as f64));
            println!("beyond ±{distance}: {counts:?}, expected {expected:.1}");
            assert!(counts.iter().all(|n| (f64::from(*n) - expected).abs() < 4.5 * expected.sqrt() + 3.0));
        }
    }

    #[test]
    fn a_column_does_not_depend_on_how_many_follow_and_streams_differ() {
        let (mut long, mut short, mut other) = ([0.0; 64], [0.0; 16], [0.0; 64]);
        RandomBlock::new(1, 2).fill_normal(&mut long);
        RandomBlock::new(1, 2).fill_normal(&mut short);
        RandomBlock::new(1, 3).fill_normal(&mut other);
        assert_eq!(&long[..16], &short[..]);
        assert!(long.iter().zip(&other).all(|(a, b)| a.to_bits() != b.to_bits()));
    }

    #[test]
    fn moments_of_a_million_normal_values_are_right() {
        let mut column = vec![0.0; 1_000_000];
        RandomBlock::new(20_260_101, 0).fill_normal(&mut column);
        let moment = |power: i32| {
            let mut sum = 0.0;
            for z in &column {
                sum += (0..power).fold(1.0, |product, _| product * z);
            }
            sum / 1e6
        };
        let [mean, variance, skew, kurtosis] = [1, 2, 3, 4].map(moment);
        println!("{mean} {variance} {skew} {kurtosis}");
        // Four standard errors: sqrt of 1, 2, 15, 96 over a thousand.
        assert!(mean.abs() < 0.004 && (variance - 1.0).abs() < 0.0057);
        assert!(skew.abs() < 0.0155 && (kurtosis - 3.0).abs() < 0.0392);
    }
}

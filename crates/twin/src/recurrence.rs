//! The two sweeps of a tridiagonal solution, `v_i = a_i + f_i v_before`, four nodes at a time.
//!
//! One node after the other, each would wait for the multiplication and addition of the one before it. Within a block of
//! four the sums are made without what comes before; that is added to all four at once, times the product of their factors.
//! The order of operations is fixed, so the bits are too.

const BLOCK: usize = 4;

/// Factors of a sweep towards higher or lower nodes.
#[derive(Debug, Clone)]
pub(crate) struct Recurrence {
    factor: Vec<f64>,
    /// Product of the factors from the start of each node's block to the node.
    carried: Vec<f64>,
}

impl Recurrence {
    /// For [`Recurrence::rise`].
    pub(crate) fn rising(factor: Vec<f64>) -> Self {
        let mut carried = factor.clone();
        for block in carried.chunks_mut(BLOCK) {
            let mut product = 1.0;
            for entry in block {
                product *= *entry;
                *entry = product;
            }
        }
        Self { factor, carried }
    }

    /// For [`Recurrence::fall`].
    pub(crate) fn falling(factor: Vec<f64>) -> Self {
        let mut carried = factor.clone();
        for block in carried.rchunks_mut(BLOCK) {
            let mut product = 1.0;
            for entry in block.iter_mut().rev() {
                product *= *entry;
                *entry = product;
            }
        }
        Self { factor, carried }
    }

    pub(crate) fn len(&self) -> usize {
        self.factor.len()
    }

    /// From the first node to the last, in place; `before` stands before the first. Nodes beyond the factors stay.
    pub(crate) fn rise(&self, values: &mut [f64], before: f64) {
        let (values, _) = values.split_at_mut(self.len());
        let (blocks, rest) = values.as_chunks_mut::<BLOCK>();
        let (factors, factors_rest) = self.factor.as_chunks::<BLOCK>();
        let (carried, carried_rest) = self.carried.as_chunks::<BLOCK>();
        let mut before = before;
        for ((block, factor), carried) in blocks.iter_mut().zip(factors).zip(carried) {
            before = rise_block(block, factor, carried, before);
        }
        rise_block(rest, factors_rest, carried_rest, before);
    }

    /// From the last node to the first, in place; `before` stands beyond the last. Nodes beyond the factors stay.
    pub(crate) fn fall(&self, values: &mut [f64], before: f64) {
        let (values, _) = values.split_at_mut(self.len());
        let (rest, blocks) = values.as_rchunks_mut::<BLOCK>();
        let (factors_rest, factors) = self.factor.as_rchunks::<BLOCK>();
        let (carried_rest, carried) = self.carried.as_rchunks::<BLOCK>();
        let mut before = before;
        for ((block, factor), carried) in blocks.iter_mut().zip(factors).zip(carried).rev() {
            before = fall_block(block, factor, carried, before);
        }
        fall_block(rest, factors_rest, carried_rest, before);
    }
}

#[inline]
fn rise_block(values: &mut [f64], factors: &[f64], carried: &[f64], before: f64) -> f64 {
    let (mut own, mut last) = (0.0, before);
    for ((value, factor), carried) in values.iter_mut().zip(factors).zip(carried) {
        own = *value + factor * own;
        last = own + carried * before;
        *value = last;
    }
    last
}

#[inline]
fn fall_block(values: &mut [f64], factors: &[f64], carried: &[f64], before: f64) -> f64 {
    let (mut own, mut last) = (0.0, before);
    for ((value, factor), carried) in values.iter_mut().zip(factors).zip(carried).rev() {
        own = *value + factor * own;
        last = own + carried * before;
        *value = last;
    }
    last
}

#[cfg(test)]
mod tests {
    use super::Recurrence;

    #[test]
    fn blocks_give_what_node_after_node_gives() {
        for n in 0..14_u32 {
            let list =
                |scale: f64| (0..n).map(|i| scale * libm::sin(f64::from(3 * i + 1))).collect::<Vec<f64>>();
            let (factors, given) = (list(0.9), list(2.0));
            let mut risen = given.clone();
            risen.push(7.0);
            let mut fallen = risen.clone();
            Recurrence::rising(factors.clone()).rise(&mut risen, 0.3);
            Recurrence::falling(factors.clone()).fall(&mut fallen, 0.3);
            let (mut up, mut down) = (0.3, 0.3);
            for i in 0..n as usize {
                up = given[i] + factors[i] * up;
                assert!((risen[i] - up).abs() < 1e-14, "{n} nodes, node {i}");
                let from_end = n as usize - 1 - i;
                down = given[from_end] + factors[from_end] * down;
                assert!((fallen[from_end] - down).abs() < 1e-14, "{n} nodes, node {from_end}");
            }
            assert_eq!([risen.last(), fallen.last()], [Some(&7.0); 2]);
        }
    }
}

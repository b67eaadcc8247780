//! The only source of variety: a generator started from a seed the caller gives (splitmix64).
//! The same seed gives the same choices on every machine and in every release of one data set.

/// A small deterministic generator. Not for secrets.
#[derive(Debug, Clone)]
pub struct Rng(u64);

impl Rng {
    /// Starts from a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Starts from a seed and a purpose, so that two choices made from one seed do not move
    /// together.
    #[must_use]
    pub fn for_purpose(seed: u64, purpose: &str) -> Self {
        let mut hash = 0xcbf2_9ce4_8422_2325_u64;
        for byte in purpose.bytes() {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
        Self(seed ^ hash)
    }

    /// The next number.
    pub fn next_u64(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `bound`; 0 when the bound is 0.
    pub fn below(&mut self, bound: usize) -> usize {
        let wide = u128::from(self.next_u64()) * bound as u128;
        usize::try_from(wide >> 64).unwrap_or(0)
    }

    /// One of a list, by weight; `None` when the list is empty or weighs nothing.
    pub fn weighted<'a, T>(&mut self, list: &'a [(T, u32)]) -> Option<&'a T> {
        let total: u64 = list.iter().map(|(_, w)| u64::from(*w)).sum();
        let mut at = self.below(usize::try_from(total).ok()?) as u64;
        list.iter()
            .find(|(_, w)| {
                let here = at < u64::from(*w);
                at = at.saturating_sub(u64::from(*w));
                here
            })
            .map(|(item, _)| item)
    }

    /// Puts a list in a random order.
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for i in (1..list.len()).rev() {
            list.swap(i, self.below(i + 1));
        }
    }

    /// Takes up to `count` items, keeping weighty ones likelier: items come in order of
    /// `random ^ (1 / weight)` (weighted sampling without replacement).
    pub fn sample<T>(&mut self, items: Vec<(T, u32)>, count: usize) -> Vec<T> {
        let mut keyed: Vec<(f64, T)> = items
            .into_iter()
            .filter(|(_, w)| *w > 0)
            .map(|(item, weight)| {
                let unit = (self.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
                (unit.max(1e-12).ln() / f64::from(weight), item)
            })
            .collect();
        keyed.sort_by(|a, b| b.0.total_cmp(&a.0));
        keyed.into_iter().take(count).map(|(_, item)| item).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_repeats_and_bounds_hold() {
        let (mut a, mut b) = (Rng::new(7), Rng::new(7));
        for bound in 1..200 {
            let x = a.below(bound);
            assert_eq!(x, b.below(bound));
            assert!(x < bound);
        }
        assert_eq!(Rng::new(1).below(0), 0);
        assert_eq!(Rng::new(1).weighted::<u8>(&[]), None);
        assert_eq!(Rng::new(1).weighted(&[('x', 0), ('y', 3)]), Some(&'y'));
    }
}

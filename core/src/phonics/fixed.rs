//! Hash maps with a fixed hasher: quicker for small keys, and without the random state of the
//! standard ones, so nothing here differs from run to run.

use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasherDefault, Hasher};

/// A map with the fixed hasher.
pub type Map<K, V> = HashMap<K, V, BuildHasherDefault<Fnv>>;
/// A set with the fixed hasher.
pub type Set<K> = HashSet<K, BuildHasherDefault<Fnv>>;

/// The Fowler–Noll–Vo hash, 64 bits, variant 1a.
#[derive(Debug, Clone, Copy)]
pub struct Fnv(u64);

impl Default for Fnv {
    fn default() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }
}

impl Hasher for Fnv {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
}

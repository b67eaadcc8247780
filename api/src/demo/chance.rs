//! Chance that is the same for the same seed: every draw follows from the seed and from
//! what it is drawn for, so neither the order of the work nor any id plays a part.

/// The chance of one demonstration.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chance {
    seed: u64,
}

/// Words of the demonstration's passwords: plain and easy to type.
const WORDS: [&str; 32] = [
    "amber", "basket", "button", "candle", "carpet", "copper", "dipper", "feather", "garden", "ginger",
    "hamlet", "jacket", "kettle", "ladder", "lantern", "marble", "meadow", "mitten", "needle", "orchard",
    "pebble", "pencil", "pocket", "ribbon", "saddle", "silver", "tassel", "thimble", "tunnel", "velvet",
    "walnut", "willow",
];

impl Chance {
    pub(super) const fn new(seed: u64) -> Self {
        Self { seed }
    }

    /// FNV-1a over the parts, then the finaliser of splitmix64.
    fn draw(self, parts: &[&str]) -> u64 {
        let mut hash = 0xcbf2_9ce4_8422_2325 ^ self.seed.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        for part in parts {
            for byte in part.bytes().chain([0]) {
                hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
            }
        }
        let mut z = hash.wrapping_add(0x9e37_79b9_7f4a_7c15);
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number from 0 up to but not including 1.
    pub(super) fn fraction(self, parts: &[&str]) -> f64 {
        f64::from(u32::try_from(self.draw(parts) >> 32).unwrap_or(0)) / (f64::from(u32::MAX) + 1.0)
    }

    /// Whether something of this probability happens.
    pub(super) fn happens(self, probability: f64, parts: &[&str]) -> bool {
        self.fraction(parts) < probability
    }

    /// One of several; none of none.
    pub(super) fn pick<'a, T>(self, from: &'a [T], parts: &[&str]) -> Option<&'a T> {
        let count = u64::try_from(from.len()).ok()?;
        from.get(usize::try_from(self.draw(parts).checked_rem(count)?).ok()?)
    }

    /// A demonstration password: long enough for the server, easy to type.
    pub(super) fn password(self, key: &str) -> String {
        let word = |n: &str| self.pick(&WORDS, &["password", key, n]).copied().unwrap_or("plumb");
        format!("{}-{}-{}", word("1"), word("2"), word("3"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_draw_follows_from_seed_and_purpose_alone() {
        let one = Chance::new(1);
        assert_eq!(one.draw(&["away", "M2459"]), Chance::new(1).draw(&["away", "M2459"]));
        assert_ne!(one.draw(&["away", "M2459"]), Chance::new(2).draw(&["away", "M2459"]));
        assert_ne!(one.draw(&["ab", "c"]), one.draw(&["a", "bc"]));
        // The same on every machine.
        assert_eq!(one.password("head"), Chance::new(1).password("head"));
    }

    #[test]
    fn fractions_are_spread_evenly() {
        for seed in [0, 1, u64::MAX] {
            let chance = Chance::new(seed);
            let hits = (0..10_000).filter(|n| chance.happens(0.05, &["x", &n.to_string()])).count();
            assert!((400..600).contains(&hits), "{hits} with seed {seed}");
        }
    }

    #[test]
    fn picking_and_passwords() {
        let chance = Chance::new(7);
        assert_eq!(chance.pick::<u8>(&[], &["x"]), None);
        assert!(chance.pick(&[1, 2, 3], &["x"]).is_some());
        assert!((0..200).all(|n| (12..=200).contains(&chance.password(&n.to_string()).chars().count())));
    }
}

//! How a figure that is told is told, to whom.

use serde::{Deserialize, Serialize};

use super::bounds::Range;
use crate::rules::ReleaseRule;

/// A percentage as it is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PercentTold))]
pub struct Percent {
    /// Whole per cent, half up.
    pub percent: u8,
    /// Exact, or only above or below that.
    pub is: PercentIs,
}

crate::vocabulary! {
    /// How a percentage stands to what it is of.
    pub enum PercentIs {
        /// This, rounded.
        About = "about",
        /// More than this.
        Above = "above",
        /// Less than this.
        Below = "below",
    }
}

impl std::fmt::Display for Percent {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let sign = match self.is {
            PercentIs::About => "",
            PercentIs::Above => ">",
            PercentIs::Below => "<",
        };
        write!(f, "{sign}{}", self.percent)
    }
}

/// Whole per cent, half up; nothing of nobody.
#[must_use]
pub fn percent(met: u32, pupils: u32) -> Option<u8> {
    if pupils == 0 {
        return None;
    }
    let (met, pupils) = (u64::from(met), u64::from(pupils));
    u8::try_from((200 * met + pupils) / (2 * pupils)).ok()
}

/// As told to these readers.
#[must_use]
pub fn told(percent: u8, rule: &ReleaseRule) -> Percent {
    match rule.extreme_percent {
        Some(extreme) if percent > 100 - extreme => Percent { percent: 100 - extreme, is: PercentIs::Above },
        Some(extreme) if percent < extreme => Percent { percent: extreme, is: PercentIs::Below },
        _ => Percent { percent, is: PercentIs::About },
    }
}

/// How many there are, as told to these readers.
#[must_use]
pub fn pupils_told(pupils: u32, rule: &ReleaseRule) -> u32 {
    match rule.round_group_to {
        Some(step) if step > 0 => (pupils + step / 2) / step * step,
        _ => pupils,
    }
}

/// How many can have met a measure, given what is told of it and the rule, which is public.
#[must_use]
pub fn could_be(shown: Option<u8>, pupils: u32, rule: &ReleaseRule) -> Range {
    let Some(shown) = shown else { return (0, 0) };
    let shown = told(shown, rule);
    let (first, last) = (rule.minimum_met.min(pupils), pupils.saturating_sub(rule.minimum_not_met));
    let fits = |met: &u32| percent(*met, pupils).is_some_and(|one| told(one, rule) == shown);
    let mut all = (first..=last.max(first)).filter(fits);
    let low = all.next();
    let high = all.next_back().or(low);
    low.zip(high).unwrap_or((0, pupils))
}

/// The 95 % interval of a proportion (E. B. Wilson, Journal of the American Statistical Association 22, 1927), in
/// tenths of a per cent, half up. For internal and closed readers only: it gives back both numbers.
#[must_use]
pub fn wilson(met: u32, pupils: u32) -> Option<(u16, u16)> {
    const Z: f64 = 1.959_963_984_540_054;
    if pupils == 0 {
        return None;
    }
    let (n, p) = (f64::from(pupils), f64::from(met) / f64::from(pupils));
    let centre = p + Z * Z / (2.0 * n);
    let spread = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + Z * Z / n;
    let tenths = |value: f64| {
        let rounded = (value.clamp(0.0, 1.0) * 1000.0 + 0.5).floor();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 1000")]
        let whole = rounded as u16;
        whole
    };
    Some((tenths((centre - spread) / scale), tenths((centre + spread) / scale)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::pack;

    /// The vectors of the facts, in per cent.
    #[test]
    fn intervals_are_those_of_the_facts() {
        let vectors = [
            ((24, 30), (627, 905)),
            ((27, 30), (744, 965)),
            ((30, 30), (886, 1000)),
            ((48, 60), (682, 882)),
            ((72, 90), (706, 870)),
            ((6, 8), (409, 929)),
            ((4, 5), (376, 964)),
            ((0, 5), (0, 434)),
            ((5, 5), (566, 1000)),
        ];
        for ((met, pupils), interval) in vectors {
            assert_eq!(wilson(met, pupils), Some(interval), "{met} of {pupils}");
        }
        assert_eq!(wilson(0, 0), None);
    }

    #[test]
    fn percentages_round_half_up_and_nobody_has_none() {
        for ((met, pupils), whole) in
            [((1, 8), 13), ((1, 200), 1), ((1, 3), 33), ((2, 3), 67), ((30, 30), 100)]
        {
            assert_eq!(percent(met, pupils), Some(whole), "{met} of {pupils}");
        }
        assert_eq!(percent(0, 0), None);
    }

    #[test]
    fn the_public_is_told_no_extreme_and_no_exact_number() {
        let rule = &pack("england").unwrap().disclosure.published;
        let as_told = |met, pupils| told(percent(met, pupils).unwrap(), rule).to_string();
        assert_eq!([as_told(97, 100), as_told(96, 100), as_told(95, 100)], [">95", ">95", "95"]);
        assert_eq!([as_told(4, 100), as_told(5, 100)], ["<5", "5"]);
        let numbers = [(31, 30), (32, 30), (33, 35), (12, 10), (13, 15)];
        for (pupils, shown) in numbers {
            assert_eq!(pupils_told(pupils, rule), shown, "{pupils}");
        }
        assert_eq!(could_be(Some(97), 100, rule), (96, 97), "three at least did not");
        assert_eq!(could_be(Some(80), 30, rule), (24, 24));
        let closed = &pack("england").unwrap().disclosure.closed;
        assert_eq!((told(97, closed).to_string().as_str(), pupils_told(31, closed)), ("97", 31));
    }
}

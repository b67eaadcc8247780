//! The estimate beside the rule for secure, and what is asked next.

use serde::Deserialize;

/// How likely it is that a pupil knows a GPC, worked out from lessons and answers. No study gives these values for
/// single correspondences. All are parts of 1.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct EstimateRule {
    /// Known before anything of it was taught here.
    pub known_before: Bounded,
    /// Of those who do not know it, the part that does after one more lesson about it.
    pub learned_by_lesson: Bounded,
    /// Known, and not answered right all the same.
    pub slip: Bounded,
    /// Not known, and answered right all the same.
    pub guess: Bounded,
    /// The same where it was one of several shown.
    pub guess_choosing: Bounded,
    /// Forgotten in one day without teaching or asking, before it was ever answered right.
    pub forgotten_per_day: Bounded,
    /// By which part of it less is forgotten in a day, after each day running on which it was right.
    pub held_by_right_day: Bounded,
    /// When and how a school's own answers change these values.
    pub fit: FitRule,
    /// To be shown with an estimate.
    pub caution: String,
}

impl Eq for EstimateRule {}

/// A value, and between what a school's own answers may move it.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
pub struct Bounded {
    /// Where there are too few answers, and towards which it is drawn where there are enough.
    pub value: f64,
    /// At least.
    pub least: f64,
    /// At most.
    pub most: f64,
}

/// When and how the values are fitted to a school's own checks.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
pub struct FitRule {
    /// From how many pupils on.
    pub pupils_least: usize,
    /// From how many answers on.
    pub answers_least: usize,
    /// How many answers are looked at, at most: those of every second, third ... pupil beyond it.
    pub answers_most: usize,
    /// How far a value is expected to lie from the one given, as a standard deviation in log-odds.
    pub spread: f64,
}

/// What is asked next.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct AskingRule {
    /// Minutes there are, unless told.
    pub minutes: u16,
    /// Seconds one item takes.
    pub seconds_per_item: u16,
    /// Minutes of a check after a long break, for each pupil.
    pub re_check_minutes: u16,
    /// From how many days without lessons on it is a holiday.
    pub holiday_days: u32,
    /// To be shown with it.
    pub caution: String,
}

impl AskingRule {
    /// How many items fit into some minutes.
    #[must_use]
    pub fn items_in(&self, minutes: u16) -> usize {
        usize::from(minutes) * 60 / usize::from(self.seconds_per_item.max(1))
    }
}

#[cfg(test)]
mod tests {
    use crate::rules::{ids, pack};

    #[test]
    fn every_pack_estimates_within_bounds() {
        for id in ids() {
            let rule = &pack(id).unwrap().attainment;
            let estimate = &rule.estimate;
            let all = [
                estimate.known_before,
                estimate.learned_by_lesson,
                estimate.slip,
                estimate.guess,
                estimate.guess_choosing,
                estimate.forgotten_per_day,
                estimate.held_by_right_day,
            ];
            for one in all {
                assert!(0.0 < one.least && one.least < one.value, "{id}");
                assert!(one.value < one.most && one.most < 1.0, "{id}");
            }
            // A right answer never speaks against knowing it.
            assert!(estimate.slip.most + estimate.guess.most < 1.0, "{id}");
            assert!(estimate.slip.most + estimate.guess_choosing.most < 1.0, "{id}");
            assert!(estimate.guess_choosing.value > estimate.guess.value, "{id}");
            assert!(estimate.fit.spread > 0.0 && estimate.fit.answers_least <= estimate.fit.answers_most);
            let asking = &rule.asking;
            assert!(asking.seconds_per_item > 0 && asking.items_in(asking.re_check_minutes) > 0, "{id}");
            assert!(asking.holiday_days > 4, "{id}: a long weekend is no holiday");
            assert!(!estimate.caution.is_empty() && !asking.caution.is_empty() && !rule.caution.is_empty());
        }
    }

    #[test]
    fn minutes_hold_whole_items_only() {
        let asking = &pack("england").unwrap().attainment.asking;
        // 8 seconds each: 180 hold 22, 600 hold 75.
        assert_eq!((asking.items_in(3), asking.items_in(10), asking.items_in(0)), (22, 75, 0));
    }
}

//! What pupils know, as far as checks tell.

mod asking;
mod estimate;
mod fit;
mod gaps;
mod handover;
mod learner;
mod mastery;
mod report;
mod retention;
mod standing;

pub use asking::{Candidate, Next, next_items};
pub use estimate::{Estimator, History, Parameters};
pub use fit::{Fitted, enough, fit};
pub use gaps::{ItemGaps, gaps};
pub use handover::{CheckAge, HandedOn, handed_on};
pub use learner::{Learner, PracticeGap, PupilRecords, learner};
pub use mastery::{Answer, Progress, State, progress, state};
pub use report::{
    Figures, Pairs, PupilFacts, Report, Row, SecureBasis, VersionUsed, Words, attainment_report,
};
pub use retention::{Holiday, Kept, back_on, holidays, holidays_until, retention};
pub use standing::{Apart, ItemStanding, Standing, standings};

/// `part` of `whole` as a whole percentage, halves rounded up; none of nobody is no percentage.
pub fn percent(part: u64, whole: u64) -> Option<u8> {
    let doubled = part.checked_mul(200)?.checked_add(whole)?.checked_div(whole.checked_mul(2)?)?;
    u8::try_from(doubled).ok()
}

#[cfg(test)]
mod tests {
    use super::percent;

    #[test]
    fn percentages_round_half_up_and_need_somebody() {
        for (part, whole, expected) in [
            (0, 0, None),
            (0, 7, Some(0)),
            (7, 7, Some(100)),
            (1, 8, Some(13)),
            (3, 8, Some(38)),
            (1, 3, Some(33)),
            (2, 3, Some(67)),
            (1, 200, Some(1)),
        ] {
            assert_eq!(percent(part, whole), expected, "{part} of {whole}");
        }
    }
}

//! Second marking of a sample: who is drawn, and how far two markers agree about a check and its items.
//! Nothing here counts by adult.

use std::collections::BTreeMap;

use serde::Serialize;

use super::Outcome;
use crate::{
    id::{PupilId, StaffId},
    phonics::rng::Rng,
    rules::SecondMarkingRule,
};

/// A pupil who may be drawn, with the adults who may mark a second time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Candidate {
    /// The pupil.
    pub pupil: PupilId,
    /// Adults other than the first marker, in the order asked for.
    pub adults: Vec<StaffId>,
}

/// How large a sample is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// So many pupils.
    Pupils(usize),
    /// This part of those who may be drawn, in per cent, rounded up.
    Percent(u8),
}

/// A sample.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawn {
    /// Who is marked a second time, and by whom, in the order drawn.
    pub pupils: Vec<(PupilId, StaffId)>,
    /// Pupils for whom none of the adults asked for may mark a second time. They were not drawn from.
    pub without_adult: usize,
}

/// Draws a sample: the same candidates, size and seed always give the same. The work is spread evenly over the
/// adults.
pub fn draw(mut candidates: Vec<Candidate>, size: Size, seed: u64) -> Drawn {
    let all = candidates.len();
    candidates.retain(|one| !one.adults.is_empty());
    let without_adult = all - candidates.len();
    candidates.sort_by_key(|one| one.pupil);
    let wanted = match size {
        Size::Pupils(pupils) => pupils,
        Size::Percent(part) => (candidates.len() * usize::from(part)).div_ceil(100),
    };
    Rng::for_purpose(seed, "second marking").shuffle(&mut candidates);
    let mut has: BTreeMap<StaffId, usize> = BTreeMap::new();
    let mut pupils = Vec::new();
    for one in candidates.into_iter().take(wanted) {
        let least = one.adults.iter().min_by_key(|adult| has.get(*adult).copied().unwrap_or(0));
        if let Some(adult) = least.copied() {
            *has.entry(adult).or_default() += 1;
            pupils.push((one.pupil, adult));
        }
    }
    Drawn { pupils, without_adult }
}

crate::vocabulary! {
    /// What a second mark rests on.
    pub enum Basis as "SecondMarkBasis" {
        /// Heard beside the pupil, while the first adult asked.
        Beside = "beside",
        /// Heard or seen later, as the school recorded it.
        Recording = "recording",
        /// What the pupil wrote.
        Written = "written",
    }
}

crate::vocabulary! {
    /// Why a figure of agreement is not given.
    pub enum NoFigure {
        /// No item was marked by both.
        NothingMarked = "nothing_marked",
        /// All marks of both are one value: nothing is left to agree about by more than chance.
        OneValue = "one_value",
        /// Fewer items were marked twice than an interval is believed from.
        TooFew = "too_few",
        /// The two agree throughout: the method knows no interval but one of no width.
        AllAgree = "all_agree",
    }
}

/// How far two markers agree. Figures to three places.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Agreement {
    /// Items marked by both, of all pupils.
    pub marked: usize,
    /// Of these, those marked alike.
    pub agreed: usize,
    /// The part marked alike, in per cent; null of nothing.
    pub percent: Option<f64>,
    /// Cohen's kappa: agreement beyond what chance would give, 1 at most; null where it is undefined.
    pub kappa: Option<f64>,
    /// Why there is no kappa.
    pub no_kappa: Option<NoFigure>,
    /// The lower end of its 95 per cent interval.
    pub kappa_from: Option<f64>,
    /// The upper end.
    pub kappa_to: Option<f64>,
    /// Why there is no interval.
    pub no_interval: Option<NoFigure>,
}

/// The quantile of the standard normal distribution that 95 per cent lie within on both sides.
const WITHIN_95: f64 = 1.96;

/// The agreement of pairs of marks, the first marker's and the second's. What one of them did not ask is no pair.
///
/// Kappa is Cohen's (1960) over the outcomes as given, its interval by the large-sample standard error of Fleiss,
/// Cohen and Everitt (1969).
pub fn agreement(pairs: &[(Outcome, Outcome)], rule: &SecondMarkingRule) -> Agreement {
    let asked = |pair: &&(Outcome, Outcome)| pair.0 != Outcome::NotOffered && pair.1 != Outcome::NotOffered;
    let pairs: Vec<(Outcome, Outcome)> = pairs.iter().filter(asked).copied().collect();
    let marked = pairs.len();
    let agreed = pairs.iter().filter(|(first, second)| first == second).count();
    let percent = (marked > 0).then(|| rounded(100.0 * agreed as f64 / marked as f64));
    let found = Table::new(&pairs).map(|table| (table.kappa(), table.standard_error()));
    let (kappa, no_kappa) = match found {
        Ok((kappa, _)) => (Some(rounded(kappa)), None),
        Err(why) => (None, Some(why)),
    };
    let interval = match found {
        Err(why) => Err(why),
        Ok(_) if marked < rule.interval_from => Err(NoFigure::TooFew),
        Ok(_) if agreed == marked => Err(NoFigure::AllAgree),
        Ok((kappa, error)) => {
            let end = |sign: f64| rounded((kappa + sign * WITHIN_95 * error).clamp(-1.0, 1.0));
            Ok((end(-1.0), end(1.0)))
        }
    };
    Agreement {
        marked,
        agreed,
        percent,
        kappa,
        no_kappa,
        kappa_from: interval.ok().map(|(from, _)| from),
        kappa_to: interval.ok().map(|(_, to)| to),
        no_interval: interval.err(),
    }
}

fn rounded(figure: f64) -> f64 {
    (figure * 1000.0).round() / 1000.0
}

/// Outcomes that a marked item can have.
const OUTCOMES: [Outcome; 3] = [Outcome::Right, Outcome::Wrong, Outcome::NoResponse];

/// The part of all pairs in each cell: the first marker's outcome by the second's.
struct Table {
    cells: [[f64; 3]; 3],
    pairs: f64,
}

impl Table {
    fn new(pairs: &[(Outcome, Outcome)]) -> Result<Self, NoFigure> {
        if pairs.is_empty() {
            return Err(NoFigure::NothingMarked);
        }
        if pairs.iter().all(|(first, second)| (*first, *second) == (pairs[0].0, pairs[0].0)) {
            return Err(NoFigure::OneValue);
        }
        let all = pairs.len() as f64;
        let part = |pair| pairs.iter().filter(|one| **one == pair).count() as f64 / all;
        Ok(Self { cells: OUTCOMES.map(|first| OUTCOMES.map(|second| part((first, second)))), pairs: all })
    }

    /// The first marker's part of an outcome, and the second's.
    fn first(&self, of: usize) -> f64 {
        self.cells[of].iter().sum()
    }

    fn second(&self, of: usize) -> f64 {
        self.cells.iter().map(|row| row[of]).sum()
    }

    /// The part alike, and the part that chance would make alike.
    fn alike(&self) -> (f64, f64) {
        let sum = |of: &dyn Fn(usize) -> f64| (0..3).map(of).sum::<f64>();
        (sum(&|i| self.cells[i][i]), sum(&|i| self.first(i) * self.second(i)))
    }

    fn kappa(&self) -> f64 {
        let (seen, chance) = self.alike();
        (seen - chance) / (1.0 - chance)
    }

    fn standard_error(&self) -> f64 {
        let ((_, chance), kappa) = (self.alike(), self.kappa());
        let beyond = 1.0 - kappa;
        let mut variance = -(kappa - chance * beyond).powi(2);
        for i in 0..3 {
            for j in 0..3 {
                variance += self.cells[i][j]
                    * if i == j {
                        (1.0 - (self.first(i) + self.second(i)) * beyond).powi(2)
                    } else {
                        beyond.powi(2) * (self.second(i) + self.first(j)).powi(2)
                    };
            }
        }
        variance.max(0.0).sqrt() / ((1.0 - chance) * self.pairs.sqrt())
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use Outcome::{NoResponse, NotOffered, Right, Wrong};

    fn rule() -> SecondMarkingRule {
        SecondMarkingRule { pupils_most: 60, interval_from: 30, cautions: Vec::new() }
    }

    fn pairs(of: &[(Outcome, Outcome, usize)]) -> Vec<(Outcome, Outcome)> {
        of.iter().flat_map(|(first, second, times)| std::iter::repeat_n((*first, *second), *times)).collect()
    }

    #[test]
    fn kappa_and_its_interval_are_those_worked_by_hand() {
        // 50 items: 20 both right, 5 right and wrong, 10 wrong and right, 15 both wrong.
        // Alike 35/50 = 0.7; by chance 25/50 x 30/50 + 25/50 x 20/50 = 0.5; kappa = 0.2/0.5 = 0.4.
        // A = 0.4 (1 - 1.1 x 0.6)^2 + 0.3 (1 - 0.9 x 0.6)^2 = 0.04624 + 0.06348 = 0.10972.
        // B = 0.36 (0.1 x 1.1^2 + 0.2 x 0.9^2) = 0.36 x 0.283 = 0.10188. C = (0.4 - 0.5 x 0.6)^2 = 0.01.
        // Standard error = sqrt(0.2016) / (0.5 sqrt 50) = 0.126996; 1.96 of it 0.248912.
        let got = agreement(
            &pairs(&[(Right, Right, 20), (Right, Wrong, 5), (Wrong, Right, 10), (Wrong, Wrong, 15)]),
            &rule(),
        );
        assert_eq!((got.marked, got.agreed, got.percent), (50, 35, Some(70.0)));
        assert_eq!((got.kappa, got.no_kappa), (Some(0.4), None));
        assert_eq!((got.kappa_from, got.kappa_to, got.no_interval), (Some(0.151), Some(0.649), None));
    }

    #[test]
    fn three_outcomes_are_three() {
        // 10 items: 4 both right, 2 both wrong, 1 both no response, 1 wrong and no response, 2 right and wrong.
        // First: right 6, wrong 3, none 1. Second: right 4, wrong 4, none 2. Alike 0.7;
        // by chance 0.24 + 0.12 + 0.02 = 0.38; kappa = 0.32/0.62 = 0.516.
        let of = [
            (Right, Right, 4),
            (Wrong, Wrong, 2),
            (NoResponse, NoResponse, 1),
            (Wrong, NoResponse, 1),
            (Right, Wrong, 2),
        ];
        let got = agreement(&pairs(&of), &rule());
        assert_eq!((got.marked, got.agreed, got.kappa), (10, 7, Some(0.516)));
        // Too few for an interval, and that is said.
        assert_eq!((got.kappa_from, got.kappa_to, got.no_interval), (None, None, Some(NoFigure::TooFew)));
    }

    #[test]
    fn where_there_is_no_figure_it_says_why() {
        let nothing = agreement(&pairs(&[(NotOffered, Right, 3), (Right, NotOffered, 2)]), &rule());
        assert_eq!((nothing.marked, nothing.percent), (0, None));
        assert_eq!((nothing.kappa, nothing.no_kappa), (None, Some(NoFigure::NothingMarked)));
        // All right by both: neither NaN nor 1.
        let alike = agreement(&pairs(&[(Right, Right, 40)]), &rule());
        assert_eq!((alike.percent, alike.kappa), (Some(100.0), None));
        assert_eq!((alike.no_kappa, alike.no_interval), (Some(NoFigure::OneValue), Some(NoFigure::OneValue)));
        // One of them all right, the other not: no more than chance, which is a figure.
        let chance = agreement(&pairs(&[(Right, Right, 30), (Right, Wrong, 10)]), &rule());
        assert_eq!((chance.percent, chance.kappa), (Some(75.0), Some(0.0)));
        // The two are of one value each, and not of the same: everything is known to differ.
        let apart = agreement(&pairs(&[(Right, Wrong, 40)]), &rule());
        assert_eq!((apart.percent, apart.kappa), (Some(0.0), Some(0.0)));
        // All alike with both values seen: kappa 1, and no interval of no width.
        let all = agreement(&pairs(&[(Right, Right, 30), (Wrong, Wrong, 10)]), &rule());
        assert_eq!((all.kappa, all.kappa_from, all.no_interval), (Some(1.0), None, Some(NoFigure::AllAgree)));
    }

    fn candidates(count: u128, adults: &[u128]) -> Vec<Candidate> {
        let adults: Vec<StaffId> = adults.iter().map(|n| StaffId::from_uuid(Uuid::from_u128(*n))).collect();
        (1..=count)
            .map(|n| Candidate { pupil: PupilId::from_uuid(Uuid::from_u128(n)), adults: adults.clone() })
            .collect()
    }

    #[test]
    fn a_sample_is_the_same_for_one_seed_and_spread_over_the_adults() {
        let one = draw(candidates(30, &[7, 8]), Size::Pupils(6), 11);
        let mut turned = candidates(30, &[7, 8]);
        turned.reverse();
        assert_eq!(draw(turned, Size::Pupils(6), 11), one, "whatever order they come in");
        assert_ne!(draw(candidates(30, &[7, 8]), Size::Pupils(6), 12), one);
        let by = |n| one.pupils.iter().filter(|(_, adult)| adult.uuid().as_u128() == n).count();
        assert_eq!((one.pupils.len(), by(7), by(8)), (6, 3, 3));
        // A tenth of 31, rounded up.
        assert_eq!(draw(candidates(31, &[7]), Size::Percent(10), 1).pupils.len(), 4);
        assert_eq!(draw(candidates(3, &[7]), Size::Pupils(9), 1).pupils.len(), 3);
        let nobody = draw(candidates(3, &[]), Size::Pupils(2), 1);
        assert_eq!((nobody.pupils.len(), nobody.without_adult), (0, 3));
    }
}

//! Simulated schools of pupils of whom is known what they know, and how well it is told from their answers.
#![allow(dead_code)] // Each that uses it uses a part of it.

use std::collections::BTreeSet;

use plumbline_core::{
    attainment::{Answer, Estimator, Fitted, History, Parameters, State, fit, state},
    check::Outcome,
    phonics::rng::Rng,
    rules::{AttainmentRule, pack},
    time::Date,
};

/// What pupils are like, in truth.
#[derive(Clone, Copy, Debug)]
pub struct Truth {
    /// As shown.
    pub name: &'static str,
    /// How they learn, answer and forget.
    pub values: Parameters,
    /// How far pupils differ in learning and slips, as a standard deviation in log-odds.
    pub differ: f64,
    /// Whether they forget by a power of the days, much at first and then little, instead of the same part each day.
    pub by_power: bool,
    /// Of those who do not know it, the part that learns it by being asked.
    pub asking_teaches: f64,
    /// One in so many pupils answers by choosing.
    pub chooses_one_in: usize,
}

impl Truth {
    /// Whether the estimate's model holds, so that it is calibrated with the true values but for chance.
    pub fn fits(&self) -> bool {
        self.differ == 0.0 && !self.by_power && self.asking_teaches == 0.0
    }
}

/// The England pack's rule.
pub fn rule() -> &'static AttainmentRule {
    &pack("england").unwrap_or_else(|error| panic!("{error}")).attainment
}

/// What pupils may be like: six as the model has it, three not.
pub fn truths() -> Vec<Truth> {
    let values = Parameters::of(&rule().estimate);
    let plain = Truth {
        name: "as the rule pack has it",
        values,
        differ: 0.0,
        by_power: false,
        asking_teaches: 0.0,
        chooses_one_in: usize::MAX,
    };
    let with = |name, values| Truth { name, values, ..plain };
    vec![
        plain,
        with("many slips", Parameters { slip: 0.22, ..values }),
        with("many guesses", Parameters { guess: 0.22, ..values }),
        with("forgets fast", Parameters { forgotten_per_day: 0.04, ..values }),
        with("forgets little", Parameters { forgotten_per_day: 0.002, ..values }),
        Truth { name: "one in three chooses", chooses_one_in: 3, ..plain },
        Truth { name: "pupils differ", differ: 1.0, ..plain },
        Truth { name: "forgets by a power", by_power: true, ..plain },
        Truth { name: "asking teaches", asking_teaches: 0.3, ..plain },
    ]
}

/// One pupil and one GPC, up to a day of its own.
pub struct Pair {
    /// The days it was taught on.
    pub taught: BTreeSet<Date>,
    /// The answers.
    pub answers: Vec<Answer>,
    /// The day.
    pub on: Date,
    /// Whether the pupil knows it that day.
    pub known: bool,
}

/// Weeks of the school year without lessons, counted from 0.
const HOLIDAYS: [u64; 8] = [8, 15, 16, 23, 29, 30, 36, 37];
const WEEKS: u64 = 42;
/// The last week of each half term.
const CHECKED: [u64; 6] = [7, 14, 22, 28, 35, 41];

fn teaching_days() -> Vec<(u64, Date)> {
    let first = Date::from_ymd_opt(2025, 9, 1).unwrap_or_default();
    (0..WEEKS * 7)
        .filter(|n| n % 7 < 5 && !HOLIDAYS.contains(&(n / 7)))
        .map(|n| (n / 7, first + chrono::Days::new(n)))
        .collect()
}

fn chance(rng: &mut Rng) -> f64 {
    (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
}

/// About normal: twelve chances less their mean.
fn normal(rng: &mut Rng) -> f64 {
    (0..12).map(|_| chance(rng)).sum::<f64>() - 6.0
}

fn shifted(part: f64, by: f64) -> f64 {
    1.0 / (1.0 + (-((part / (1.0 - part)).ln() + by)).exp())
}

/// A year of a school: one list of pairs a pupil. A GPC is taught every second teaching day and nine in ten pupils
/// are there; most who miss it catch up, some meet it again. In the last week of each half term half of what was
/// taught is asked, and each week some of what was taught last.
pub fn school(truth: &Truth, pupils: usize, gpcs: usize, seed: u64) -> Vec<Vec<Pair>> {
    let days = teaching_days();
    let mut rng = Rng::for_purpose(seed, truth.name);
    let mut one = |n: usize| {
        let rng = &mut rng;
        let by = truth.differ * normal(rng);
        let values = Parameters {
            learned_by_lesson: shifted(truth.values.learned_by_lesson, by),
            slip: shifted(truth.values.slip, -by),
            ..truth.values
        };
        let by_choice = n.is_multiple_of(truth.chooses_one_in);
        (0..gpcs).map(|gpc| pair(truth, &values, by_choice, gpc, &days, rng)).collect()
    };
    (1..=pupils).map(&mut one).collect()
}

fn pair(
    truth: &Truth,
    values: &Parameters,
    by_choice: bool,
    gpc: usize,
    days: &[(u64, Date)],
    rng: &mut Rng,
) -> Pair {
    let first = (gpc * 2) % days.len();
    let mut taught: BTreeSet<Date> = BTreeSet::new();
    if chance(rng) < 0.9 {
        taught.insert(days[first].1);
    } else if chance(rng) < 0.7 {
        taught.insert(days[(first + 4).min(days.len() - 1)].1);
    }
    if chance(rng) < 0.3 {
        taught.insert(days[(first + 10).min(days.len() - 1)].1);
    }
    let mut weeks: BTreeSet<u64> = BTreeSet::new();
    let mut asked: BTreeSet<Date> = BTreeSet::new();
    for (n, (week, on)) in days.iter().enumerate().skip(first) {
        let often = if CHECKED.contains(week) {
            0.5
        } else if n < first + 15 {
            0.2
        } else {
            0.02
        };
        if weeks.insert(*week) && chance(rng) < often {
            asked.insert(*on);
        }
    }
    let on = days[first + rng.below(days.len() - first)].1;
    let mut known = chance(rng) < values.known_before;
    let (mut last, mut held): (Option<Date>, i32) = (None, 0);
    let mut answers = Vec::new();
    let forget = |known: bool, to: Date, last: Option<Date>, held: i32, rng: &mut Rng| {
        let after = last.map_or(0, |last| to.signed_duration_since(last).num_days()) as f64;
        let each = values.forgotten_per_day * (1.0 - values.held_by_right_day).powi(held);
        let kept =
            if truth.by_power { (1.0 + after / 2.0).powf(-20.0 * each) } else { (1.0 - each).powf(after) };
        known && chance(rng) < kept
    };
    for day in taught.union(&asked).copied().filter(|day| *day <= on) {
        known = forget(known, day, last, held, rng);
        last = Some(day);
        if taught.contains(&day) {
            known |= chance(rng) < values.learned_by_lesson;
        }
        if asked.contains(&day) {
            let guess = if by_choice { values.guess_choosing } else { values.guess };
            let right = chance(rng) < if known { 1.0 - values.slip } else { guess };
            let outcome = if right { Outcome::Right } else { Outcome::Wrong };
            answers.push(Answer { on: day, outcome, carried_in: false, by_choice });
            held = if right { (held + 1).min(8) } else { 0 };
            known |= chance(rng) < truth.asking_teaches;
        }
    }
    known = forget(known, on, last, held, rng);
    let taught = taught.range(..=on).copied().collect();
    Pair { taught, answers, on, known }
}

/// The histories of a school, as the fit takes them.
pub fn histories(school: &[Vec<Pair>]) -> Vec<Vec<History>> {
    let of = |pair: &Pair| History::new(&pair.taught, &pair.answers, &rule().secure, pair.on);
    school.iter().map(|pairs| pairs.iter().map(of).collect()).collect()
}

/// The values fitted to a school's answers.
pub fn fitted(school: &[Vec<Pair>]) -> Fitted {
    fit(&rule().estimate, &histories(school))
}

/// What was told of a pair that was asked, and what is so.
#[derive(Clone, Copy, Debug)]
pub struct Told {
    /// How likely it is known, as told.
    pub likely: f64,
    /// Whether the rule calls it secure.
    pub secure: bool,
    /// Whether it is known.
    pub known: bool,
}

impl Told {
    fn truth(&self) -> f64 {
        f64::from(u8::from(self.known))
    }

    /// The squared error of the estimate.
    pub fn error(&self) -> f64 {
        (self.likely - self.truth()).powi(2)
    }

    /// The squared error of the rule, taken as saying 1 or 0.
    pub fn rule_error(&self) -> f64 {
        f64::from(u8::from(self.secure != self.known))
    }
}

/// Tells of every pair that was asked; of the others the rule says nothing.
pub fn told(school: &[Vec<Pair>], values: &Parameters) -> Vec<Told> {
    let estimator = Estimator::new(*values);
    let asked = school.iter().flatten().filter(|pair| !pair.answers.is_empty());
    asked
        .map(|pair| {
            let history = History::new(&pair.taught, &pair.answers, &rule().secure, pair.on);
            let taught_on = pair.taught.first().copied();
            Told {
                likely: estimator.known(&history, pair.on),
                secure: state(taught_on, &pair.answers, &rule().secure) == State::Secure,
                known: pair.known,
            }
        })
        .collect()
}

/// The mean of something, and its standard error.
pub fn mean(of: impl Iterator<Item = f64>) -> (f64, f64) {
    let (mut n, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for one in of {
        (n, sum, squares) = (n + 1.0, sum + one, squares + one * one);
    }
    let mean = sum / n;
    (mean, ((squares / n - mean * mean).max(0.0) / n).sqrt())
}

/// One of ten bins of a reliability table.
#[derive(Clone, Copy, Debug, Default)]
pub struct Bin {
    /// Pairs in it.
    pub pairs: f64,
    /// The mean of what was told.
    pub told: f64,
    /// The part that is known.
    pub known: f64,
    /// The standard error of that part, if what was told is right.
    pub error: f64,
}

/// The reliability table: ten bins of what was told, 0 to 1.
pub fn reliability(told: &[Told]) -> [Bin; 10] {
    let mut bins = [Bin::default(); 10];
    for one in told {
        let bin = &mut bins[((one.likely * 10.0) as usize).min(9)];
        bin.pairs += 1.0;
        bin.told += one.likely;
        bin.known += one.truth();
        bin.error += one.likely * (1.0 - one.likely);
    }
    for bin in bins.iter_mut().filter(|bin| bin.pairs > 0.0) {
        bin.told /= bin.pairs;
        bin.known /= bin.pairs;
        bin.error = bin.error.sqrt() / bin.pairs;
    }
    bins
}

/// How far the bins are off on the average, each pair counting once.
pub fn off(bins: &[Bin; 10]) -> f64 {
    let all: f64 = bins.iter().map(|bin| bin.pairs).sum();
    bins.iter().map(|bin| bin.pairs * (bin.told - bin.known).abs()).sum::<f64>() / all
}

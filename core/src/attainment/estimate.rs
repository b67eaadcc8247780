//! How likely it is that a pupil knows one GPC: the estimate beside the rule.
//!
//! Bayesian knowledge tracing (Corbett and Anderson 1995): a pupil knows it or does not, a lesson about it may
//! change the one into the other, and answers tell of it through slips and guesses. Between days it is forgotten
//! (Qiu and others 2011), more slowly after each day running on which it was right (Settles and Meeder 2016).
//! Asking teaches nothing here. The values come from the rule pack, or are fitted to a school's own checks.

use std::collections::BTreeSet;

use super::mastery::{Answer, days_asked, days_counted};
use crate::{
    check::Outcome,
    rules::{Bounded, EstimateRule, SecureRule},
    time::Date,
};

/// Right days running beyond which forgetting grows no slower.
const MOST_HELD: usize = 8;

/// How many values there are.
pub(super) const VALUES: usize = 7;

/// The values an estimate is worked out with, each a part of 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parameters {
    /// Known before anything of it was taught here.
    pub known_before: f64,
    /// Learned by one lesson.
    pub learned_by_lesson: f64,
    /// Known and not answered right.
    pub slip: f64,
    /// Not known and answered right.
    pub guess: f64,
    /// The same where it was one of several shown.
    pub guess_choosing: f64,
    /// Forgotten in one day.
    pub forgotten_per_day: f64,
    /// By which part of it less, after each right day running.
    pub held_by_right_day: f64,
}

impl Parameters {
    /// Those of a rule pack.
    #[must_use]
    pub fn of(rule: &EstimateRule) -> Self {
        Self::from_values(bounds(rule).map(|one| one.value))
    }

    pub(super) const fn from_values(values: [f64; VALUES]) -> Self {
        let [
            known_before,
            learned_by_lesson,
            slip,
            guess,
            guess_choosing,
            forgotten_per_day,
            held_by_right_day,
        ] = values;
        Self {
            known_before,
            learned_by_lesson,
            slip,
            guess,
            guess_choosing,
            forgotten_per_day,
            held_by_right_day,
        }
    }

    /// The part of those who know it that answers right, and of those who do not.
    fn right(&self, by_choice: bool) -> (f64, f64) {
        (1.0 - self.slip, if by_choice { self.guess_choosing } else { self.guess })
    }

    /// How certain an answer makes on the average, in bits, where something is known this likely: what the answer
    /// and the knowledge tell of each other (mutual information). Between 0 and 1.
    #[must_use]
    pub fn gain(&self, known: f64, by_choice: bool) -> f64 {
        let (if_known, if_not) = self.right(by_choice);
        let right = known * if_known + (1.0 - known) * if_not;
        (bits(right) - known * bits(if_known) - (1.0 - known) * bits(if_not)).max(0.0)
    }
}

/// The entropy of a yes or no, in bits.
fn bits(part: f64) -> f64 {
    let of = |part: f64| if part > 0.0 { -part * part.log2() } else { 0.0 };
    of(part) + of(1.0 - part)
}

/// The values of a rule in their order.
pub(super) const fn bounds(rule: &EstimateRule) -> [Bounded; VALUES] {
    [
        rule.known_before,
        rule.learned_by_lesson,
        rule.slip,
        rule.guess,
        rule.guess_choosing,
        rule.forgotten_per_day,
        rule.held_by_right_day,
    ]
}

/// What happened about one GPC and one pupil, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct History {
    events: Vec<Event>,
    last_on: Option<Date>,
    held: usize,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Event {
    /// Days since the event before.
    after: i32,
    /// Right days running before it.
    held: usize,
    what: What,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum What {
    Taught,
    Asked { right: bool, by_choice: bool },
}

impl History {
    /// Puts teaching and answers up to a day in order: on one day teaching comes before asking. Answers carried in
    /// count as the rule for secure counts them: of the days they alone make right, the latest so many.
    #[must_use]
    pub fn new(taught: &BTreeSet<Date>, answers: &[Answer], rule: &SecureRule, on: Date) -> Self {
        let answers: Vec<Answer> = answers.iter().filter(|answer| answer.on <= on).copied().collect();
        let days = days_asked(&answers);
        let counted: BTreeSet<Date> = days_counted(&days, rule).into_iter().collect();
        let counts = |answer: &&Answer| {
            let right = days.get(&answer.on).is_some_and(|day| day.right);
            answer.outcome != Outcome::NotOffered && (!right || counted.contains(&answer.on))
        };
        let mut asked: Vec<&Answer> = answers.iter().filter(counts).collect();
        asked.sort_by_key(|answer| answer.on);
        let mut history = Self::default();
        let mut asked = asked.into_iter().peekable();
        let all: BTreeSet<Date> = taught.range(..=on).chain(days.keys()).copied().collect();
        for day in all {
            if taught.contains(&day) {
                history.happened(day, What::Taught);
            }
            let mut right = None;
            while let Some(answer) = asked.next_if(|answer| answer.on == day) {
                let is_right = answer.outcome == Outcome::Right;
                right = Some(right.unwrap_or(true) && is_right);
                history.happened(day, What::Asked { right: is_right, by_choice: answer.by_choice });
            }
            history.held = match right {
                Some(true) => (history.held + 1).min(MOST_HELD),
                Some(false) => 0,
                None => history.held,
            };
        }
        history
    }

    fn happened(&mut self, on: Date, what: What) {
        let after = self.last_on.map_or(0, |last| days_between(last, on));
        self.events.push(Event { after, held: self.held, what });
        self.last_on = Some(on);
    }

    /// Whether nothing was taught and nothing asked.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.events.is_empty()
    }

    /// How many answers it holds.
    #[must_use]
    pub fn answers(&self) -> usize {
        self.events.iter().filter(|event| matches!(event.what, What::Asked { .. })).count()
    }
}

fn days_between(from: Date, to: Date) -> i32 {
    i32::try_from(to.signed_duration_since(from).num_days().max(0)).unwrap_or(i32::MAX)
}

/// Works estimates out.
#[derive(Clone, Debug)]
pub struct Estimator {
    parameters: Parameters,
    /// What of one day is kept, by right days running, as a logarithm.
    kept: [f64; MOST_HELD + 1],
}

impl Estimator {
    /// With these values.
    #[must_use]
    pub fn new(parameters: Parameters) -> Self {
        let mut forgotten = parameters.forgotten_per_day;
        let kept = std::array::from_fn(|_| {
            let kept = (-forgotten).ln_1p();
            forgotten *= 1.0 - parameters.held_by_right_day;
            kept
        });
        Self { parameters, kept }
    }

    /// Its values.
    #[must_use]
    pub const fn parameters(&self) -> &Parameters {
        &self.parameters
    }

    /// How likely it is known on a day that no event of the history is later than; 0 to 1. Where nothing happened
    /// it is what is believed of anybody.
    #[must_use]
    pub fn known(&self, history: &History, on: Date) -> f64 {
        let mut known = self.parameters.known_before;
        for event in &history.events {
            known = self.after(known, event).0;
        }
        let since = history.last_on.map_or(0, |last| days_between(last, on));
        known * self.keep(since, history.held)
    }

    /// The natural logarithm of how likely the answers of a history are.
    #[must_use]
    pub fn log_likelihood(&self, history: &History) -> f64 {
        let (mut known, mut likely, mut log) = (self.parameters.known_before, 1.0_f64, 0.0);
        for event in &history.events {
            let (now, answer) = self.after(known, event);
            (known, likely) = (now, likely * answer);
            // Logarithms are slow; one for many answers is enough.
            if likely < 1e-200 {
                log += likely.ln();
                likely = 1.0;
            }
        }
        log + likely.ln()
    }

    /// What an event makes of the estimate, and how likely it was, where it is an answer.
    fn after(&self, known: f64, event: &Event) -> (f64, f64) {
        let known = known * self.keep(event.after, event.held);
        match event.what {
            What::Taught => (known + (1.0 - known) * self.parameters.learned_by_lesson, 1.0),
            What::Asked { right, by_choice } => {
                let (if_known, if_not) = self.parameters.right(by_choice);
                let (if_known, if_not) =
                    if right { (if_known, if_not) } else { (1.0 - if_known, 1.0 - if_not) };
                let answer = known * if_known + (1.0 - known) * if_not;
                (known * if_known / answer, answer)
            }
        }
    }

    /// What is kept over some days.
    fn keep(&self, days: i32, held: usize) -> f64 {
        if days == 0 { 1.0 } else { (f64::from(days) * self.kept[held.min(MOST_HELD)]).exp() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULE: SecureRule = SecureRule { right_on_days: 3, days_after_teaching: 7, carried_in_days: 1 };

    const PLAIN: Parameters = Parameters {
        known_before: 0.2,
        learned_by_lesson: 0.5,
        slip: 0.1,
        guess: 0.2,
        guess_choosing: 0.5,
        forgotten_per_day: 0.1,
        held_by_right_day: 0.5,
    };

    fn day(d: u32) -> Date {
        Date::from_ymd_opt(2025, 10, d).unwrap()
    }

    fn answer(d: u32, outcome: Outcome) -> Answer {
        Answer { on: day(d), outcome, carried_in: false, by_choice: false }
    }

    fn known(taught: &[u32], answers: &[Answer], on: u32) -> f64 {
        let taught = taught.iter().map(|d| day(*d)).collect();
        Estimator::new(PLAIN).known(&History::new(&taught, answers, &RULE, day(on)), day(on))
    }

    #[track_caller]
    fn near(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-9, "{found} is not {expected}");
    }

    #[test]
    fn each_step_is_worked_by_hand() {
        use Outcome::{NoResponse, NotOffered, Right, Wrong};
        near(known(&[], &[], 1), 0.2);
        // 0.2 + 0.8 x 0.5
        near(known(&[1], &[], 1), 0.6);
        // 0.54 / (0.54 + 0.4 x 0.2); wrong: 0.06 / (0.06 + 0.4 x 0.8)
        near(known(&[1], &[answer(1, Right)], 1), 0.54 / 0.62);
        near(known(&[1], &[answer(1, Wrong)], 1), 0.06 / 0.38);
        near(known(&[1], &[answer(1, NoResponse)], 1), 0.06 / 0.38);
        near(known(&[1], &[answer(1, NotOffered)], 1), 0.6);
        // One of two shown: 0.54 / (0.54 + 0.4 x 0.5)
        let chosen = Answer { by_choice: true, ..answer(1, Right) };
        near(known(&[1], &[chosen], 1), 0.54 / 0.74);
        // A tenth goes each day; after a right day a twentieth.
        near(known(&[1], &[], 3), 0.6 * 0.81);
        near(known(&[1], &[answer(1, Right)], 3), 0.54 / 0.62 * 0.95 * 0.95);
        // After a wrong one a tenth again.
        near(known(&[1], &[answer(1, Wrong)], 3), 0.06 / 0.38 * 0.81);
        // Taught twice.
        near(known(&[1, 2], &[], 2), 0.54 + 0.46 * 0.5);
        // What happens after the day counts on no day before.
        near(known(&[1, 5], &[answer(4, Wrong)], 3), 0.6 * 0.81);
    }

    #[test]
    fn of_answers_carried_in_one_right_day_counts() {
        let carried = |d| Answer { carried_in: true, ..answer(d, Outcome::Right) };
        near(known(&[1], &[carried(2), carried(3)], 3), known(&[1], &[answer(3, Outcome::Right)], 3));
        let wrong = Answer { carried_in: true, ..answer(3, Outcome::Wrong) };
        near(known(&[1], &[wrong], 3), known(&[1], &[answer(3, Outcome::Wrong)], 3));
    }

    #[test]
    fn a_likelihood_is_the_product_of_its_answers() {
        let history = |answers: &[Answer]| History::new(&[day(1)].into(), answers, &RULE, day(30));
        let of = |answers: &[Answer]| Estimator::new(PLAIN).log_likelihood(&history(answers));
        near(of(&[]), 0.0);
        near(of(&[answer(1, Outcome::Right)]), 0.62_f64.ln());
        // Known after the right answer, a day of a twentieth forgotten, then wrong.
        let then = 0.54 / 0.62 * 0.95;
        let wrong: f64 = then * 0.1 + (1.0 - then) * 0.8;
        near(of(&[answer(1, Outcome::Right), answer(2, Outcome::Wrong)]), 0.62_f64.ln() + wrong.ln());
        // All answers there may be on one day sum to 1.
        near(of(&[answer(1, Outcome::Right)]).exp() + of(&[answer(1, Outcome::Wrong)]).exp(), 1.0);
    }

    #[test]
    fn an_answer_tells_most_where_least_is_known() {
        near(PLAIN.gain(0.0, false), 0.0);
        near(PLAIN.gain(1.0, false), 0.0);
        // Half known, slip 0.1, guess 0.2: the entropy of 0.55 less the mean of those of 0.9 and 0.2.
        near(PLAIN.gain(0.5, false), bits(0.55) - 0.5 * bits(0.9) - 0.5 * bits(0.2));
        assert!(PLAIN.gain(0.5, false) > PLAIN.gain(0.9, false));
        assert!(PLAIN.gain(0.5, false) > PLAIN.gain(0.5, true), "one of two shown tells less");
    }
}

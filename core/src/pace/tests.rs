use super::{
    Pace, forecast,
    forecast::{chances, quantiles, sessions_needed as days},
};
use crate::{
    rules::{PaceRule, pack},
    time::Date,
};

fn rule() -> PaceRule {
    pack("england").unwrap().pace.clone()
}

fn teaching_days(n: u64) -> Vec<Date> {
    let first: Date = "2026-09-01".parse().unwrap();
    (0..n).map(|day| first + chrono::Days::new(day)).collect()
}

#[test]
fn the_days_follow_the_distribution() {
    // Worked by hand with one day believed either way and none seen: the chance is spread evenly, so one
    // lesson takes d days with the chance 1 / (d (d + 1)): by 1 day 1/2, by 2 days 2/3, by 9 days 9/10.
    let rule = PaceRule { sessions_believed_finishing: 1.0, sessions_believed_without: 1.0, ..rule() };
    assert_eq!(days(Pace::default(), 1, &rule, [0.5, 0.66, 0.9]), [1, 2, 9]);
    // Two lessons: by two days 1/3; then 2 * 1/3 * 1/4 = 1/6 more, by three 1/2; by four 3/5.
    assert_eq!(days(Pace::default(), 2, &rule, [0.33, 0.49, 0.59]), [2, 3, 4]);
}

#[test]
fn a_steady_group_is_forecast_narrowly_and_a_new_one_widely() {
    let to_come = teaching_days(400);
    let steady = Pace { days: 40, sessions: 40, lessons: 38 };
    let told = forecast(steady, 20, &to_come, &rule()).unwrap();
    let day = |date: Option<Date>| to_come.iter().position(|day| Some(*day) == date).unwrap() + 1;
    let [from, middle, to] = [told.earliest, told.middle, told.latest].map(day);
    assert!(20 <= from && from <= middle && middle <= to && to <= 25, "{from} {middle} {to}");
    let new = forecast(Pace::default(), 20, &to_come, &rule()).unwrap();
    assert!(day(new.latest) - day(new.earliest) > to - from);
    // Beyond the days known nothing is said; no lessons more are no forecast.
    let short = forecast(steady, 20, &to_come[..10], &rule()).unwrap();
    assert_eq!((short.earliest, short.middle, short.latest), (None, None, None));
    assert_eq!(forecast(steady, 0, &to_come, &rule()), None);
}

#[test]
fn days_that_were_none_change_nothing() {
    let one = Pace { days: 5, sessions: 6, lessons: 5 };
    let days = teaching_days(60);
    // Two weeks closed: the same days, later.
    let later: Vec<Date> = days.iter().map(|day| *day + chrono::Days::new(14)).collect();
    let (now, then) =
        (forecast(one, 10, &days, &rule()).unwrap(), forecast(one, 10, &later, &rule()).unwrap());
    assert_eq!(then.middle, now.middle.map(|day| day + chrono::Days::new(14)));
}

/// Simulated groups, each with a chance of its own, seen for some days: how often the day on which the
/// lessons were finished lies in the interval. Days are whole, so an interval holds more than it is asked
/// to; what is compared is what the model says that it holds.
#[test]
fn the_interval_holds_as_often_as_it_says() {
    let mut state: u64 = 11;
    let mut number = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        #[allow(clippy::cast_precision_loss)]
        let top = (state >> 11) as f64;
        top / 9_007_199_254_740_992.0
    };
    let rule = rule();
    let groups = 4000;
    let (mut held, mut said) = (0.0, 0.0);
    for _ in 0..groups {
        // Chances from 0.5 to 1, four in five on average, as the rule pack believes.
        let chance = 1.0 - 0.5 * number().powf(1.5);
        let seen = 5 + (number() * 50.0) as usize;
        let finished = (0..seen).filter(|_| number() < chance).count();
        let number_of = |number: usize| u32::try_from(number).unwrap();
        let pace = Pace { days: number_of(seen), sessions: number_of(seen), lessons: number_of(finished) };
        let lessons = 5 + (number() * 40.0) as u32;
        let [from, _, to] = days(pace, lessons, &rule, quantiles(&rule));
        let mass: f64 = chances(pace, lessons, &rule)
            .skip((from - lessons) as usize)
            .take((to - from + 1) as usize)
            .sum();
        assert!(mass >= f64::from(rule.interval_percent) / 100.0 - 1e-9);
        let (mut days, mut done) = (0, 0);
        while done < lessons {
            days += 1;
            done += u32::from(number() < chance);
        }
        said += mass;
        held += f64::from(u8::from(from <= days && days <= to));
    }
    let (held, said) = (held / f64::from(groups), said / f64::from(groups));
    assert!((held - said).abs() < 0.02, "{held} of {said}");
}
